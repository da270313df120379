// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The middle column: how much room is left, what limits the motion, what the crowd asks, what the machinery does. */
import type { JSX } from 'preact';
import { Bar } from '../common/bar';
import { pullWord } from '../common/drawing-machine';
import { CHOICES, type Desk, type Scene } from '../common/messages';
import { CHOICE_WORD, codeWords, count, seconds } from '../common/words';
import { log, quality, room, scene } from './store';

const ROOM_SHOWN_M = 1;

export function Clearance(): JSX.Element | null {
  const s = scene.value;
  if (!s) return null;
  const near = s.clearance_m < s.margin_m;
  const speed = Math.hypot(s.vel[0], s.vel[1], s.vel[2]);
  const x = (m: number) => Math.min(100, Math.max(0, (m / ROOM_SHOWN_M) * 100));
  return (
    <section class="clearance" aria-label="Clearance">
      <p class={`big${near ? ' near' : ''}`}>{s.clearance_m.toFixed(2)}<small> m clear{near ? ', inside the margin' : ''}</small></p>
      <svg class="room" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect width="100" height="10" class="trough" />
        <rect width={x(s.clearance_m)} height="10" class="have" />
        <rect width={x(s.margin_m)} height="10" class="keep" />
      </svg>
      <dl class="figures">
        <Figure name="margin" value={`${s.margin_m.toFixed(3)} m`} /><Figure name="to brake" value={`${s.braking_m.toFixed(2)} m`} />
        <Figure name="speed" value={`${speed.toFixed(2)} m/s`} /><Figure name="swing" value={`${s.swing_deg.toFixed(1)}°`} />
        <Figure name="position ±" value={`${(s.uncertainty_m * 1000).toFixed(0)} mm`} /><Figure name="at rest" value={s.at_rest ? 'yes' : 'no'} />
        <Figure name="nearest" value={nearestWords(s)} wide />
        <Figure name="x y z" value={s.pos.map((v) => v.toFixed(2)).join('  ')} wide />
      </dl>
    </section>
  );
}

function Figure({ name, value, wide = false }: { name: string; value: string; wide?: boolean }): JSX.Element {
  return <div class={wide ? 'wide' : ''}><dt>{name}</dt><dd>{value}</dd></div>;
}

const BOUND_WORD: Readonly<Record<Scene['nearest']['bound'], string>> = {
  'stage': 'edge of the stage', 'floor': 'floor in force', 'ceiling': 'ceiling in force', 'keepout': 'keep-out', 'subject': 'subject',
  'reach': 'edge of the cords\' reach', 'tether-end': 'end of the tether',
};

function nearestWords({ nearest }: Scene): string {
  const part = nearest.part === 'cord' ? `cord ${nearest.cord ?? '?'}` : nearest.part;
  return `${part} to ${nearest.zone ?? BOUND_WORD[nearest.bound]}`;
}

/** How hard each cord pulls, between which limits. */
export function Cords(): JSX.Element | null {
  const s = scene.value, limits = room.value?.cords;
  if (!s?.cords || !limits) return null;
  return (
    <section aria-labelledby="cords-title">
      <h2 id="cords-title">Cords <small>{limits.min_n} to {limits.max_n} N</small></h2>
      <dl class="figures">
        {s.cords.tension_n.map((n, i) => <Figure key={i} name={`cord ${i + 1}`} value={`${n.toFixed(1)} N${pullWord(n, limits)}`} />)}
        <Figure name="least margin" value={`${s.cords.margin_n.toFixed(1)} N${s.cords.least > 0 ? `, cord ${s.cords.least}` : ''}`} wide />
      </dl>
    </section>
  );
}

export function Reasons(): JSX.Element {
  const s = scene.value;
  const now = s?.reasons ?? [];
  return (
    <section aria-labelledby="reasons-title">
      <h2 id="reasons-title">What limits it now</h2>
      <ul class="reasons">
        {now.length === 0 && <li class="none">nothing</li>}
        {now.map((code) => <li key={code} class={code === s?.reason.code ? 'first' : ''}>{codeWords(code)}</li>)}
      </ul>
    </section>
  );
}

