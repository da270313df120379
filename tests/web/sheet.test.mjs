// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { load, root, seeded } from './lib/bundle.mjs';

const sheet = await load('common/sheet.ts');
const show = JSON.parse(readFileSync(join(root, 'deploy/shows/model-railway.json'), 'utf8'));
const box = (x0, y0, x1, y1) => [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
const solid = ({ name, from_m: [x0, y0, z0], to_m: [x1, y1, z1] }) => ({ name, plan: box(x0, y0, x1, y1), front: box(x0, z0, x1, z1) });
const room = {
  stages: [{ footprint: show.room.stage.footprint_m, floor: show.room.stage.floor_m, ceiling: show.room.stage.ceiling_m }],
  keep_outs: show.room.keep_outs.map((k) => ({ ...solid(k), padding: k.padding_m, yields: false })),
  slow_zones: show.room.slow_zones.map((z) => ({ ...solid(z), speed_mps: z.speed_mps })),
  view_keep_outs: show.room.view_keep_outs.map(solid),
  anchors: show.rig.anchors_m,
  home: show.room.home_m,
};

const inside = (box, [x, y]) => x >= box.x - 1e-6 && x <= box.x + box.w + 1e-6 && y >= box.y - 1e-6 && y <= box.y + box.h + 1e-6;

test('the demo room on a phone and on a desk: everything lies inside its view', () => {
  for (const [w, h] of [[390, 420], [700, 660], [1400, 700]]) {
    const s = sheet.makeSheet(room, w, h);
    assert.ok(s.height <= h + 1e-6 && s.plan.x + s.plan.w <= w, `${w}x${h}`);
    for (const p of [...room.anchors, room.home]) {
      assert.ok(inside(s.plan, sheet.inPlan(s, p)));
      assert.ok(inside(s.elevation, sheet.inElevation(s, p)));
    }
    for (const zone of [...room.keep_outs, ...room.slow_zones, ...room.view_keep_outs]) {
      assert.ok(sheet.planOf(s, zone).every((p) => inside(s.plan, p)), zone.name);
      assert.ok(sheet.frontOf(s, zone).every((p) => inside(s.elevation, p)), zone.name);
    }
  }
});

test('the two views share the scale and the x axis; in is up in the plan, up is up in the elevation', () => {
  const s = sheet.makeSheet(room, 600, 600);
  for (const x of [0, 1.5, 7]) assert.equal(sheet.inPlan(s, [x, 1, 1])[0], sheet.inElevation(s, [x, 1, 1])[0]);
  assert.ok(Math.abs(sheet.inPlan(s, [0, 1, 0])[1] - sheet.inPlan(s, [0, 2, 0])[1] - s.scale) < 1e-9);
  assert.ok(Math.abs(sheet.inElevation(s, [0, 0, 1])[1] - sheet.inElevation(s, [0, 0, 2])[1] - s.scale) < 1e-9);
  assert.ok(sheet.inPlan(s, [2, 0, 0])[0] > sheet.inPlan(s, [1, 0, 0])[0]);
});

test('any room fits: random sizes, places and screens', () => {
  const random = seeded(9);
  for (let i = 0; i < 500; i++) {
    const size = 2 + random() * 40;
    const at = () => [random() * size - size / 3, random() * size, random() * size];
    const stages = [{ footprint: [at(), at(), at()].map((p) => p.slice(0, 2)), floor: 0.5, ceiling: 3 }];
    const any = { stages, keep_outs: [], slow_zones: [], view_keep_outs: [], anchors: [at(), at(), at()], home: at() };
    const s = sheet.makeSheet(any, 300 + random() * 1000, 300 + random() * 600);
    for (const p of any.anchors) assert.ok(inside(s.plan, sheet.inPlan(s, p)) && inside(s.elevation, sheet.inElevation(s, p)));
    assert.ok(sheet.elevZ(s, 0) <= s.elevation.y + s.elevation.h + 1e-6, 'the floor is drawn');
  }
});

test('a solid is drawn where it is: the box around its outline is that of the show file', () => {
  const s = sheet.makeSheet(room, 600, 600);
  show.room.keep_outs.forEach((k, i) => {
    const [plan, front] = [sheet.around(sheet.planOf(s, room.keep_outs[i])), sheet.around(sheet.frontOf(s, room.keep_outs[i]))];
    assert.ok(Math.abs(plan.w - (k.to_m[0] - k.from_m[0]) * s.scale) < 1e-6 && Math.abs(plan.h - (k.to_m[1] - k.from_m[1]) * s.scale) < 1e-6);
    assert.ok(Math.abs(front.h - (k.to_m[2] - k.from_m[2]) * s.scale) < 1e-6);
    assert.ok(front.y + front.h <= sheet.elevZ(s, 0) + 1e-6);
  });
  assert.equal(sheet.around([]), null);
});

test('a wall is drawn in the view in which it does not cover everything', () => {
  const wall = { name: 'wall', plan: box(-0.3, 6, 8.3, 6.3), front: [], padding: 0, yields: false };
  const s = sheet.makeSheet({ ...room, keep_outs: [wall] }, 600, 600);
  assert.ok(s.hi[1] > 6.3 && s.lo[0] < -0.3);
  assert.equal(s.hi[2], sheet.makeSheet(room, 600, 600).hi[2]);
});

test('labels wrap at words, lose none, and a word too long for its box stays whole', () => {
  assert.deepEqual(sheet.wrapLabel("host's chair", 200, 7), ["host's chair"]);
  assert.deepEqual(sheet.wrapLabel('signal box', 50, 7), ['signal', 'box']);
  assert.deepEqual(sheet.wrapLabel('Unterwerk', 10, 7), ['Unterwerk']);
  assert.deepEqual(sheet.wrapLabel('  ', 10, 7), []);
});

test('a name stays inside its box where it fits, and goes above where it would hide it', () => {
  const big = { x: 100, y: 100, w: 80, h: 60 };
  const inBig = sheet.placeLabel("host's chair", big, 12);
  assert.ok(inBig.y > big.y && inBig.y < big.y + big.h);
  const small = { x: 100, y: 100, w: 18, h: 14 };
  const above = sheet.placeLabel("host's chair", small, 12);
  assert.deepEqual(above.lines, ["host's chair"]);
  assert.ok(above.y < small.y);
  assert.equal(above.x, 109);
});

test('an arrow shorter than its head is not drawn, nor one to nowhere', () => {
  assert.equal(sheet.arrow([0, 0], [3, 0]), '');
  assert.equal(sheet.arrow([0, 0], [NaN, 0]), '');
  assert.match(sheet.arrow([0, 0], [20, 0]), /^M0\.0 0\.0L20\.0 0\.0M/);
});
