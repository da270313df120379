// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// A stop that the rig does not confirm: it becomes one of category 0, every page says so, and going on asks for arming.
import assert from 'node:assert/strict';
import { pageFor, phone } from './lib/browser.mjs';
import { assertStaysPut, assertUntouched, deskFor, later, showFor, test, until } from './lib/show.mjs';

const LOUD = /^STOP NOT CONFIRMED/;
const loud = (page) => page.getByText(LOUD).filter({ visible: true });

test('a rig that is frozen while it is stopped: loud on every page, power off once it hears it, armed anew', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'closed'));
  const desk = await deskFor(t, show);
  const pages = [
    await pageFor(t, `${show.desk}/#pass=${show.operator_pass}`),
    await pageFor(t, `${show.desk}/stop#pass=${show.spotter_pass}`, phone),
    await pageFor(t, show.audience, phone),
  ];
  await desk.start();
  for (const page of pages) {
    await page.getByText('Live', { exact: true }).first().waitFor();
    assert.equal(await loud(page).count(), 0);
  }
  const { rig_sim } = await show.processes();
  later(t, () => {
    try {
      process.kill(rig_sim, 'SIGCONT');
    } catch {
      // it has ended meanwhile
    }
  });
  process.kill(rig_sim, 'SIGSTOP');
  desk.send({ type: 'stop' });
  const scene = await desk.sceneWhere('unconfirmed', (s) => s.unconfirmed);
  assert.equal(scene.category, 0);
  assert.equal(scene.reason.code, 'stop-unconfirmed');
  for (const page of pages) await loud(page).first().waitFor();

  process.kill(rig_sim, 'SIGCONT');
  await desk.sceneWhere('confirmed at last', (s) => s.state === 'stopped' && !s.unconfirmed && s.desk.stop.confirmed);
  for (const page of pages) await loud(page).first().waitFor({ state: 'hidden' });
  await show.judge.where('the drives without power', (l) => !l.powered && l.at_rest);
  const still = await desk.sceneWhere('category 0 stays', (s) => s.rig === 'ok' && s.at_rest && !s.powered);
  assert.equal(still.category, 0, 'a stop becomes no less severe');
  await until('parked', () => {
    desk.reset(); // overtaken where the machine has stopped it anew
    return desk.sceneWhere('parked', (s) => s.state === 'parked', 1000).catch(() => null);
  });
  desk.go();
  await assertStaysPut(show, 500);
  await desk.start();
  await assertUntouched(show);
});
