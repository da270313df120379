// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load, seeded } from './lib/bundle.mjs';

const { Track, hermite } = await load('common/track.ts');
const near = (a, b, eps = 1e-9) => a.forEach((v, i) => assert.ok(Math.abs(v - b[i]) <= eps, `${a} is not ${b}`));
const still = (t, pos) => ({ t, pos, vel: [0, 0, 0] });

test('the curve goes through both ends and reproduces any cubic exactly', () => {
  // p(s) = s^3 - 2 s^2 + 3 s + 1, p'(s) = 3 s^2 - 4 s + 3; a cubic Hermite is exact for cubics.
  const p = (s) => s ** 3 - 2 * s ** 2 + 3 * s + 1;
  const v = (s) => 3 * s ** 2 - 4 * s + 3;
  const at = (s) => ({ t: s * 1000, pos: [p(s), 2 * p(s), -p(s)], vel: [v(s), 2 * v(s), -v(s)] });
  const [a, b] = [at(0.5), at(0.9)];
  near(hermite(a, b, 500), a.pos);
  near(hermite(a, b, 900), b.pos);
  for (const s of [0.55, 0.6, 0.7, 0.85]) near(hermite(a, b, s * 1000), at(s).pos);
});

test('the drawing never goes beyond the newest scene', () => {
  const track = new Track(160);
  track.push({ t: 0, pos: [1, 0, 0], vel: [1, 0, 0] }, 1000);
  track.push({ t: 100, pos: [1.1, 0, 0], vel: [1, 0, 0] }, 1100);
  near(track.at(1210), [1.05, 0, 0]);
  for (const late of [1260, 1500, 100000]) near(track.at(late), [1.1, 0, 0]);
});

test('jitter of delivery does not shake the picture: shown time runs evenly', () => {
  const random = seeded(7);
  const track = new Track(250);
  const speed = 0.2;
  let arrival = 0;
  const shown = [];
  for (let t = 0; t <= 5000; t += 100) {
    arrival = Math.max(arrival, 5000 + t + random() * 80); // up to 80 ms late, in order
    track.push({ t, pos: [speed * (t / 1000), 0, 0], vel: [speed, 0, 0] }, arrival);
    if (t >= 1000) for (let f = 0; f < 6; f++) shown.push([5000 + t + f * 16, track.at(5000 + t + f * 16)[0]]);
  }
  for (let i = 1; i < shown.length; i++) {
    const want = speed * ((shown[i][0] - shown[i - 1][0]) / 1000);
    assert.ok(Math.abs(shown[i][1] - shown[i - 1][1] - want) < 0.003, 'an uneven step');
  }
});

test('a gap is not invented: the picture jumps, and the trail begins after it', () => {
  const track = new Track(100);
  track.push(still(0, [0, 0, 0]), 0);
  track.push(still(100, [0, 0, 0]), 100);
  track.push(still(3000, [4, 0, 0]), 3000);
  track.push(still(3100, [4, 1, 0]), 3100);
  near(track.at(1600), [4, 0, 0]);
  assert.deepEqual(track.trail(), [[4, 0, 0], [4, 1, 0]]);
});

test('another core, whose clock starts again, starts the picture again', () => {
  const track = new Track(100);
  track.push(still(900000, [1, 1, 1]), 1000);
  track.push(still(50, [2, 2, 2]), 2000);
  near(track.at(2150), [2, 2, 2]);
  assert.equal(track.trail().length, 1);
});

test('what is not new changes nothing; before the first scene there is nothing', () => {
  const track = new Track(100);
  assert.equal(track.at(0), undefined);
  track.push(still(10, [1, 1, 1]), 0);
  track.push(still(10, [9, 9, 9]), 50);
  near(track.newest().pos, [1, 1, 1]);
});

test('a long show keeps a short memory', () => {
  const track = new Track(100);
  for (let t = 0; t < 120_000; t += 100) track.push(still(t, [0, 0, 0]), t);
  assert.ok(track.trail().length <= 62);
});
