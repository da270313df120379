// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load } from './lib/bundle.mjs';

const { headKey, summed } = await load('common/headhub.ts');

test('hands against each other are none, two on one axis are one, and axes do not disturb each other', () => {
  assert.deepEqual(summed([]), [0, 0, 0, 0]);
  assert.deepEqual(summed([[1, 0, 0, 0], [-1, 0, 0, 0]]), [0, 0, 0, 0]);
  assert.deepEqual(summed([[1, 0, 0, 0], [1, 0.5, 0, 0], [0, 0, 0, -1]]), [1, 0.5, 0, -1]);
});

test('every key turns one axis, and each direction has one', () => {
  const codes = ['KeyI', 'KeyJ', 'KeyK', 'KeyL', 'KeyU', 'KeyO'];
  for (const code of codes) assert.equal(headKey(code).filter((v) => v !== 0).length, 1, code);
  assert.deepEqual(summed(codes.map(headKey)), [0, 0, 0, 0]);
  for (const other of ['KeyA', 'Escape', 'constructor', '']) assert.equal(headKey(other), null, other);
});
