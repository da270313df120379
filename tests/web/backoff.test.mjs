// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load, seeded } from './lib/bundle.mjs';

const { backoffMs } = await load('common/backoff.ts');
const limits = { baseMs: 500, capMs: 10_000 };

test('the ceiling doubles and stays at the cap, for any number of tries', () => {
  assert.deepEqual([0, 1, 2, 3, 4, 5, 6].map((n) => backoffMs(n, limits, 1)), [500, 1000, 2000, 4000, 8000, 10000, 10000]);
  for (const n of [100, 1023, 1024, 1e9]) assert.equal(backoffMs(n, limits, 1), 10_000);
});

test('never shorter than a fifth of the ceiling, never longer, whatever the random source says', () => {
  for (const r of [-1, 0, 0.5, 1, 2]) {
    const ms = backoffMs(2, limits, r);
    assert.ok(ms >= 400 && ms <= 2000, `${ms}`);
  }
});

test('a thousand viewers lost at once come back spread out', () => {
  const random = seeded(11);
  const bins = new Array(8).fill(0);
  for (let i = 0; i < 1000; i++) bins[Math.min(7, Math.floor((backoffMs(4, limits, random()) - 1600) / 800))]++;
  for (const n of bins) assert.ok(n > 75 && n < 180, `bins ${bins}`);
});
