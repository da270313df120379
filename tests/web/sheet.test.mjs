// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { load, root, seeded } from './lib/bundle.mjs';

const sheet = await load('common/sheet.ts');
const show = JSON.parse(readFileSync(join(root, 'deploy/shows/model-railway.json'), 'utf8'));
const room = {
  stage: { footprint: show.room.stage.footprint_m, floor: show.room.stage.floor_m, ceiling: show.room.stage.ceiling_m },
  keep_outs: show.room.keep_outs.map((k) => ({ name: k.name, from: k.from_m, to: k.to_m, padding: k.padding_m })),
  anchors: show.rig.anchors_m,
  home: show.room.home_m,
};

const inside = (box, [x, y]) => x >= box.x - 1e-6 && x <= box.x + box.w + 1e-6 && y >= box.y - 1e-6 && y <= box.y + box.h + 1e-6;

test('the demo room on a phone and on a desk: everything lies inside its view', () => {
  for (const [w, h] of [[390, 420], [700, 660], [1400, 700]]) {
    const s = sheet.makeSheet(room, w, h);
    assert.ok(s.height <= h + 1e-6 && s.plan.x + s.plan.w <= w, `${w}x${h}`);
    const points = [...room.anchors, room.home, ...room.keep_outs.flatMap((k) => [k.from, k.to])];
    for (const p of points) {
      assert.ok(inside(s.plan, sheet.inPlan(s, p)));
      assert.ok(inside(s.elevation, sheet.inElevation(s, p)));
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
    const any = { stage: { footprint: [at(), at(), at()].map((p) => p.slice(0, 2)), floor: 0.5, ceiling: 3 }, keep_outs: [], anchors: [at(), at(), at()], home: at() };
    const s = sheet.makeSheet(any, 300 + random() * 1000, 300 + random() * 600);
    for (const p of any.anchors) assert.ok(inside(s.plan, sheet.inPlan(s, p)) && inside(s.elevation, sheet.inElevation(s, p)));
    assert.ok(sheet.elevZ(s, 0) <= s.elevation.y + s.elevation.h + 1e-6, 'the floor is drawn');
  }
});

test('a padded keep-out never sinks through the floor and contains the bare one', () => {
  const s = sheet.makeSheet(room, 600, 600);
  for (const k of room.keep_outs) {
    for (const view of [sheet.keepOutPlan, sheet.keepOutElevation]) {
      const [bare, padded] = [view(s, k), view(s, k, k.padding)];
      assert.ok(padded.x <= bare.x && padded.y <= bare.y && padded.x + padded.w >= bare.x + bare.w);
    }
    const e = sheet.keepOutElevation(s, k, k.padding);
    assert.ok(e.y + e.h <= sheet.elevZ(s, 0) + 1e-6);
  }
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
