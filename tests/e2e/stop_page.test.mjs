// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The stop page where things are not as they should be: it must never look alive when it is not, nor say "stopped" before
// the rig has.
import assert from 'node:assert/strict';
import { pageFor, phone, shot } from './lib/browser.mjs';
import { deskFor, later, showFor, test, until } from './lib/show.mjs';

const DEAD = 'NOT CONNECTED – STOP HERE DOES NOTHING';
const ALIVE = 'Connected: the stop answers';
const quiet = { mayComplain: /WebSocket connection|ERR_CONNECTION/ };

const openStop = (t, show, pass = show.spotter_pass) => pageFor(t, `${show.desk}/stop#pass=${pass}`, phone, quiet);
const stopButton = (page) => page.getByRole('button', { name: /stop/i });

function freeze(t, pid) {
  process.kill(pid, 'SIGSTOP');
  const thaw = () => {
    try {
      process.kill(pid, 'SIGCONT');
    } catch {
      // it has ended meanwhile
    }
  };
  later(t, thaw);
  return thaw;
}

test('a frozen core: the page says so, claims no stop, and comes back by itself', async (t) => {
  const show = await showFor(t);
  const page = await openStop(t, show);
  await page.getByText(ALIVE).waitFor();
  const thaw = freeze(t, (await show.processes()).core);
  const since = performance.now();
  await page.getByText(DEAD).waitFor();
  t.diagnostic(`said so after ${(performance.now() - since).toFixed(0)} ms`);
  await stopButton(page).tap();
  await page.getByText('Not sent. Use the wired emergency stop.').waitFor();
  await shot(page, 'stop-dead');
  thaw();
  await page.getByText(ALIVE).waitFor();
});

test('a frozen rig: the stop is sent but not called confirmed, until it is', async (t) => {
  const show = await showFor(t);
  const desk = await deskFor(t, show);
  const page = await openStop(t, show);
  await page.getByText(ALIVE).waitFor();
  await desk.start();
  const thaw = freeze(t, (await show.processes()).rig_sim);
  await stopButton(page).tap();
  await page.getByText('Not confirmed yet. Use the wired emergency stop.').waitFor();
  assert.equal(await page.getByText(/confirmed by the rig/).count(), 0);
  await shot(page, 'stop-unconfirmed');
  thaw();
  await page.getByText(/confirmed by the rig/).waitFor();
});

test('by key, by the operator\'s pass, and again after the show went on', async (t) => {
  const show = await showFor(t);
  const desk = await deskFor(t, show);
  const page = await openStop(t, show, show.operator_pass);
  await page.getByText(ALIVE).waitFor();
  for (const key of ['Enter', 'Space']) {
    await desk.start();
    await page.getByText('Live', { exact: true }).waitFor();
    await stopButton(page).focus();
    await page.keyboard.press(key);
    await desk.sceneWhere(`stopped by ${key}`, (s) => s.state === 'stopped' && s.reason.code === 'stop-operator');
    await page.getByText(/confirmed by the rig/).waitFor();
  }
});

test('a killed core: not connected, then connected to the new one, which is parked', async (t) => {
  const show = await showFor(t);
  const page = await openStop(t, show);
  await page.getByText(ALIVE).waitFor();
  const { core } = await show.processes();
  process.kill(core, 'SIGKILL');
  await page.getByText(DEAD).waitFor();
  await until('a new core', async () => (await show.processes()).core !== core);
  await page.getByText(ALIVE).waitFor();
  await page.getByText('Parked', { exact: true }).waitFor();
});

test('without a pass, or with a bad one, it is dead and says what is missing', async (t) => {
  const show = await showFor(t);
  const none = await pageFor(t, `${show.desk}/stop`, phone, quiet);
  await none.getByText(DEAD).waitFor();
  await none.getByText(/pass/i).first().waitFor();
  const bad = await openStop(t, show, 'sh1.spotter.x.1.AAAAAAAAAAA.AAAA');
  await bad.getByText(/pass/i).first().waitFor();
  await bad.getByText(DEAD).waitFor();
  await shot(bad, 'stop-no-pass');
});
