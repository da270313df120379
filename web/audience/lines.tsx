// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The page's sentences: why the camera moves or not, what became of my wish, time left, connection, house rules. */
import { useComputed } from '@preact/signals';
import type { JSX } from 'preact';
import { ticking } from '../common/clock';
import { LinkShape } from '../common/icons';
import type { LinkState } from '../common/link';
import type { Scene } from '../common/messages';
import { CHOICE_WORD, count, reasonSentence, seconds, STATE_MEANS, steering, verdictSentence } from '../common/words';
import { link, mode, notice, online, outcome, room, scene, verdict, waitUntil } from './store';

const now = ticking(250);

function linkWords(state: LinkState, at: number): string {
  switch (state.is) {
    case 'open': return notice.value ? 'Control room missing' : 'Connected';
    case 'connecting': return 'Connecting';
    case 'waiting': return `Trying again in ${Math.max(1, Math.ceil((state.untilMs - at) / 1000))} s`;
    case 'closed': return 'Turned away';
  }
}

export function LinkLine(): JSX.Element {
  return (
    <p class={`linkline ${online.value ? 'up' : 'down'}`}>
      <LinkShape up={online.value} />{linkWords(link.value, now.value)}
    </p>
  );
}

/** Something is in the way, rather than somebody else steering. */
function limited(s: Scene): boolean { return s.reason.code !== 'none' && s.reason.code !== 'operator-has-it'; }

function why(s: Scene): string {
  const reason = limited(s) ? reasonSentence(s.reason) : '';
  if (reason) return reason;
  if (s.state !== 'running') return STATE_MEANS[s.state];
  if (s.lane === 'operator') return 'The audience waits.';
  if (s.goal && s.mode === 'poll') return 'On its way to where the vote sent it.';
  return s.at_rest ? 'Nothing is in the way.' : 'The camera does as asked.';
}

/** Why the camera did or did not move, and who steers. */
export function WhyLine(): JSX.Element {
  const s = scene.value;
  if (!s || !online.value) {
    const text = notice.value?.text ?? (s ? 'The drawing shows where the camera was when the connection broke.' : 'Waiting for the first picture of the stage.');
    return <div class="why"><span class="tab" aria-hidden="true" /><p>{text}</p></div>;
  }
  const kind = s.state !== 'running' ? ' still' : limited(s) ? ' held' : '';
  return (
    <div class={`why${kind}`}>
      <span class="tab" aria-hidden="true" />
      <p><strong>{why(s)}</strong> {s.state === 'running' && `${steering(s)}.`}</p>
    </div>
  );
}

export function VerdictLine(): JSX.Element {
  const waiting = Math.max(0, waitUntil.value - now.value);
  const v = verdict.value;
  const text = v?.verdict === 'limited' && waiting > 0 ? `Too fast. Wait ${seconds(waiting)}, then try again.`
    : v ? verdictSentence(v) : outcomeWords();
  return <p class={`verdict ${v?.verdict ?? ''}`} role="status">{text}</p>;
}

function outcomeWords(): string {
  const o = outcome.value;
  if (!o || mode.value !== 'poll') return '';
  const voices = count(o.voices, 'voice');
  return o.choice === 'stay' ? `Last round: the camera stays (${voices}).` : `Last round: ${CHOICE_WORD[o.choice]} (${voices}).`;
}

/** Time left in this round, as words and as a bar that runs out. */
export function RoundLine(): JSX.Element | null {
  const left = useComputed(() => scene.value?.round.left_ms ?? 0);
  const s = scene.value, r = room.value;
  if (!s || !r) return null;
  if (!online.value || s.round.phase === 'off') {
    return <p class="noround">{online.value ? 'No round is open. Voting starts when the operator lets the camera go.' : 'Not connected. Your next vote counts once the page is connected again.'}</p>;
  }
  const cast = s.round.votes.reduce((a, b) => a + b, 0);
  const share = s.round.phase === 'open' ? Math.min(1, left.value / (r.round_s * 1000)) : 0;
  return (
    <div class="round">
      <div class="roundwords">
        <span>{s.round.phase === 'open' ? <><b>{seconds(left.value)}</b> left</> : <b>counting</b>}</span>
        <span>{cast} of {s.crowd.viewers} voted</span>
        <span><b>{s.round.needed}</b> needed to move</span>
      </div>
      <svg class="time" viewBox="0 0 100 4" preserveAspectRatio="none" aria-hidden="true">
        <rect width="100" height="4" class="trough" /><rect width={share * 100} height="4" class="fill" />
      </svg>
    </div>
  );
}

export function Rules(): JSX.Element | null {
  const r = room.value;
  if (!r) return null;
  return (
    <section class="rules" aria-labelledby="rules-title">
      <h2 id="rules-title">House rules</h2>
      <p>{r.rules}</p>
      <h2>Good to know</h2>
      <ul>
        <li>The camera is a heavy thing on cords above a real room with people in it. It never enters the hatched places, whatever the vote.</li>
        <li>The operator and the host can stop it or close the audience part at any time.</li>
        <li>What you see is a moment old. Wait for the picture before you ask for more.</li>
        <li>One connection is one voice.</li>
      </ul>
    </section>
  );
}