export function Crowd(): JSX.Element | null {
  const s = scene.value;
  if (!s) return null;
  return (
    <section aria-labelledby="asks-title">
      <h2 id="asks-title">What the audience asks</h2>
      <p class="hint">{count(s.crowd.viewers, 'viewer')} on {count(s.crowd.edges, 'edge')}{roundWords(s)}</p>
      {s.mode === 'poll' && <Tallies scene={s} />}
      {s.mode === 'blend' && <p class="hint">{count(s.crowd.sticks, 'stick')}, middle {s.crowd.blend.map((v) => v.toFixed(2)).join(' ')}</p>}
    </section>
  );
}

function roundWords(s: Scene): string {
  if (s.mode !== 'poll' || s.round.phase === 'off') return '';
  return s.round.phase === 'grace' ? ', round is counted' : `, round ends in ${seconds(s.round.left_ms)}, ${s.round.needed} needed`;
}

function Tallies({ scene: s }: { scene: Scene }): JSX.Element {
  const cast = s.round.votes.reduce((a, b) => a + b, 0);
  return (
    <dl class="tallies">
      {CHOICES.map((choice, i) => (
        <div key={choice}>
          <dt>{CHOICE_WORD[choice]}</dt><dd>{s.round.votes[i] ?? 0}</dd>
          <Bar votes={s.round.votes[i] ?? 0} cast={cast} needed={choice === 'stay' ? 0 : s.round.needed} />
        </div>
      ))}
    </dl>
  );
}

/** Where remote handling gets worse: noticed from about 200 ms round trip, poor from 400. */
function linkWords(medianMs: number): string {
  return medianMs >= 400 ? 'poor' : medianMs >= 200 ? 'slow' : 'good';
}

export function Machinery(): JSX.Element {
  const d = scene.value?.desk;
  const q = quality.value;
  return (
    <section aria-labelledby="machinery-title">
      <h2 id="machinery-title">Machinery</h2>
      <dl class="figures">
        <Figure name="this link" value={q ? `${q.medianMs.toFixed(0)} ms, ${linkWords(q.medianMs)}` : 'no beat yet'} wide />
        {d && <Counters d={d} />}
      </dl>
      {d && <Punctual tick={d.tick} />}
      {d && <Clamps clamps={d.clamps} />}
    </section>
  );
}

function Counters({ d }: { d: Desk }): JSX.Element {
  return (
    <>
      <Figure name="ticks late" value={`${d.tick.late_p99_us} µs p99`} /><Figure name="latest tick" value={`${d.tick.late_max_us} µs`} />
      <Figure name="skipped" value={String(d.tick.skipped)} />
      <Figure name="intents" value={String(d.rig.sent)} /><Figure name="telemetry" value={String(d.rig.telemetry)} />
      <Figure name="wishes" value={String(d.counts.accepted)} /><Figure name="limited" value={String(d.counts.limited)} />
      <Figure name="refused" value={String(d.counts.refused)} /><Figure name="turned away" value={String(d.counts.turned_away)} />
      <Figure name="rounds" value={String(d.rounds)} /><Figure name="stops" value={`${d.stop.count}${d.stop.confirmed ? '' : ', open'}`} />
      <Figure name="desks" value={String(d.desks)} /><Figure name="rig link" value={d.rig.session ? 'joined' : 'none'} />
    </>
  );
}

/** What the system did not grant core is said, since it shows only under load. */
function Punctual({ tick }: { tick: Desk['tick'] }): JSX.Element | null {
  const lacks = [...(tick.real_time ? [] : ['real-time priority']), ...(tick.locked ? [] : ['memory of its own'])];
  if (lacks.length === 0) return null;
  return <p class="hint">Core runs without {lacks.join(' and without ')}: under load a tick may be late, and then it stops.</p>;
}

function Clamps({ clamps }: { clamps: Desk['clamps'] }): JSX.Element | null {
  const some = Object.entries(clamps).filter(([, n]) => n > 0).sort((a, b) => b[1] - a[1]).slice(0, 5);
  if (some.length === 0) return null;
  return <p class="hint">Ticks limited by: {some.map(([code, n]) => `${codeWords(code)} ${n}`).join(', ')}</p>;
}

export function Events(): JSX.Element {
  return (
    <section class="events" aria-labelledby="events-title">
      <h2 id="events-title">Last events</h2>
      <ol>{log.value.map((line) => <li key={line.id}><time>{line.time}</time> {line.text}</li>)}</ol>
    </section>
  );
}
