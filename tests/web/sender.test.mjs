// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load, seeded } from './lib/bundle.mjs';

const { StickSender } = await load('common/sender.ts');
const limits = { minGapMs: 250, renewMs: 400 };

test('a push goes out at once, is renewed while held, and letting go goes out at once, once', () => {
  const s = new StickSender(limits);
  assert.equal(s.step([0, 0, 0], 0), 'nothing');
  assert.equal(s.step([1, 0, 0], 10), 'send');
  assert.equal(s.step([1, 0, 0], 400), 'nothing');
  assert.equal(s.step([1, 0, 0], 410), 'send');
  assert.equal(s.step([0, 0, 0], 420), 'release');
  assert.equal(s.step([0, 0, 0], 9999), 'nothing');
});

test('a change waits for the gap', () => {
  const s = new StickSender(limits);
  s.step([1, 0, 0], 0);
  assert.equal(s.step([0, 1, 0], 249), 'nothing');
  assert.equal(s.step([0, 1, 0], 250), 'send');
});

test('told to wait, it waits, but never to let go', () => {
  const s = new StickSender(limits);
  s.step([1, 0, 0], 0);
  s.holdOff(2000);
  assert.equal(s.step([0, 1, 0], 1999), 'nothing');
  assert.equal(s.step([0, 1, 0], 2000), 'send');
  s.holdOff(9000);
  assert.equal(s.step([0, 0, 0], 2100), 'release');
});

test('a new connection hears nothing of the old one: no release, no renewal', () => {
  const s = new StickSender(limits);
  s.step([1, 0, 0], 0);
  s.forget();
  assert.equal(s.step([0, 0, 0], 500), 'nothing');
});

test('a restless hand over ten minutes: the lease never lapses, the rate is never passed', () => {
  const random = seeded(5);
  const s = new StickSender(limits);
  const tick = 50;
  let stick = [0, 0, 0], lastSend = -Infinity, held = false, sends = 0;
  for (let now = 0; now < 600_000; now += tick) {
    if (random() < 0.2) stick = random() < 0.3 ? [0, 0, 0] : [random() * 2 - 1, random() * 2 - 1, 0];
    const action = s.step(stick, now);
    const pushed = stick.some((v) => v !== 0);
    if (action === 'send') {
      assert.ok(pushed);
      if (held) assert.ok(now - lastSend >= limits.minGapMs, `two changes ${now - lastSend} ms apart`);
      lastSend = now;
      held = true;
      sends++;
    }
    if (action === 'release') { assert.ok(held && !pushed); held = false; }
    assert.equal(held, pushed, 'what the gateway believes is what the hand does');
    if (held) assert.ok(now - lastSend < limits.renewMs, 'the lease would lapse');
  }
  assert.ok(sends > 1000);
});
