// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load, seeded } from './lib/bundle.mjs';

const { deadZone, within1, together, fromKeys, fromAxes, isStickKey, atRest } = await load('common/stick.ts');

test('the dead zone is round, is exactly rest inside, and starts from nothing at its edge', () => {
  for (let i = 0; i < 360; i += 7) {
    const [c, s] = [Math.cos((i * Math.PI) / 180), Math.sin((i * Math.PI) / 180)];
    assert.deepEqual(deadZone(0.199 * c, 0.199 * s, 0.2), [0, 0]);
    assert.ok(Math.hypot(...deadZone(0.201 * c, 0.201 * s, 0.2)) < 0.002);
    const rim = deadZone(c, s, 0.2);
    assert.ok(Math.abs(Math.hypot(...rim) - 1) < 1e-12);
  }
});

test('the dead zone keeps the direction and grows with the push; a corner is not longer than the rim', () => {
  const random = seeded(3);
  for (let i = 0; i < 2000; i++) {
    const [x, y] = [random() * 2 - 1, random() * 2 - 1];
    const [u, v] = deadZone(x, y, 0.15);
    assert.ok(Math.abs(x * v - y * u) < 1e-12, 'turned');
    assert.ok(Math.hypot(u, v) <= 1 + 1e-12, 'longer than 1');
    assert.ok(Math.hypot(...deadZone(x * 0.9, y * 0.9, 0.15)) <= Math.hypot(u, v) + 1e-12, 'not monotone');
  }
});

test('what is not a number is rest', () => {
  for (const bad of [NaN, Infinity, -Infinity]) {
    assert.deepEqual(deadZone(bad, 0.5, 0.1), [0, 0]);
    assert.deepEqual(within1([0.5, bad, 0]), [0, 0, 0]);
    assert.ok(atRest(fromAxes([bad, 0, 0, 0], 0.1)));
  }
  assert.ok(atRest(fromAxes([], 0.1)));
});

test('several hands add up, and never to more than a full stick', () => {
  assert.deepEqual(together([]), [0, 0, 0]);
  assert.deepEqual(together([[0.25, 0, 0], [0.25, 0.5, 0]]), [0.5, 0.5, 0]);
  assert.deepEqual(together([[1, 0, 0], [-1, 0, 0]]), [0, 0, 0]);
  const v = together([[1, 1, 0], [0, 0, 1], [1, 0, 0]]);
  assert.ok(Math.abs(Math.hypot(...v) - 1) < 1e-12);
});

test('keys: one push a direction however many keys, opposites cancel, diagonals are not faster', () => {
  assert.deepEqual(fromKeys(['ArrowLeft', 'KeyA']), [-1, 0, 0]);
  assert.deepEqual(fromKeys(['KeyW', 'KeyS']), [0, 0, 0]);
  assert.deepEqual(fromKeys(['PageUp']), [0, 0, 1]);
  assert.deepEqual(fromKeys(['KeyF', 'Enter']), [0, 0, -1]);
  assert.ok(Math.abs(Math.hypot(...fromKeys(['KeyD', 'KeyW', 'KeyR'])) - 1) < 1e-12);
  for (const code of ['Escape', 'Space', 'Tab', 'Enter', 'constructor', 'toString']) assert.equal(isStickKey(code), false, code);
});

test('a gamepad: forward is in, right stick up is up, and rest is +0 everywhere', () => {
  const [x, y, z] = fromAxes([0, -1, 0, 0], 0.2);
  assert.deepEqual([x, y, z], [0, 1, 0]);
  assert.ok(fromAxes([0, 0, 0, -1], 0.2)[2] > 0.999);
  for (const v of fromAxes([0, 0, 0, 0], 0.2)) assert.ok(Object.is(v, 0));
});

test('at rest is nothing on any axis, however many there are', () => {
  assert.ok(atRest([0, 0, 0]) && atRest([0, 0, 0, 0]));
  assert.ok(!atRest([0, 0, 0.1]) && !atRest([0, 0, 0, 0.1]));
});
