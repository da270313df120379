// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The spotter's enabling device: on the stop page with a finger, and on the wire. Whatever ends the touch, the page or the line
// ends the hold.
import assert from 'node:assert/strict';
import { pageFor, phone, shot } from './lib/browser.mjs';
import { Desk, deskFor, later, promptOnce, showFor, sleep, test } from './lib/show.mjs';

const quiet = { mayComplain: /WebSocket connection|ERR_CONNECTION/ };
const surface = (page) => page.locator('#enable');

async function openStop(t, show) {
  const page = await pageFor(t, `${show.desk}/stop#pass=${show.spotter_pass}`, phone, quiet);
  await page.getByText('Hold to allow low flight').waitFor();
  return page;
}

const heldBy = (desk, who) => desk.sceneWhere(`held by ${who}`, (s) => s.desk.spotter === who);

async function press(page) {
  const box = await surface(page).boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
}

test('held with a finger it holds, for longer than a lease; let go it does not', async (t) => {
  const show = await showFor(t);
  const desk = await deskFor(t, show);
  const page = await openStop(t, show);
  await shot(page, 'stop-spotter');
  await press(page);
  await heldBy(desk, 'spotter');
  await page.getByText('LOW FLIGHT ALLOWED. Let go to end it.').waitFor();
  await shot(page, 'stop-holding');
  await promptOnce(t, 'held for longer than a second, let go, and gone', 500, async () => {
    await sleep(2500);
    const lost = desk.scene.desk.spotter === null; // said again while it is held, unless the page was held up
    const since = performance.now();
    await page.mouse.up();
    await heldBy(desk, null);
    const took = performance.now() - since;
    await page.getByText('Hold to allow low flight').waitFor();
    if (!lost && took < 500) return took;
    await press(page);
    await heldBy(desk, 'spotter');
    return Infinity;
  });
});

test('a stop, a page out of sight and a finger that slides off the glass end it; it takes a new touch', async (t) => {
  const show = await showFor(t);
  const desk = await deskFor(t, show);
  const page = await openStop(t, show);
  const ends = [
    ['a stop', () => page.keyboard.press('Enter')],
    ['leaving the window', () => page.evaluate(() => dispatchEvent(new Event('blur')))],
    ['a cancelled touch', () => page.evaluate(() => document.getElementById('enable').dispatchEvent(new PointerEvent('pointercancel', { bubbles: true })))],
  ];
  for (const [what, end] of ends) {
    await press(page);
    await heldBy(desk, 'spotter');
    await end();
    await heldBy(desk, null);
    await sleep(600);
    assert.equal((await desk.sceneWhere('a scene', () => true)).desk.spotter, null, `${what}: the same touch does not hold again`);
    await page.mouse.up();
  }
  await desk.sceneWhere('the stop', (s) => s.desk.stop.count > 1 && s.desk.stop.confirmed);
});

test('by key, and with the keys that stop it still stops', async (t) => {
  const show = await showFor(t);
  const desk = await deskFor(t, show);
  const page = await openStop(t, show);
  await page.keyboard.down('KeyE');
  await heldBy(desk, 'spotter');
  await page.keyboard.up('KeyE');
  await heldBy(desk, null);
  const before = (await desk.sceneWhere('a scene', () => true)).desk.stop.count;
  await surface(page).focus();
  await page.keyboard.press('Space');
  await desk.sceneWhere('a stop', (s) => s.desk.stop.count > before && s.desk.spotter === null);
});

test('only a spotter has the surface', async (t) => {
  const show = await showFor(t);
  const page = await pageFor(t, `${show.desk}/stop#pass=${show.operator_pass}`, phone, quiet);
  await page.getByText('Connected: the stop answers').waitFor();
  assert.equal(await surface(page).isVisible(), false);
  await page.keyboard.down('KeyE');
  const desk = await deskFor(t, show);
  await sleep(300);
  assert.equal((await desk.sceneWhere('a scene', () => true)).desk.spotter, null);
});

test('on the wire: one at a time, lost after a second of silence and with the line, and nobody else may', async (t) => {
  const show = await showFor(t);
  const desk = await deskFor(t, show);
  const [sam, ida] = [await Desk.open(show.desk, show.spotter_pass), await Desk.open(show.desk, show.spotter_pass)];
  later(t, () => ida.close());
  const refused = (who, of) => who.next(`refused ${of}`, (m) => m.type === 'refused' && m.of === of);
  const said = [refused(desk, 'enable'), refused(ida, 'enable')];
  desk.send({ type: 'enable', on: true });
  assert.equal((await said[0]).code, 'not-allowed');
  sam.send({ type: 'enable', on: true });
  const since = performance.now();
  await heldBy(desk, 'spotter');
  ida.send({ type: 'enable', on: true });
  assert.equal((await said[1]).code, 'spotted');
  await heldBy(desk, null);
  const lasted = performance.now() - since;
  assert.ok(lasted > 800, `${lasted} ms; a hold lasts a second`);
  sam.send({ type: 'enable', on: true });
  await heldBy(desk, 'spotter');
  await sam.close();
  await promptOnce(t, 'gone with its line', 700, async () => {
    const next = await Desk.open(show.desk, show.spotter_pass);
    const asked = performance.now();
    next.send({ type: 'enable', on: true });
    await heldBy(desk, 'spotter');
    next.kill();
    await heldBy(desk, null);
    return performance.now() - asked;
  });
});
