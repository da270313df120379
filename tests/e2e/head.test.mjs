// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The head, from a desk to the simulated motors: it turns while it is asked to, keeps its limits, goes home, and a stop
// stops it too.
import assert from 'node:assert/strict';
import { pageFor, shot } from './lib/browser.mjs';
import { Desk, deskFor, keepDoing, later, PATIENCE_MS, showFor, sleep, test, until } from './lib/show.mjs';

const DEG = Math.PI / 180;
const PAN = 0, TILT = 1;
const still = { pan: 0, tilt: 0, roll: 0, zoom: 0 };

function withHead(file) {
  file.audience.mode = 'closed';
  file.rig.head = {
    lens: { hfov_wide_deg: 70, vfov_wide_deg: 42 },
    pan: { min_deg: -60, max_deg: 60, home_deg: 0, speed_degps: 30, accel_degps2: 60, jerk_degps3: 600 },
    tilt: { min_deg: -80, max_deg: 10, home_deg: -20, speed_degps: 20, accel_degps2: 40, jerk_degps3: 400 },
    zoom: { max: 4, home: 1, speed_per_s: 1, accel_per_s2: 2, jerk_per_s3: 20 },
    cross_s: 0,
  };
}

async function begin(t) {
  const show = await showFor(t, withHead);
  const desk = await deskFor(t, show);
  await desk.sceneWhere('a head', (s) => s.head !== null);
  desk.take();
  await desk.sceneWhere('a holder', (s) => s.desk.you_hold);
  await desk.start();
  return { show, desk };
}

/** Asks for these rates again and again, until the returned function is called. */
const turning = (desk, rates) => keepDoing([desk], 100, (d) => d.send({ type: 'head', ...still, ...rates }));

const truth = async (show) => (await show.judge.now()).head;

/** The head comes to rest within three seconds of the rig's own time since that line of the judge, or since now. */
async function headRests(show, since) {
  const from = since ?? (await show.judge.now());
  let still = from;
  await show.judge.where('the head still for 0.4 s', (l) => {
    if (l.head.some((angle, axis) => Math.abs(angle - still.head[axis]) > 1e-3)) still = l;
    return l.t_s - still.t_s >= 0.4;
  }, PATIENCE_MS, from);
  assert.ok(still.t_s - from.t_s < 3, `the head was at rest after ${still.t_s - from.t_s} s`);
}

test('turns while asked, rests when let go and when the desk falls silent, and says where it is', async (t) => {
  const { show, desk } = await begin(t);
  assert.ok(Math.abs((await truth(show))[TILT] + 20 * DEG) < 0.01, 'begins at home');
  const letGo = turning(desk, { pan: 1, zoom: 0.5 });
  await until('a pan', async () => (await truth(show))[PAN] > 15 * DEG);
  letGo();
  desk.send({ type: 'head', ...still });
  await headRests(show);
  const [pan, tilt, roll, zoom] = await truth(show);
  assert.ok(zoom > 1.2 && Math.abs(tilt + 20 * DEG) < 0.01 && roll === 0, `${[pan, tilt, roll, zoom]}`);
  const { head } = await desk.next('a scene', (m) => m.type === 'scene');
  assert.ok(Math.abs(head.pan_deg - pan / DEG) < 1 && Math.abs(head.zoom - zoom) < 0.05, JSON.stringify(head));
  desk.send({ type: 'head', ...still, tilt: -1 }); // said once, and never again
  await until('a tilt down', async () => (await truth(show))[TILT] < tilt - 2 * DEG);
  await headRests(show);
  const fell = (tilt - (await truth(show))[TILT]) / DEG;
  assert.ok(fell > 5 && fell < 30, `a lease of 1 s at 20 deg/s: ${fell} deg`);
});

test('rests at the end of an axis, short of its mechanical stop, and finds home from there', async (t) => {
  const { show, desk } = await begin(t);
  const letGo = turning(desk, { pan: -1, tilt: -1 });
  await until('the ends', async () => { const h = await truth(show); return h[PAN] < -58 * DEG && h[TILT] < -78 * DEG; });
  await headRests(show);
  letGo();
  for (const line of show.judge.lines) {
    assert.ok(line.head[PAN] > -60.5 * DEG && line.head[TILT] > -80.5 * DEG, JSON.stringify(line.head));
  }
  desk.send({ type: 'head', ...still });
  desk.send({ type: 'head-home' });
  await until('home', async () => { const h = await truth(show); return Math.abs(h[PAN]) < 1 * DEG && Math.abs(h[TILT] + 20 * DEG) < 1 * DEG; });
  await headRests(show);
});

test('a stop stops the head; a rate held over a go turns nothing; nobody but the holder turns it', async (t) => {
  const { show, desk } = await begin(t);
  later(t, turning(desk, { pan: 0.5 }));
  await until('a pan', async () => (await truth(show))[PAN] > 5 * DEG);
  const before = await show.judge.now();
  await desk.stop();
  await headRests(show, await show.judge.where('the rig stopped', (l) => l.stopped, PATIENCE_MS, before));
  const [pan] = await truth(show);
  await desk.start();
  await sleep(800);
  assert.ok(Math.abs((await truth(show))[PAN] - pan) < 0.01, 'still held from before');
  const other = await Desk.open(show.desk, show.operator_pass);
  later(t, () => other.close());
  for (const message of [{ type: 'head', ...still, pan: 1 }, { type: 'head-home' }]) {
    const answer = other.next('a refusal', (m) => m.type === 'refused' && m.of === message.type);
    other.send(message);
    assert.equal((await answer).code, 'not-held');
  }
});

test('on the page: buttons while they are held, keys, and home', async (t) => {
  const show = await showFor(t, withHead);
  const page = await pageFor(t, `${show.desk}/#pass=${show.operator_pass}`);
  await page.getByText('operator, operator').waitFor();
  const left = page.getByRole('button', { name: '◀ Pan' });
  assert.ok(await left.isDisabled(), 'not before control and go');
  await page.getByRole('button', { name: 'Take control' }).click();
  const helper = await deskFor(t, show);
  await helper.start();
  await until('enabled', () => left.isEnabled());
  await left.hover();
  await page.mouse.down();
  await until('a pan to the left', async () => (await truth(show))[PAN] > 10 * DEG);
  await shot(page, 'desk-head');
  await page.mouse.up();
  await headRests(show);
  await left.focus();
  await page.keyboard.down('KeyK');
  await until('a tilt down', async () => (await truth(show))[TILT] < -30 * DEG);
  await page.keyboard.up('KeyK');
  await headRests(show);
  await page.getByRole('button', { name: 'Home' }).click();
  await until('home', async () => { const h = await truth(show); return Math.abs(h[PAN]) < 1 * DEG && Math.abs(h[TILT] + 20 * DEG) < 1 * DEG; });
});
