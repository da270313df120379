// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Run with the executable built for ThreadSanitizer (tests/run does): exercises everything that core's threads share, and
// fails if a single race is reported. Not one of the *.test.mjs, which run at full speed.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { crowdFor, Desk, deskFor, keepHolding, keepVoting, later, showFor, sleep } from './lib/show.mjs';

/** Instrumented code is slow: presence and deadlines are not what is being tested. */
function patient(file) {
  file.desk.presence_timeout_s = 10;
  file.audience.poll.round_s = 1;
}

test('core\'s threads race for nothing while people vote, steer, stop, start, come and go', async (t) => {
  const show = await showFor(t, patient, { timeoutMs: 60000, env: { TSAN_OPTIONS: 'halt_on_error=0 exitcode=0' } });
  const desk = await deskFor(t, show);
  const spotter = await deskFor(t, show, show.spotter_pass);
  const viewers = await crowdFor(t, show, 30);
  later(t, keepVoting(viewers, (_, i) => (i % 4 ? 'truck-left' : 'dolly-in')));
  await sleep(500);
  for (let i = 0; i < 6; i++) {
    await desk.start();
    desk.mode(i % 2 ? 'blend' : 'poll');
    const letGo = keepHolding(viewers, i % 2 ? 1 : -1, 0, 0);
    await sleep(700);
    await desk.take();
    desk.hold(0.5, 0.2, 0);
    await sleep(400);
    await Promise.all([desk.stop(), spotter.stop()]);
    await desk.release();
    letGo();
    const passing = await Desk.open(show.desk, show.spotter_pass);
    passing.kill();
  }
  assert.ok(desk.scene.desk.tick.count > 300, `${desk.scene.desk.tick.count} ticks`);
  const races = show.output.text.match(/WARNING: ThreadSanitizer[\s\S]*?={18}/g) ?? [];
  assert.equal(races.length, 0, races.slice(0, 3).join('\n'));
});
