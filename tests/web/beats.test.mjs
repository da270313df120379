// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load } from './lib/bundle.mjs';

const { Beats, BEAT_MS, LOST_MS } = await load('common/beats.ts');

test('the published timing: a beat every 250 ms, lost at 1 s', () => {
  assert.equal(BEAT_MS, 250);
  assert.equal(LOST_MS, 1000);
});

test('alive only by an answer, and only for a second after the answered beat was sent', () => {
  const b = new Beats();
  assert.equal(b.alive(0), false);
  const n = b.next(0);
  assert.equal(b.alive(1), false, 'sending proves nothing');
  b.echo(n, 40);
  assert.equal(b.alive(999), true);
  assert.equal(b.alive(1000), false);
});

test('a half-open socket, which takes everything and answers nothing, is lost in a second', () => {
  const b = new Beats();
  b.echo(b.next(0), 5);
  let lostAt = 0;
  for (let t = BEAT_MS; t < 3000 && !lostAt; t += BEAT_MS) { b.next(t); if (!b.alive(t)) lostAt = t; }
  assert.equal(lostAt, 1000);
});

test('an answer that took two seconds says that it was alive two seconds ago', () => {
  const b = new Beats();
  const n = b.next(0);
  b.echo(n, 2000);
  assert.equal(b.alive(2000), false);
});

test('answers to beats never sent, answered twice, or of a socket before prove nothing', () => {
  const b = new Beats();
  for (const n of [0, 1, -5, NaN, 1e9]) b.echo(n, 10);
  assert.equal(b.alive(10), false);
  const n = b.next(0);
  b.reset();
  b.echo(n, 20);
  assert.equal(b.alive(20), false);
  assert.equal(b.quality(), null);
});

test('quality: middle and worst of the last answers; memory stays small', () => {
  const b = new Beats();
  for (let i = 0; i < 10_000; i++) b.echo(b.next(i * 250), i * 250 + (i % 10 === 9 ? 90 : 10));
  assert.deepEqual(b.quality(), { medianMs: 10, worstMs: 90 });
  for (let i = 0; i < 10_000; i++) b.next(1e7 + i);
  assert.ok(b.sent.size <= 25);
});
