// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The desk in a real browser: everything an operator does with hands on a pointer and a keyboard.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { pageFor, phone, shot } from './lib/browser.mjs';
import { assertMoves, assertStaysPut, assertUntouched, crowdFor, Desk, keepHolding, later, restWithin, showFor, until } from './lib/show.mjs';

async function openDesk(t, show, device) {
  const page = await pageFor(t, `${show.desk}/#pass=${show.operator_pass}`, device);
  await page.getByText('operator, operator').waitFor();
  return page;
}

const stateWord = (page) => page.locator('header .stateword').innerText();

/** The stop bar answers as soon as it is pressed. It holds still for no longer than a press. */
const stopButton = (page) => page.locator('.stopbar button');

async function hold(page, locator, ms) {
  await locator.hover();
  await page.mouse.down();
  await page.waitForTimeout(ms);
  await page.mouse.up();
}

async function resetAndGo(page) {
  await page.getByRole('button', { name: /reset/i }).click();
  await until('Ready', async () => (await stateWord(page)) === 'Ready');
  await hold(page, page.getByRole('button', { name: /go/i }).first(), 1300);
  await until('Live', async () => (await stateWord(page)) === 'Live');
}

test('an operator resets, holds go, takes control, steers by key and pointer, stops by key', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'closed'));
  const page = await openDesk(t, show);
  assert.equal(await stateWord(page), 'Stopped');
  await shot(page, 'desk-stopped');

  await page.getByRole('button', { name: /reset/i }).click();
  await until('Ready', async () => (await stateWord(page)) === 'Ready');
  const go = page.getByRole('button', { name: /go/i }).first();
  await hold(page, go, 300);
  await page.waitForTimeout(400);
  assert.equal(await stateWord(page), 'Ready', 'a short press is no go');
  await hold(page, go, 1300);
  await until('Live', async () => (await stateWord(page)) === 'Live');

  await page.getByRole('button', { name: 'Take control' }).click();
  await page.getByText('You have control.').waitFor();
  const stick = page.getByRole('application', { name: /stick/i });
  await stick.focus();
  const start = (await show.judge.where('the camera', () => true)).pos;
  await page.keyboard.down('ArrowLeft');
  await assertMoves(show, 0.3);
  await shot(page, 'desk-live');
  await page.keyboard.up('ArrowLeft');
  await restWithin(show, 3500); // let go it comes to rest gently: jerk, and the shaper against swing
  assert.ok((await show.judge.now()).pos[0] < start[0] - 0.25, 'left is left');

  const box = await stick.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height * 0.15, { steps: 5 });
  const before = (await show.judge.now()).pos;
  await assertMoves(show, 0.2);
  assert.ok((await show.judge.now()).pos[1] > before[1] + 0.15, 'up on the stick is in');
  await page.mouse.up();
  await restWithin(show, 3500);

  await stick.focus();
  await page.keyboard.down('ArrowRight');
  await assertMoves(show, 0.1);
  await page.keyboard.press('Escape');
  await until('Stopped', async () => (await stateWord(page)) === 'Stopped', 1500);
  await page.getByText('Stop confirmed by the rig').waitFor();
  await restWithin(show, 2000);
  await assertStaysPut(show, 1000);
  await page.keyboard.up('ArrowRight');
  await shot(page, 'desk-after-stop');
  await assertUntouched(show);
});

test('STOP by pointer needs no hold and works from every state; the page shows whose turn it is', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const page = await openDesk(t, show);
  const viewers = await crowdFor(t, show, 10);
  later(t, keepHolding(viewers, -1, 0, 0));
  await resetAndGo(page);
  await page.getByText('The audience is steering').first().waitFor();
  await assertMoves(show, 0.1);
  await stopButton(page).hover();
  await page.mouse.down();
  await until('Stopped', async () => (await stateWord(page)) === 'Stopped', 1500);
  await page.mouse.up();
  await restWithin(show, 2000);
  await page.getByRole('button', { name: /reset/i }).click();
  await until('Ready', async () => (await stateWord(page)) === 'Ready');
  await stopButton(page).click();
  await until('Stopped again', async () => (await stateWord(page)) === 'Stopped', 1500);
});

test('the audience is closed, opened and slowed from the desk', async (t) => {
  const show = await showFor(t);
  const page = await openDesk(t, show);
  const [viewer] = await crowdFor(t, show, 1);
  await page.getByRole('radio', { name: /closed/i }).check({ force: true });
  await viewer.sceneWhere('closed', (s) => s.mode === 'closed');
  await page.getByRole('radio', { name: /blend/i }).check({ force: true });
  await viewer.sceneWhere('blend', (s) => s.mode === 'blend');
  await page.getByRole('button', { name: '50', exact: true }).click();
  await viewer.sceneWhere('half speed', (s) => Math.abs(s.scale - 0.5) < 1e-6);
});

test('when core is gone the desk says so at once, in words, and comes back by itself', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'closed'), {});
  const page = await pageFor(t, `${show.desk}/#pass=${show.operator_pass}`, undefined, { mayComplain: /WebSocket connection|ERR_CONNECTION/ });
  await page.getByText('operator, operator').waitFor();
  const { core } = await show.processes();
  process.kill(core, 'SIGSTOP');
  await page.getByText('NOT CONNECTED – STOP HERE DOES NOTHING').waitFor({ timeout: 2500 });
  await shot(page, 'desk-dead');
  process.kill(core, 'SIGKILL');
  await until('a new core', async () => (await show.processes()).core !== core, 10000);
  await page.getByText('operator, operator').waitFor({ timeout: 10000 });
  assert.equal(await stateWord(page), 'Stopped');
});

test('a second desk sees who holds control and cannot take it; a bad pass gets a reason', async (t) => {
  const show = await showFor(t);
  const holder = await Desk.open(show.desk, show.operator_pass);
  later(t, () => holder.close());
  await holder.take();
  const page = await openDesk(t, show, phone);
  await page.getByText('operator has control.').waitFor();
  assert.ok(await page.getByRole('button', { name: 'Take control' }).isDisabled());
  await shot(page, 'desk-phone');
  const refused = await pageFor(t, `${show.desk}/#pass=sh1.operator.x.1.AAAAAAAAAAA.AAAA`);
  await refused.getByText(/pass was not accepted/).waitFor();
});
