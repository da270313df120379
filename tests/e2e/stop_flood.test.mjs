// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// A stop tapped on a phone brings the camera to rest while 300 viewers flood; then nothing but reset and go moves it.
//
// Bounds, on the rig's own clock and place: from where it has heard the stop it brakes from at most 0.2 m/s at 0.6 m/s2:
// 0.33 s and 0.033 m. With the show's 0.08 s of latency the platform goes at most 0.05 m further. The body hangs below
// and swings for a while: the judge's rest waits for that too, for which we allow 2.5 s in all.
import assert from 'node:assert/strict';
import { phone, pageFor, shot } from './lib/browser.mjs';
import { assertKeptTime, assertMoves, assertStaysPut, assertUntouched, crowdFor, deskFor, distance, keepDoing, later, PATIENCE_MS, showFor, sleep, test } from './lib/show.mjs';

const FLOODERS = 300;

/** As fast as this process can and still hear: sticks, votes, rubbish, from every viewer, until told otherwise. */
function flood(viewers) {
  return keepDoing(viewers, 25, (v, i) => {
    v.stick(-1, i % 2 ? 0.2 : -0.2, 0);
    v.vote('truck-left', 1);
    if (i % 10 === 0) v.send({ type: 'noise', i });
  });
}

async function floodedShow(t) {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, FLOODERS);
  await desk.start();
  const before = await show.judge.now();
  later(t, flood(viewers));
  await show.judge.where('the camera at speed', (l) => l.speed > 0.15, PATIENCE_MS, before);
  return { show, desk, viewers };
}

test('a tap on the phone page stops the camera while 300 viewers flood; nothing moves it until reset and go', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const desk = await deskFor(t, show);
  const page = await pageFor(t, `${show.desk}/stop#pass=${show.spotter_pass}`, phone);
  const stop = page.getByRole('button', { name: /stop/i }).first();
  await stop.waitFor();
  await page.getByText('Connected: the stop answers').waitFor();
  const viewers = await crowdFor(t, show, FLOODERS);
  await desk.start();
  const before = await show.judge.now();
  later(t, flood(viewers));
  await show.judge.where('the camera at speed', (l) => l.speed > 0.15, PATIENCE_MS, before);
  await shot(page, 'stop-running');
  const stopsBefore = (await show.judge.now()).stops;

  const heard = show.judge.where('the rig stopped', (l) => l.stopped);
  const tapped = performance.now();
  await stop.tap();
  const stopped = await heard;
  const tapToRig = performance.now() - tapped;
  const rest = await show.judge.where('rest', (l) => l.at_rest, PATIENCE_MS, stopped);
  const seconds = rest.t_s - stopped.t_s;
  assert.ok(tapToRig < 20000, `the rig heard it ${tapToRig} ms after the tap`);
  assert.ok(seconds < 2.5, `by the rig's clock it was at rest ${seconds} s after it had heard the stop`);
  assert.ok(distance(stopped.pos, rest.pos) < 0.05 + 0.02, `the platform went ${distance(stopped.pos, rest.pos)} m on`);
  t.diagnostic(`tap to rig ${tapToRig.toFixed(0)} ms (Chromium and the judge's 50 ms included), to rest ${(1000 * seconds).toFixed(0)} ms more`);
  const scene = await desk.sceneWhere('stopped, confirmed by the rig', (s) => s.state === 'stopped' && s.desk.stop.confirmed);
  assert.equal(scene.reason.code, 'stop-spotter');
  assert.ok((await show.judge.now()).stops > stopsBefore);
  await page.getByText('Camera has stopped (confirmed by the rig).').waitFor();
  await shot(page, 'stop-stopped');

  await desk.take();
  desk.hold(1, 0, 0);
  await assertStaysPut(show, 2000);
  desk.hold(null);
  desk.go();
  await assertStaysPut(show, 600);
  await desk.ready();
  await assertStaysPut(show, 1500);
  desk.go();
  await desk.release();
  await assertMoves(show, 0.05);
  await assertUntouched(show);
});

test('stops from the desk are confirmed by the rig each time, under the same flood', async (t) => {
  const { show, desk } = await floodedShow(t);
  const took = [];
  for (let i = 0; i < 12; i++) {
    took.push(await desk.stop());
    await desk.sceneWhere('stopped', (s) => s.state === 'stopped');
    await desk.start();
    await sleep(150);
  }
  took.sort((a, b) => a - b);
  t.diagnostic(`press to the rig's confirmation: median ${took[6].toFixed(1)} ms, longest ${took[11].toFixed(1)} ms`);
  // How fast it is tests/bench/stop_latency says. This process reads 300 sockets itself, and has neighbours.
  assert.ok(took[0] < 300 && took[6] < 2000, `${took.map((x) => x.toFixed(0))} ms`);
  assertKeptTime(t, desk);
  await assertUntouched(show);
});
