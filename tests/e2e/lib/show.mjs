// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// What the end-to-end tests share: a show of their own on free ports, people at its desk, a crowd, and claims about what
// the simulated rig truly did.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { test as nodeTest } from 'node:test';
import { crowd, Desk, PATIENCE_MS } from '../../../deploy/lib/clients.mjs';
import { startShow } from '../../../deploy/lib/show_process.mjs';
import { clear, later } from './later.mjs';

export { crowd, Desk, PATIENCE_MS, sleep, until, Viewer } from '../../../deploy/lib/clients.mjs';
export { later } from './later.mjs';
export { freePort, modelRailway, root, startShow } from '../../../deploy/lib/show_process.mjs';

const TRIES = 3;
const shows = new WeakMap(); // of each test

/** Whether core has stopped this show because the machine let it wait for 50 ms or more between two ticks. */
async function wasHeldUp(show) {
  const desk = await Desk.open(show.desk, show.operator_pass).catch(() => null);
  const ticks = desk?.scene.desk.clamps['tick-late'] ?? 0;
  await desk?.close();
  return ticks > 0;
}

/**
 * A test with a show. A core that has been held up stops the show, as it must: a test that failed in such a show says
 * nothing about what it is for, and is tried again.
 */
export function test(name, act) {
  nodeTest(name, async (t) => {
    for (let left = TRIES - 1; ; left--) {
      shows.set(t, []);
      try {
        return await act(t);
      } catch (e) {
        const heldUp = (await Promise.all(shows.get(t).map(wasHeldUp))).includes(true);
        if (left === 0 || !heldUp) throw e;
        t.diagnostic(`tried again: this machine held core up, so that it stopped the show (${e.message})`);
        await clear(t);
      }
    }
  });
}

/**
 * A show for one test, ended with it. Rounds are short so that tests are; what holds only as long as this process and
 * the simulated rig get their turn is patient. A test that fails shows what the processes had to say.
 */
export async function showFor(t, edit = () => {}, options = {}) {
  const show = await startShow({
    ...options,
    edit(file) {
      file.audience.poll.round_s = 2;
      file.desk.presence_timeout_s = 10;
      edit(file);
    },
  });
  shows.get(t)?.push(show);
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

/**
 * Every viewer does `act(viewer, i)` again each `everyMs`, until the returned function is called. What takes this process
 * longer than that leaves it as much time again for everything else.
 */
export function keepDoing(viewers, everyMs, act) {
  let next = 0;
  const once = () => {
    const began = performance.now();
    if (began < next) return;
    viewers.forEach((v, i) => act(v, i));
    next = 2 * performance.now() - began;
  };
  once();
  const timer = setInterval(once, everyMs).unref(); // a test that fails must not be held open by it
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

/** What the judge sees in the next `ms` of the rig's own time. */
export async function watched(show, ms) {
  const first = await show.judge.where('a line of the judge', () => true);
  const last = await show.judge.where(`${ms} ms more of them`, (l) => l.t_s >= first.t_s + ms / 1000, ms + PATIENCE_MS, first);
  const { lines } = show.judge;
  return lines.slice(lines.indexOf(first), lines.indexOf(last) + 1);
}

/** The platform does not leave a ball of `metres` for that long. The cords stretch a little as the body swings under them. */
export async function assertStaysPut(show, ms, metres = 0.005) {
  const lines = await watched(show, ms);
  const far = Math.max(...lines.map((line) => distance(line.pos, lines[0].pos)));
  assert.ok(far <= metres, `the camera moved ${far.toFixed(4)} m while it should stay put`);
}

/** The platform gets at least that far from where it is now. */
export async function assertMoves(show, metres) {
  const start = await show.judge.where('a line of the judge', () => true);
  await show.judge.where(`a move of ${metres} m`, (line) => distance(line.pos, start.pos) >= metres);
}

/**
 * Waits for rest by the judge's truth, and says after how many seconds of the rig's own time it came, and where: since
 * now, or since the line that is given. Longer than `most` seconds is no rest that was asked for: on its way to where the
 * room ends the camera takes longer than the usual six.
 */
export async function restOf(show, { most = 6, since = null } = {}) {
  const from = since ?? (await show.judge.now());
  const line = await show.judge.where('rest', (l) => l.at_rest, PATIENCE_MS, from);
  const seconds = line.t_s - from.t_s;
  assert.ok(seconds <= most, `rest came after ${seconds.toFixed(2)} s, ${distance(from.pos, line.pos)} m further on`);
  return { seconds, metres: distance(from.pos, line.pos), line };
}

/**
 * For what must be prompt: `attempt` does it and returns how many milliseconds it took. Tried up to five times until it
 * was, for a busy machine is not busy all the time, and what is broken is slow each time.
 */
export async function promptOnce(t, what, ms, attempt) {
  const took = [];
  do took.push(await attempt());
  while (took.at(-1) >= ms && took.length < 5);
  t.diagnostic(`${what} after ${took.map((x) => x.toFixed(0)).join(', ')} ms`);
  assert.ok(took.at(-1) < ms, `${what} after ${took} ms, never within ${ms}`);
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

/** How fast the platform truly is in the next while. */
export async function fastest(show, ms) {
  return Math.max(...(await watched(show, ms)).map((line) => line.speed));
}
