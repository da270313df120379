// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// What the end-to-end tests share: a show of their own on free ports, people at its desk, a crowd, and claims about what
// the simulated rig truly did.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { crowd, Desk, sleep } from '../../../deploy/lib/clients.mjs';
import { startShow } from '../../../deploy/lib/show_process.mjs';
import { later } from './later.mjs';

export { crowd, Desk, PATIENCE_MS, sleep, until, Viewer } from '../../../deploy/lib/clients.mjs';
export { later } from './later.mjs';
export { freePort, modelRailway, root, startShow } from '../../../deploy/lib/show_process.mjs';

/**
 * A show for one test, ended with it. Rounds are short so that tests are. A test that fails shows what the processes
 * had to say.
 */
export async function showFor(t, edit = () => {}, options = {}) {
  const show = await startShow({
    ...options,
    edit(file) {
      file.audience.poll.round_s = 2;
      edit(file);
    },
  });
  later(t, async () => {
    const how = await show.stop();
    if (options.mayEndBadly !== true && how.code !== 0) {
      throw new Error(`steadyhand run ended with ${JSON.stringify(how)}:\n${show.output.text}`);
    }
  });
  return show;
}

/** A desk for the operator, closed with the test. */
export async function deskFor(t, show, pass = show.operator_pass) {
  const desk = await Desk.open(show.desk, pass);
  later(t, () => desk.close());
  return desk;
}

/** A crowd, gone with the test. */
export async function crowdFor(t, show, count) {
  const viewers = await crowd(show.audience, count);
  later(t, () => Promise.all(viewers.map((v) => v.close())));
  return viewers;
}

/** Every viewer does `act(viewer, i)` again each `everyMs`, until the returned function is called. */
export function keepDoing(viewers, everyMs, act) {
  const once = () => viewers.forEach((v, i) => act(v, i));
  once();
  const timer = setInterval(once, everyMs);
  return () => clearInterval(timer);
}

/** All hold their sticks there. */
export function keepHolding(viewers, x, y, z) {
  return keepDoing(viewers, 300, (v) => v.stick(x, y, z));
}

/** All vote once a round for what `choose(viewer, i)` says. */
export function keepVoting(viewers, choose) {
  const voted = new Map();
  return keepDoing(viewers, 50, (v, i) => {
    const round = v.scene?.round;
    if (round?.phase !== 'open' || voted.get(v) === round.id) return;
    voted.set(v, round.id);
    v.vote(choose(v, i), round.id);
  });
}

export function distance(a, b) {
  return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
}

/** By the judge's truth: nothing was ever touched, and there was always some room. */
export async function assertUntouched(show) {
  const last = await show.judge.now();
  assert.ok(last, 'the judge has written something');
  assert.equal(last.touched, 0, `something was touched: ${JSON.stringify(last)}`);
  assert.ok(last.min_clearance_m > 0, `closest approach ${last.min_clearance_m} m`);
}

/**
 * Core kept time: of its ticks at most one in fifty was skipped. That none is on a machine of its own is for the bench to
 * say (tests/bench/stop_latency); one tick or two tell more about the machine's neighbours than about core.
 */
export function assertKeptTime(t, desk) {
  const { count, skipped } = desk.scene.desk.tick;
  t.diagnostic(`${skipped} of core's ${count + skipped} ticks skipped`);
  assert.ok(skipped <= (count + skipped) / 50, `core skipped ${skipped} of ${count + skipped} ticks`);
}

/** The platform does not leave a ball of `metres` for that long. The cords stretch a little as the body swings under them. */
export async function assertStaysPut(show, ms, metres = 0.005) {
  const start = await show.judge.where('a line of the judge', () => true);
  const from = show.judge.lines.length;
  await sleep(ms);
  await show.judge.now();
  const far = Math.max(...show.judge.lines.slice(from).map((line) => distance(line.pos, start.pos)));
  assert.ok(show.judge.lines.length - from >= (ms / 1000) * 10, 'the judge went on watching');
  assert.ok(far <= metres, `the camera moved ${far.toFixed(4)} m while it should stay put`);
}

/** The platform gets at least that far from where it is now, in time. Returns how long it took [ms]. */
export async function assertMoves(show, metres, timeoutMs = 5000) {
  const start = await show.judge.where('a line of the judge', () => true);
  const began = performance.now();
  await show.judge.where(`a move of ${metres} m`, (line) => distance(line.pos, start.pos) >= metres, timeoutMs);
  return performance.now() - began;
}

/** Waits for rest by the judge's truth; returns [ms since the call, the line]. */
export async function restWithin(show, ms) {
  const began = performance.now();
  const line = await show.judge.where(`rest within ${ms} ms`, (l) => l.at_rest, ms);
  return { ms: performance.now() - began, line };
}

/** A pass for one more person. */
export function mint(show, role, name, ...more) {
  const args = ['pass', show.files.show, '--role', role, '--name', name, '--state', show.files.state, ...more];
  return /sh1\.\S+/.exec(execFileSync(show.child.spawnfile, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] }))[0];
}

/** Says it, and gives back the refusal that is to come. */
export async function refused(desk, message) {
  const answer = desk.next(`a refusal of ${message.type}`, (m) => m.type === 'refused' && m.of === message.type);
  desk.send(message);
  return answer;
}

/** How fast the platform truly was in the next while. */
export async function fastest(show, ms) {
  await show.judge.now();
  const from = show.judge.lines.length;
  await sleep(ms);
  await show.judge.now();
  return Math.max(...show.judge.lines.slice(from).map((line) => line.speed));
}
