// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// A synthetic audience in changing moods and a scripted operator, for a demo that runs unattended; and the summary of
// what came of it, from the desk's counts and from the simulated rig's judge.
import { crowd, Desk, sleep } from './lib/clients.mjs';

const CHOICES = ['stay', 'truck-left', 'truck-right', 'dolly-out', 'dolly-in', 'pedestal-down', 'pedestal-up'];

/** Same seed, same crowd: a run that went wrong can be run again. (xorshift32) */
function dice(seed) {
  let x = seed >>> 0 || 1;
  return () => {
    x ^= x << 13;
    x >>>= 0;
    x ^= x >>> 17;
    x ^= x << 5;
    x >>>= 0;
    return x / 2 ** 32;
  };
}

/**
 * What most of the crowd wants for a few seconds: a direction to push and the vote that goes with it. It heads for
 * the things in the room as gladly as for open floor; keeping clear of them is not the crowd's job.
 */
function mood(random) {
  const choice = CHOICES[1 + Math.floor(random() * 6)];
  const axis = Math.floor((CHOICES.indexOf(choice) - 1) / 2);
  const stick = [0, 0, 0].map(() => (random() - 0.5) * 0.4);
  stick[axis] = CHOICES.indexOf(choice) % 2 === 1 ? -1 : 1;
  return { choice, stick };
}

/** Viewers vote once a round and, while the audience blends, hold a stick; one in four does as it likes. */
function letThemPlay(viewers, random, signal) {
  let now = mood(random);
  const step = () => {
    if (random() < 0.012) now = mood(random);
    const scene = viewers[0]?.scene;
    for (const viewer of viewers) {
      if (random() > 0.1) continue;
      const follows = random() < 0.75;
      if (scene?.mode === 'poll' && scene.round.phase === 'open' && viewer.voted !== scene.round.id) {
        viewer.voted = scene.round.id;
        viewer.vote(follows ? now.choice : CHOICES[Math.floor(random() * CHOICES.length)], scene.round.id);
      } else if (scene?.mode === 'blend') {
        viewer.stick(...(follows ? now.stick : [0, 0, 0].map(() => random() * 2 - 1)));
      }
    }
  };
  const timer = setInterval(step, 50);
  signal.addEventListener('abort', () => clearInterval(timer), { once: true });
  return () => clearInterval(timer);
}

/** One stop as an operator does it while the camera is under way, and on again. */
async function stopOnce(desk, show, seen) {
  seen.stops++;
  seen.latencies.push(await desk.stop());
  await desk.sceneWhere('the camera at rest after a stop', (s) => s.state === 'stopped' && s.at_rest);
  const judged = await show.judge.now();
  if (judged && !judged.at_rest) await show.judge.where('the simulated camera at rest after a stop', (j) => j.at_rest);
  seen.rests++;
}

/** Arm, go, votes for most of the time, then held sticks; a stop at each change and every few seconds of the rest. */
async function runTheShow(desk, show, seconds, signal, seen) {
  const left = (share) => Math.max(0, started + seconds * 1000 * share - performance.now());
  const started = performance.now();
  desk.mode('poll');
  await desk.start();
  await interruptible(left(0.68), signal);
  await stopOnce(desk, show, seen);
  desk.mode('blend');
  while (!signal.aborted && left(1) > 1500) {
    await desk.start();
    await interruptible(Math.min(Math.max(1000, seconds * 60), left(1) - 500), signal);
    await stopOnce(desk, show, seen);
  }
  await interruptible(left(1), signal);
}

async function interruptible(ms, signal) {
  if (signal.aborted) return;
  await Promise.race([sleep(ms), new Promise((resolve) => signal.addEventListener('abort', resolve, { once: true }))]);
}

function pathLength(lines) {
  let sum = 0;
  for (let i = 1; i < lines.length; i++) {
    const [a, b] = [lines[i - 1].body, lines[i].body];
    sum += Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
  }
  return sum;
}

function quantile(values, q) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted.length === 0 ? NaN : sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))];
}

/** What must hold for the demo to have gone well, each with the words for when it has not. */
function complaints(scene, last, seen, path) {
  const rules = [
    [last.touched === 0, `the camera, its boom or a cord touched something (${last.touched} times)`],
    [last.min_clearance_m > 0, `the closest approach was ${last.min_clearance_m} m`],
    [path > 0.2, `the camera hardly moved (${path.toFixed(2)} m)`],
    [scene.desk.rounds > 0, 'no round of the vote was decided'],
    [scene.desk.counts.accepted > 0, 'no wish of the crowd was counted'],
    [seen.latencies.length === seen.stops && seen.rests === seen.stops, 'a stop was not confirmed, or did not end at rest'],
    [seen.stops > 0, 'no stop was tried'],
    ...seen.errors.map((e) => [false, e]),
  ];
  return rules.filter(([holds]) => !holds).map(([, words]) => words);
}

function table(rows) {
  const width = Math.max(...rows.map(([name]) => name.length));
  for (const [name, value] of rows) console.log(`  ${name.padEnd(width)}  ${value}`);
}

function summary(scene, last, seen, path) {
  const { counts, clamps, rig } = scene.desk;
  const clamped = Object.entries(clamps).filter(([, n]) => n > 0).map(([reason, n]) => `${reason} ${n}`);
  const ms = (x) => `${x.toFixed(1)} ms`;
  console.log('\nSummary');
  table([
    ['voices', `${counts.accepted} wishes counted of ${seen.viewers} viewers, ${counts.limited} over their rate, ${counts.refused} refused`],
    ['rounds decided', scene.desk.rounds],
    ['intents sent', rig.sent],
    ['ticks clamped, by reason', clamped.join(', ') || 'none'],
    ['stops', `${seen.stops} pressed, ${seen.latencies.length} confirmed by the rig, ${seen.rests} ended at rest`],
    ['press to rig confirmed', `median ${ms(quantile(seen.latencies, 0.5))}, longest ${ms(quantile(seen.latencies, 1))}`],
    ['camera path', `${path.toFixed(2)} m`],
    ['closest approach', `${last.min_clearance_m.toFixed(3)} m to anything, touches: ${last.touched}`],
  ]);
}

async function finish(desk, show, seen) {
  const scene = await desk.next('a last scene', (m) => m.type === 'scene');
  const last = await show.judge.now();
  const path = pathLength(show.judge.lines);
  summary(scene, last, seen, path);
  const wrong = complaints(scene, last, seen, path);
  console.log(wrong.length === 0 ? '\nAll was well.' : `\nNot well: ${wrong.join('; ')}.`);
  return wrong.length === 0;
}

/** Brings the crowd, and with `seconds` the operator too. Resolves to whether all was well. */
export async function performDemo(show, { crowd: count, seconds, signal }) {
  const viewers = await crowd(show.audience, count);
  console.log(`${viewers.length} synthetic viewers have come.`);
  const rest = letThemPlay(viewers, dice(20), signal);
  const seen = { viewers: count, stops: 0, rests: 0, latencies: [], errors: [] };
  let well = true;
  if (seconds === null) {
    await new Promise((resolve) => signal.addEventListener('abort', resolve, { once: true }));
  } else {
    const desk = await Desk.open(show.desk, show.operator_pass);
    await runTheShow(desk, show, seconds, signal, seen).catch((e) => seen.errors.push(e.message));
    rest();
    well = await finish(desk, show, seen);
    await desk.close();
  }
  rest();
  await Promise.all(viewers.map((v) => v.close()));
  return well;
}
