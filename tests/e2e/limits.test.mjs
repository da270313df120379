// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The session's limits, by what the simulated rig truly does.
import assert from 'node:assert/strict';
import { assertMoves, assertUntouched, crowdFor, deskFor, fastest, keepDoing, keepHolding, later, mint, PATIENCE_MS, refused, restOf, showFor, test } from './lib/show.mjs';

const limit = (lane, speed) => ({ type: 'limit', lane, speed, floor: null, ceiling: null });

test('anyone tightens and the camera obeys at once; an operator loosens, while stopped, never beyond what was commissioned', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const operator = await deskFor(t, show);
  const moderator = await deskFor(t, show, mint(show, 'moderator', 'mo'));
  const spotter = await deskFor(t, show, show.spotter_pass);
  const speedOf = (speed) => operator.sceneWhere(`audience at ${speed}`, (s) => Math.abs(s.desk.speeds.audience - speed) < 1e-6);
  const viewers = await crowdFor(t, show, 5);
  later(t, keepHolding(viewers, -1, 0, 0));
  await operator.start();
  await assertMoves(show, 0.3);
  moderator.send(limit('audience', 0.1));
  await speedOf(0.1);
  await show.judge.where('it slow down', (l) => l.speed < 0.115);
  assert.ok((await fastest(show, 1500)) < 0.115, 'by what is true');
  spotter.send(limit('audience', 0.08));
  await speedOf(0.08);
  assert.equal((await refused(spotter, limit('audience', 0.1))).code, 'only-tighten');
  assert.equal((await refused(moderator, limit('audience', 0.09))).code, 'only-tighten');
  assert.equal((await refused(operator, limit('audience', 0.2))).code, 'while-moving');
  assert.equal((await refused(operator, { type: 'limit', lane: 'audience', speed: null, floor: 2, ceiling: 1 })).code, 'no-limits');
  await operator.stop();
  await operator.sceneWhere('stopped', (s) => s.state === 'stopped');
  assert.equal((await refused(moderator, limit('audience', 0.2))).code, 'only-tighten');
  operator.send(limit('audience', 5));
  await speedOf(0.2);
  await assertUntouched(show);
});

test('a floor for the session keeps the camera above it', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'closed'));
  const operator = await deskFor(t, show);
  operator.send({ type: 'limit', lane: 'operator', speed: null, floor: 1.1, ceiling: null });
  operator.take();
  await operator.sceneWhere('a holder', (s) => s.desk.you_hold && s.limits.floor_m === 1.1);
  await operator.start();
  later(t, keepDoing([operator], 100, (d) => d.send({ type: 'stick', x: 0, y: 0, z: -1 })));
  await assertMoves(show, 0.01);
  await operator.sceneWhere('held by the floor', (s) => s.reasons.includes('stage-edge'));
  const { line } = await restOf(show, { most: PATIENCE_MS / 1000 });
  assert.ok(line.body[2] - 0.14 > 1.1, `the body's lower end is at ${line.body[2] - 0.14}`);
  assert.ok(line.body[2] - 0.14 < 1.4, 'and it did go down');
});
