// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// 300 viewers who act as one and mean harm. The judge is the simulated rig's own geometry, not the gateway's.
import assert from 'node:assert/strict';
import { assertUntouched, crowdFor, deskFor, keepHolding, keepVoting, PATIENCE_MS, showFor, sleep, test } from './lib/show.mjs';

const ATTACKERS = 300;

/** All reasons that any scene named while `during` ran. */
async function reasonsDuring(desk, during) {
  const seen = new Set();
  const note = (m) => m.type === 'scene' && m.reasons.forEach((r) => seen.add(r));
  desk.listeners.add(note);
  await during();
  desk.listeners.delete(note);
  return seen;
}

function fastest(show) {
  return Math.max(...show.judge.lines.map((l) => l.speed));
}

test('300 held sticks cannot drive it into a keep-out or off the stage', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, ATTACKERS);
  await desk.start();
  const reasons = await reasonsDuring(desk, async () => {
    const push = async (ms, ...stick) => {
      const done = keepHolding(viewers, ...stick);
      await sleep(ms);
      done();
    };
    // At the signal box from the front; when it holds the camera off, on and on, from above and along it.
    let done = keepHolding(viewers, 1, 1, -0.4);
    await desk.sceneWhere('held off by the signal box', (s) => s.reason.code === 'keepout' && s.reason.zone === 'signal box');
    await sleep(4000);
    done();
    await push(3000, 0, 0, -1);
    await push(3000, 0.5, 1, -1);
    // To the ceiling and the front edge, and on and on.
    done = keepHolding(viewers, 0, -1, 1);
    await desk.sceneWhere('held at the edge', (s) => s.reasons.includes('stage-edge'));
    await sleep(5000);
    done();
  });
  await assertUntouched(show);
  assert.ok(reasons.has('keepout'), `keepout was among the reasons: ${[...reasons]}`);
  assert.ok(reasons.has('stage-edge'), `stage-edge was among the reasons: ${[...reasons]}`);
  assert.ok(fastest(show) <= 0.2 * 1.15, `fastest ${fastest(show)} m/s, the audience's limit is 0.2`);
});

test('300 voters cannot step it into a keep-out or off the stage', async (t) => {
  const show = await showFor(t, (file) => {
    file.audience.poll.round_s = 1;
    file.audience.poll.step_m = 1.0;
  });
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, ATTACKERS);
  await desk.start();
  const plan = ['truck-right', 'dolly-in', 'pedestal-down'];
  const reasons = await reasonsDuring(desk, async () => {
    for (const [choose, reason] of [[(v) => plan[v.scene.round.id % 3], 'keepout'], [() => 'dolly-out', 'stage-edge']]) {
      const done = keepVoting(viewers, choose);
      await desk.sceneWhere(reason, (s) => s.reasons.includes(reason), 2 * PATIENCE_MS);
      await sleep(5000);
      done();
    }
  });
  await assertUntouched(show);
  assert.ok(desk.scene.desk.rounds >= 12, `${desk.scene.desk.rounds} rounds decided`);
});

test('what a viewer must not send is refused, counted and changes nothing', async (t) => {
  const show = await showFor(t);
  const desk = await deskFor(t, show);
  const [bad, good] = await crowdFor(t, show, 2);
  await desk.start();
  const before = desk.scene.desk.counts.refused;
  const nonsense = ['{', '[]', '{"type":"vote"}', '{"type":"vote","round":1,"choice":"fly"}', '{"type":"stick","x":1e999,"y":0,"z":0}',
    '{"type":"stick","x":2,"y":0,"z":0}', '{"type":"stop"}', '{"type":"go"}', '{"type":"vote","round":1,"choice":"stay","x":1}', '"\\u0000"'];
  for (const text of nonsense) {
    const verdict = bad.next(`an answer to ${text}`, (m) => m.type === 'verdict');
    bad.sendRaw(text);
    const { verdict: word } = await verdict;
    assert.ok(['refused', 'limited'].includes(word), `${text}: ${word}`);
    await sleep(300);
  }
  await desk.sceneWhere('the refusals counted', (s) => s.desk.counts.refused >= before + 5);
  assert.equal(desk.scene.state, 'running', 'a viewer\'s stop or go is no stop or go');
  bad.sendRaw(`{"type":"vote","round":1,"choice":"${'x'.repeat(5000)}"}`);
  await bad.next('closed', (m) => m.type === 'closed');
  assert.equal(bad.closed.code, 1009);
  assert.equal(good.closed, null, 'the others stay');
});
