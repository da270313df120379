// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The main job: what the audience wants, the camera does, and every page can see it.
import assert from 'node:assert/strict';
import { assertMoves, assertStaysPut, assertUntouched, crowdFor, deskFor, keepHolding, keepVoting, later, showFor, test } from './lib/show.mjs';

/** Long enough for all to be heard; before so many have voted for the same, no round decides for it. */
const unhurried = (quorum) => (file) => Object.assign(file.audience.poll, { round_s: 4, quorum });

test('the camera takes the step that the audience votes for, and no other', async (t) => {
  const show = await showFor(t, unhurried(20));
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 30);
  await desk.start();
  const before = (await show.judge.where('the camera', () => true)).pos;
  // 20 of 30 is above 1/2 + 0.1/2 of the voices; 10 dissent.
  const done = keepVoting(viewers, (_, i) => (i < 10 ? 'dolly-in' : 'truck-left'));
  const decided = await desk.sceneWhere('an outcome', (s) => s.round.last.choice === 'truck-left');
  assert.equal(decided.round.last.voices, 30, 'every voice was counted, once');
  done();
  await desk.sceneWhere('the goal reached', (s) => s.goal === null && s.at_rest && s.pos[0] < before[0] - 0.3);
  const after = (await show.judge.where('rest', (l) => l.at_rest)).pos;
  // One step is 0.4 m; a round that was open when we stopped voting may not have brought a second.
  assert.ok(Math.abs(before[0] - after[0] - 0.4) < 0.05, `went ${before[0] - after[0]} m to the left`);
  assert.ok(Math.abs(before[1] - after[1]) < 0.03 && Math.abs(before[2] - after[2]) < 0.03, 'and nowhere else');
  await assertUntouched(show);
});

test('a change without enough of the voices leaves the camera where it is', async (t) => {
  const show = await showFor(t, unhurried(11));
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 20);
  await desk.start();
  // 11 of 20 is a majority, but not strictly above 1/2 + 0.1/2 = 11 voices.
  const done = keepVoting(viewers, (_, i) => (i < 9 ? 'truck-right' : 'truck-left'));
  later(t, done);
  const scene = await desk.sceneWhere('a full round decided', (s) => s.round.last.voices === 20);
  assert.equal(scene.round.last.choice, 'stay');
  await assertStaysPut(show, 1000);
});

test('held sticks blend to their median, and a minority cannot bend it', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 21);
  await desk.start();
  const honest = keepHolding(viewers.slice(0, 11), -1, 0, 0);
  const hostile = keepHolding(viewers.slice(11), 1, 1, -1);
  later(t, honest);
  later(t, hostile);
  const scene = await desk.sceneWhere('21 held sticks', (s) => s.crowd.sticks === 21);
  assert.deepEqual(scene.crowd.blend, [-1, 0, 0]);
  const before = (await show.judge.now()).pos;
  await assertMoves(show, 0.3);
  const after = (await show.judge.now()).pos;
  assert.ok(after[0] < before[0] - 0.25, 'it goes where the majority holds');
  assert.ok(Math.abs(after[1] - before[1]) < 0.05 && Math.abs(after[2] - before[2]) < 0.05);
});

test('with the audience closed, nobody moves it, and each wish is answered', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'closed'));
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 10);
  await desk.start();
  const refused = viewers[0].next('a refusal', (m) => m.type === 'verdict' && m.verdict === 'refused');
  const done = keepHolding(viewers, 1, 0, 0);
  later(t, done);
  const verdict = await refused;
  assert.equal(verdict.code, 'closed');
  assert.ok(verdict.text.length > 5, 'in words');
  await assertStaysPut(show, 1500);
});

test('a viewer over the rate is told how long to wait; the others are not held up', async (t) => {
  const show = await showFor(t, (file) => (file.audience.poll.round_s = 30));
  const desk = await deskFor(t, show);
  const [fast, calm] = await crowdFor(t, show, 2);
  await desk.start();
  await fast.sceneWhere('an open round', (s) => s.state === 'running' && s.round.phase === 'open');
  const limited = fast.next('a limit', (m) => m.type === 'verdict' && m.verdict === 'limited');
  for (let i = 0; i < 40; i++) fast.vote('truck-left');
  const verdict = await limited;
  assert.ok(verdict.wait_ms > 0 && verdict.wait_ms <= 3000, `wait ${verdict.wait_ms} ms`);
  const counted = calm.next('a count', (m) => m.type === 'verdict' && m.of === 'vote');
  calm.vote('truck-right');
  assert.equal((await counted).verdict, 'counted');
});
