// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load } from './lib/bundle.mjs';

const { Hold } = await load('common/hold.ts');

test('held for the whole time it acts exactly once', () => {
  const h = new Hold(1000);
  h.press(0);
  assert.equal(h.done(999), false);
  assert.equal(h.done(1000), true);
  assert.equal(h.done(1001), false);
  assert.equal(h.progress(500), 0.5);
});

test('letting go starts it afresh; two halves are not a whole', () => {
  const h = new Hold(1000);
  h.press(0);
  h.letGo();
  assert.equal(h.done(5000), false);
  h.press(5000);
  assert.equal(h.done(5600), false);
  h.letGo();
  h.press(5700);
  assert.equal(h.done(6600), false);
  assert.equal(h.done(6700), true);
});

test('a key that repeats while held does not start it afresh', () => {
  const h = new Hold(1000);
  h.press(0);
  h.press(900);
  assert.equal(h.done(1000), true);
});
