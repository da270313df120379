// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The desk in a real browser: everything an operator does with hands on a pointer and a keyboard.
import assert from 'node:assert/strict';
import { pageFor, phone, shot } from './lib/browser.mjs';
import { assertMoves, assertStaysPut, assertUntouched, crowdFor, Desk, keepHolding, later, restOf, showFor, test, until } from './lib/show.mjs';

async function openDesk(t, show, device) {
  const page = await pageFor(t, `${show.desk}/#pass=${show.operator_pass}`, device);
  await page.getByText('operator, operator').waitFor();
  return page;
}

const stateWord = (page) => page.locator('header .stateword').innerText();

/** The stop bar answers as soon as it is pressed. It holds still for no longer than a press. */
const stopButton = (page) => page.locator('.stopbar button');

const stateIs = (page, word) => until(word, async () => (await stateWord(page)) === word);

async function hold(page, locator, ms) {
  await locator.hover();
  await page.mouse.down();
  await page.waitForTimeout(ms);
  await page.mouse.up();
}

const button = (page, name) => page.getByRole('button', { name });

/** Guarded ones are held down once they are there to be held. */
async function guarded(page, name, word) {
  await until(`${name} to be there`, () => button(page, name).isEnabled());
  await hold(page, button(page, name), 1300);
  await until(word, async () => (await stateWord(page)) === word);
}

async function armAndGo(page) {
  await guarded(page, /^Arm/, 'Armed');
  await hold(page, button(page, /^Go/), 1300);
  await until('Live', async () => (await stateWord(page)) === 'Live');
}

test('an operator arms, holds go, takes control, steers by key and pointer, stops by key', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'closed'));
  const page = await openDesk(t, show);
  assert.equal(await stateWord(page), 'Parked');
  await shot(page, 'desk-parked');

  await until('arming to be there', () => button(page, /^Arm/).isEnabled());
  await hold(page, button(page, /^Arm/), 300);
  await page.waitForTimeout(400);
  assert.equal(await stateWord(page), 'Parked', 'a short press does not arm');
  await guarded(page, /^Arm/, 'Armed');
  const go = button(page, /^Go/);
  await hold(page, go, 300);
  await page.waitForTimeout(400);
  assert.equal(await stateWord(page), 'Armed', 'a short press is no go');
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
  await restOf(show); // let go it comes to rest gently: jerk, and the shaper against swing
  assert.ok((await show.judge.now()).pos[0] < start[0] - 0.25, 'left is left');

  const box = await stick.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height * 0.15, { steps: 5 });
  const before = (await show.judge.now()).pos;
  await assertMoves(show, 0.2);
  assert.ok((await show.judge.now()).pos[1] > before[1] + 0.15, 'up on the stick is in');
  await page.mouse.up();
  await restOf(show);

  await stick.focus();
  await page.keyboard.down('ArrowRight');
  await assertMoves(show, 0.1);
  await page.keyboard.press('Escape');
  await stateIs(page, 'Stopped');
  await page.getByText('Stop confirmed by the rig').waitFor();
  await restOf(show);
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
  await armAndGo(page);
  await page.getByText('The audience is steering').first().waitFor();
  await assertMoves(show, 0.1);
  await stopButton(page).hover();
  await page.mouse.down();
  await stateIs(page, 'Stopped');
  await page.mouse.up();
  await restOf(show);
  await button(page, /^Reset/).click();
  await until('Armed', async () => (await stateWord(page)) === 'Armed');
  await stopButton(page).click();
  await stateIs(page, 'Stopped');
});

test('hold keeps it still under power without a stop, go moves on, and park takes the power off', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const page = await openDesk(t, show);
  const viewers = await crowdFor(t, show, 10);
  later(t, keepHolding(viewers, -1, 0, 0));
  await armAndGo(page);
  await assertMoves(show, 0.1);
  assert.ok(await button(page, /^Park/).isDisabled(), 'not in motion');
  await button(page, /^Hold/).click();
  await until('Held', async () => (await stateWord(page)) === 'Held');
  await restOf(show);
  await shot(page, 'desk-held');
  assert.ok((await show.judge.now()).powered, 'by the rig itself');
  await assertStaysPut(show, 1000);
  await hold(page, button(page, /^Go/), 1300);
  await until('Live', async () => (await stateWord(page)) === 'Live');
  await assertMoves(show, 0.05);
  await button(page, /^Hold/).click();
  await button(page, /^Park/).click();
  await until('Parked', async () => (await stateWord(page)) === 'Parked');
  await show.judge.where('the drives without power', (l) => !l.powered);
  await assertStaysPut(show, 1000);
  await assertUntouched(show);
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
  await page.getByText('NOT CONNECTED – STOP HERE DOES NOTHING').waitFor();
  await shot(page, 'desk-dead');
  process.kill(core, 'SIGKILL');
  await until('a new core', async () => (await show.processes()).core !== core);
  await page.getByText('operator, operator').waitFor();
  assert.equal(await stateWord(page), 'Parked');
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
