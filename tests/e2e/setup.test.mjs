// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Set-up: people are at the rig, and what moves it is the operator alone, slowly.
import assert from 'node:assert/strict';
import { assertMoves, assertStaysPut, crowdFor, deskFor, fastest, keepDoing, keepHolding, later, refused, restOf, showFor, sleep, test } from './lib/show.mjs';

test('set-up: the operator alone, while stopped; the audience is not heard', async (t) => {
  const show = await showFor(t, (file) => {
    file.audience.mode = 'blend';
    file.limits.setup = { ...file.limits.setup, speed_mps: 0.1 };
  });
  const operator = await deskFor(t, show);
  operator.send({ type: 'setup', on: true });
  await operator.sceneWhere('set-up', (s) => s.desk.setup && s.limits.mode === 'setup');
  const viewers = await crowdFor(t, show, 5);
  later(t, keepHolding(viewers, -1, 0, 0));
  await operator.start();
  await sleep(500);
  await assertStaysPut(show, 1000);
  assert.equal((await refused(operator, { type: 'setup', on: false })).code, 'stop-first');
  operator.take();
  await operator.sceneWhere('a holder', (s) => s.desk.you_hold);
  const letGo = keepDoing([operator], 100, (d) => d.send({ type: 'stick', x: 1, y: 0, z: 0 }));
  await assertMoves(show, 0.1);
  const speed = await fastest(show, 1000);
  letGo();
  assert.ok(speed > 0.05 && speed < 0.115, `${speed} m/s`);
  operator.send({ type: 'stick', x: 0, y: 0, z: 0 });
  await restOf(show);
  await operator.stop();
  operator.send({ type: 'setup', on: false });
  await operator.sceneWhere('the show', (s) => !s.desk.setup && s.limits.mode === 'show');
});
