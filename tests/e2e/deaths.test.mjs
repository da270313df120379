// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Silence is a stop: each process is killed without warning (or frozen) while the camera is under way.
//
// Bounds, from the show file: an intent lives 0.3 s at the rig; a silent edge keeps its voice 0.5 s; braking from the
// audience's 0.2 m/s at 0.6 m/s2 takes 0.33 s and 0.03 m. The simulated rig adds 0.02 s each way, and the body, swinging
// below, must have calmed before the judge calls it rest. All are taken from the rig's own time and place, which no busy
// machine changes.
import assert from 'node:assert/strict';
import { assertMoves, assertStaysPut, assertUntouched, crowdFor, Desk, deskFor, keepHolding, later, PATIENCE_MS, restOf, showFor, sleep, test, until } from './lib/show.mjs';

/** The crowd holds its sticks to the left and the camera is at speed. */
async function underWay(t, show, count = 20) {
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, count);
  await desk.start();
  later(t, keepHolding(viewers, -1, 0, 0));
  await show.judge.where('the camera at speed', (l) => l.speed > 0.15);
  return { desk, viewers };
}

const JUDGE_S = 0.05; // between two lines
const blend = (file) => (file.audience.mode = 'blend');

/** Kills one process; `replaced` waits until `run` names another in its place. */
async function killed(show, name) {
  const pid = async () => {
    const pids = await show.processes();
    return name === 'edge' ? pids.edges[0] : pids[name];
  };
  const before = await pid();
  assert.ok(before > 0, `run names the process id of ${name}: ${JSON.stringify(await show.processes())}`);
  process.kill(before, 'SIGKILL');
  return {
    replaced: () => until(`${name} to be started again`, async () => {
      const now = await pid();
      return now > 0 && now !== before ? now : null;
    }),
  };
}

/** Core is dead or frozen: from the last intent on the rig has what is left of the lease, and its brake. */
async function assertBrakesByItself(show, before) {
  const lapsed = await show.judge.where('the intent to lapse', (l) => l.lapses > before.lapses, PATIENCE_MS, before);
  const { lines } = show.judge;
  const last = lines.find((l) => l.intents === lapsed.intents && l.t_s >= before.t_s);
  const rest = await restOf(show, { since: last, most: 2 });
  assert.ok(lapsed.t_s - last.t_s <= 0.3 + 2 * JUDGE_S, `lapsed ${lapsed.t_s - last.t_s} s after the last intent`);
  assert.ok(rest.metres <= 0.2 * 0.35 + 0.1, `ran on for ${rest.metres} m: at most the lease at 0.2 m/s and the braking`);
}

/** A restarted show must not move for anybody until it is armed and told to go; then it must. */
async function parkedUntilArmed(t, show) {
  const desk = await until('the desk to be reachable again', () => Desk.open(show.desk, show.operator_pass).catch(() => null));
  later(t, () => desk.close());
  await desk.sceneWhere('parked, with its reason', (s) => s.state === 'parked' && s.reason.code === 'started-up');
  await desk.sceneWhere('telemetry from the rig', (s) => s.rig === 'ok');
  const viewers = await crowdFor(t, show, 10);
  later(t, keepHolding(viewers, -1, 0, 0));
  await assertStaysPut(show, 2000);
  desk.go();
  await assertStaysPut(show, 700);
  await desk.ready();
  await assertStaysPut(show, 700);
  desk.go();
  await assertMoves(show, 0.1);
}

test('an edge that is killed loses its voice; the camera rests; viewers come back to a new edge', async (t) => {
  const show = await showFor(t, blend);
  const { desk } = await underWay(t, show);
  const dead = await killed(show, 'edge');
  const { metres } = await restOf(show);
  t.diagnostic(`ran on for ${metres.toFixed(3)} m: 0.5 s at 0.2 m/s and the braking are 0.22`);
  assert.ok(metres <= 0.5, `ran on for ${metres} m`);
  await desk.sceneWhere('no voices', (s) => s.crowd.viewers === 0 && s.crowd.sticks === 0);
  assert.equal(desk.scene.state, 'running', 'a lost crowd is no fault of the rig');
  await dead.replaced();
  const again = await until('viewers to come back', () => crowdFor(t, show, 5).catch(() => null));
  later(t, keepHolding(again, 1, 0, 0));
  await assertMoves(show, 0.1);
  await assertUntouched(show);
});

test('when core is killed the rig brakes by itself; core comes back disarmed', async (t) => {
  const show = await showFor(t, blend);
  await underWay(t, show);
  const before = await show.judge.now();
  const dead = await killed(show, 'core');
  await assertBrakesByItself(show, before);
  await dead.replaced();
  await parkedUntilArmed(t, show);
  await assertUntouched(show);
});

test('when core freezes the rig brakes by itself; when it thaws it does not go on', async (t) => {
  const show = await showFor(t, blend);
  const { desk } = await underWay(t, show);
  const { core } = await show.processes();
  const before = await show.judge.now();
  process.kill(core, 'SIGSTOP');
  later(t, () => {
    try {
      process.kill(core, 'SIGCONT');
    } catch {
      // it has ended meanwhile
    }
  });
  await assertBrakesByItself(show, before);
  process.kill(core, 'SIGCONT');
  await desk.sceneWhere('latched after the gap', (s) => s.state === 'stopped').catch(async () => {
    // A supervisor may have taken the silence for death and replaced core: disarmed all the same.
    const fresh = await deskFor(t, show);
    await fresh.sceneWhere('parked', (s) => s.state === 'parked');
  });
  await assertStaysPut(show, 1500);
  await assertUntouched(show);
});

test('when the rig is gone core latches, and stays stopped when it is back', async (t) => {
  const show = await showFor(t, blend);
  const { desk } = await underWay(t, show);
  const dead = await killed(show, 'rig_sim');
  const scene = await desk.sceneWhere('the loss latched', (s) => s.state === 'stopped' && s.rig === 'lost');
  assert.equal(scene.reason.code, 'rig-lost');
  await dead.replaced();
  await desk.sceneWhere('the rig is back', (s) => s.rig === 'ok');
  assert.equal(desk.scene.state, 'stopped');
  await assertStaysPut(show, 2000);
  await desk.start();
  await assertMoves(show, 0.1);
});

test('required presence: when the last desk vanishes, the camera stops and stays stopped', async (t) => {
  const show = await showFor(t, (file) => {
    blend(file);
    file.desk.presence_timeout_s = 2;
  });
  const { desk } = await underWay(t, show);
  desk.kill();
  const rest = await restOf(show, { most: 8 });
  assert.ok(rest.seconds > 0.5, 'a blink of the network is no loss');
  const next = await deskFor(t, show);
  await next.sceneWhere('the loss latched', (s) => s.state === 'stopped' && s.reason.code === 'desk-lost');
  await sleep(500);
  await assertStaysPut(show, 1000);
  await assertUntouched(show);
});
