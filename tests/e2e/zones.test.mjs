// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// What a show file says of its room, held against what the simulated rig truly does: slow zones, solids of every shape,
// where the cords can hold it. And that people are told why, with the name and the numbers.
import assert from 'node:assert/strict';
import { assertUntouched, crowdFor, deskFor, keepHolding, PATIENCE_MS, showFor, sleep, test } from './lib/show.mjs';

const AUDIENCE = 5;

async function pushed(t, edit, ...stick) {
  const show = await showFor(t, (file) => {
    file.audience.mode = 'blend';
    edit(file);
  });
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, AUDIENCE);
  await desk.start();
  const letGo = keepHolding(viewers, ...stick);
  return { show, desk, letGo };
}

test('in a slow zone it is slow, by the rig\'s own truth, and the desk says which and how slow', async (t) => {
  const zone = { name: 'aisle', from_m: [5.2, 1.2, 0], to_m: [6.8, 3.2, 2.6], speed_mps: 0.08 };
  const { show, desk, letGo } = await pushed(t, (file) => (file.room.slow_zones = [zone]), 1, 0, 0);
  const told = await desk.sceneWhere('slowed by the zone', (s) => s.reason.code === 'slow-zone');
  assert.equal(told.reason.zone, 'aisle');
  assert.match(told.reason.text, /^Slowed by the slow zone "aisle": [\d.]+ m\/s, where [\d.]+ m\/s was wished for\.$/);
  await show.judge.where('well into the zone', (l) => l.body[0] > 5.9, 3 * PATIENCE_MS);
  letGo();
  const inside = show.judge.lines.filter((l) => l.body[0] > 5.25 && l.body[0] < 6.7);
  const fastest = Math.max(...inside.map((l) => l.speed));
  assert.ok(inside.length > 50 && fastest <= 0.08 * 1.2, `${inside.length} lines, fastest ${fastest} m/s in the zone`);
  assert.ok(Math.max(...show.judge.lines.map((l) => l.speed)) > 0.12, 'and faster outside it');
  await assertUntouched(show);
});

const solids = {
  'a turned box': { from_m: [5.2, 1.9, 0], to_m: [5.4, 3.1, 1.9], yaw_deg: 35 },
  'a sphere': { shape: 'sphere', centre_m: [5.4, 2.3, 1.6], radius_m: 0.35 },
  'a capsule': { shape: 'capsule', from_m: [5.4, 2.2, 0.2], to_m: [5.7, 2.5, 2.1], radius_m: 0.1 },
  'a concave prism': { shape: 'prism', footprint_m: [[5.2, 1.4], [6.2, 1.4], [6.2, 3.2], [5.2, 3.2], [5.9, 2.3]], floor_m: 0, ceiling_m: 1.9 },
  'a half-space': { shape: 'half-space', point_m: [5.5, 0, -0.4], normal: [-0.8, 0, 0.6] },
};
for (const [what, solid] of Object.entries(solids)) {
  test(`${what} in the way holds it off, and is named`, async (t) => {
    const { show, desk, letGo } = await pushed(t, (file) => {
      file.room.keep_outs = [{ name: 'the thing', padding_m: 0.02, ...solid }];
      file.room.slow_zones = [];
    }, 1, 0, 0);
    const s = await desk.sceneWhere('held off', (m) => m.reason.code === 'keepout');
    assert.equal(s.reason.zone, 'the thing');
    assert.match(s.reason.text, /^Slowed by the keep-out "the thing": /);
    await sleep(3000);
    letGo();
    await assertUntouched(show);
  });
}

test('where the cords cannot hold it, it does not go', async (t) => {
  const { show, desk, letGo } = await pushed(t, (file) => (file.rig.cords.max_n = 45), 0, 1, 1);
  const s = await desk.sceneWhere('held by reach or tension', (m) => ['out-of-reach', 'tension-limit'].includes(m.reason.code), 2 * PATIENCE_MS);
  assert.ok(s.pos[2] < 2.4, `held at ${s.pos}, below the ceiling`);
  let most = 0;
  const watch = (m) => { if (m.type === 'scene' && m.cords) most = Math.max(most, ...m.cords.tension_n); };
  desk.listeners.add(watch);
  await sleep(5000);
  letGo();
  assert.ok(most > 20 && most < 45, `the hardest pull was ${most} N`);
  assert.equal(desk.scene.state, 'running', desk.scene.reason.text);
  await assertUntouched(show);
});
