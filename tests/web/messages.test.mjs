// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load, seeded } from './lib/bundle.mjs';

const { CHOICES, parse, say } = await load('common/messages.ts');

test('whatever a hand or a broken gamepad gives, a stick on the wire is three finite numbers in -1..1', () => {
  const random = seeded(1);
  const odd = [NaN, Infinity, -Infinity, -0, 1e-12, -1e300, 1.0000001, undefined];
  const any = () => (random() < 0.5 ? odd[Math.floor(random() * odd.length)] : random() * 4 - 2);
  for (let i = 0; i < 5000; i++) {
    const text = JSON.stringify(say.stick([any(), any(), any()]));
    const m = JSON.parse(text);
    assert.deepEqual(Object.keys(m), ['type', 'x', 'y', 'z']);
    for (const v of [m.x, m.y, m.z]) assert.ok(Number.isFinite(v) && Math.abs(v) <= 1, text);
    assert.ok(!text.includes('-0,') && !text.includes('-0}'), text);
    assert.ok(text.length < 64);
  }
});

test('the audience scale stays in 0..1', () => {
  assert.equal(say.scale(1.7).value, 1);
  assert.equal(say.scale(-3).value, 0);
  assert.equal(say.scale(NaN).value, 0);
  assert.equal(say.scale(0.25).value, 0.25);
});

test('a speed limit is never more than was meant, and says nothing of the heights', () => {
  assert.deepEqual(say.limitSpeed('operator', 0.219), { type: 'limit', lane: 'operator', speed: 0.21, floor: null, ceiling: null });
  assert.equal(say.limitSpeed('audience', 0.2).speed, 0.2);
  for (const [asked, said] of [[99, 10], [-1, 0], [NaN, 0], [0.29, 0.29], [0.57, 0.57]]) assert.equal(say.limitSpeed('operator', asked).speed, said);
});

test('the choices are in the order of the tallies', () => {
  assert.deepEqual(CHOICES, ['stay', 'truck-left', 'truck-right', 'dolly-out', 'dolly-in', 'pedestal-down', 'pedestal-up']);
});

test('only objects with a type come through', () => {
  for (const bad of ['', '{', 'null', '1', '"beat"', '[]', '{}', '{"type":1}', '{"Type":"beat"}']) assert.equal(parse(bad), null, bad);
  assert.deepEqual(parse('{"type":"beat","n":3}'), { type: 'beat', n: 3 });
});
