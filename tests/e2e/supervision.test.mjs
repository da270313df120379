// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// What core does when the house around it fails: a second core wants its rig, its folder is gone or takes nothing more, its
// pages are not in memory. Where the machine holds core up meanwhile it stops by itself, which is no failure here.
import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { cp, mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pageFor } from './lib/browser.mjs';
import { assertMoves, assertStaysPut, assertUntouched, crowdFor, Desk, deskFor, freePort, keepHolding, later, PATIENCE_MS, root, showFor, sleep, test, until } from './lib/show.mjs';

const steadyhand = process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');
const blend = (file) => (file.audience.mode = 'blend');
const still = (scene) => ['stopped', 'parked'].includes(scene.state); // parked where another has taken the frozen one's place

/** Another core for the same rig: its own desk port and folder, the same secret, as two of one crew would have. */
async function secondCore(t, show) {
  const state = join(show.files.folder, 'second');
  const file = join(show.files.folder, 'second.json');
  const port = await freePort();
  const config = structuredClone(show.config);
  config.desk.listen.port = port;
  await mkdir(state, { mode: 0o700 });
  await cp(join(show.files.state, 'secret'), join(state, 'secret'));
  await writeFile(file, JSON.stringify(config));
  const child = spawn(steadyhand, ['core', file, '--state', state], { stdio: ['ignore', 'pipe', 'inherit'] });
  const output = { text: '' };
  child.stdout.on('data', (data) => (output.text += data));
  const exited = new Promise((resolve) => child.once('exit', resolve));
  later(t, async () => {
    child.kill('SIGTERM');
    const timer = setTimeout(() => child.kill('SIGKILL'), 10000);
    await exited;
    clearTimeout(timer);
  });
  await until('the second core to be ready', () => output.text.includes('core: ready'), PATIENCE_MS);
  const desk = await Desk.open(`http://127.0.0.1:${port}`, show.operator_pass);
  later(t, () => desk.close());
  return desk;
}

/** Presses reset; the code that it is refused with. */
async function resetRefused(desk) {
  const refused = desk.next('a refusal', (m) => m.type === 'refused' && m.of === 'reset', PATIENCE_MS);
  desk.reset();
  return (await refused).code;
}

test('two cores on one rig: the first keeps it while it lives, the second is told; once the first is frozen they change places', async (t) => {
  const show = await showFor(t, blend);
  const first = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 10);
  await first.start();
  later(t, keepHolding(viewers, -1, 0, 0));
  await assertMoves(show, 0.05);

  const second = await secondCore(t, show);
  await until('the second to be told', async () => (await resetRefused(second)) === 'rig-taken', PATIENCE_MS);
  assert.notEqual(second.scene.rig, 'ok');
  await sleep(1500);
  assert.equal(first.scene.state, 'running', `the first goes on as if nobody had asked: ${JSON.stringify(first.scene.reason)}`);
  assert.equal(second.scene.desk.rig.session, false);

  const { core } = await show.processes();
  process.kill(core, 'SIGSTOP');
  await second.sceneWhere('the rig is the second one\'s', (s) => s.desk.rig.session && s.rig === 'ok', PATIENCE_MS);
  assert.equal(second.scene.state, 'parked', 'it begins parked');
  try {
    process.kill(core, 'SIGCONT');
  } catch {
    // it was taken for dead, and another has taken its place
  }
  const again = await until('the first one\'s desk', () => Desk.open(show.desk, show.operator_pass).catch(() => null), PATIENCE_MS);
  later(t, () => again.close());
  await again.sceneWhere('the first has latched', still, PATIENCE_MS);
  await until('the first to be told', async () => (await resetRefused(again)) === 'rig-taken', PATIENCE_MS);
  await assertStaysPut(show, 1000);
  await second.start();
  assert.ok(still(again.scene), again.scene.state);
  await assertUntouched(show);
});

test('core writes nothing after its start: it runs on when its folder is gone and every file is refused', async (t) => {
  const show = await showFor(t, blend);
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 5);
  later(t, keepHolding(viewers, -1, 0, 0));
  await desk.sceneWhere('the edge on the bus, whose way there is in the folder', (s) => s.crowd.viewers === 5);
  const { core } = await show.processes();
  execFileSync('prlimit', ['--pid', String(core), '--fsize=0:0']); // a byte to a file would end it, by SIGXFSZ
  await rm(show.files.state, { recursive: true });
  await desk.start();
  await assertMoves(show, 0.1);
  await desk.stop();
  await desk.sceneWhere('stopped', (s) => s.state === 'stopped', PATIENCE_MS);
  await desk.start();
  assert.equal((await show.processes()).core, core, 'it is still the same');
  await assertUntouched(show);
});

/** The executable as a plain user has it: no right to real time, and to 64 kB of memory that stays. */
async function unprivileged(t) {
  const folder = await mkdtemp(join(tmpdir(), 'steadyhand-plain-'));
  later(t, () => rm(folder, { recursive: true }));
  const script = join(folder, 'steadyhand');
  const drop = process.getuid() === 0 ? 'setpriv --bounding-set=-all --inh-caps=-all' : '';
  await writeFile(script, `#!/bin/sh\nexec ${drop} prlimit --rtprio=0:0 --memlock=65536:65536 ${steadyhand} "$@"\n`, { mode: 0o755 });
  return script;
}

test('what the system does not grant core is on the desk, in words', async (t) => {
  const show = await showFor(t, blend, { binary: await unprivileged(t) });
  const desk = await deskFor(t, show);
  assert.equal(desk.scene.desk.tick.real_time, false);
  assert.equal(desk.scene.desk.tick.locked, false);
  assert.match(show.output.text, /core: runs without real-time priority/);
  assert.match(show.output.text, /core: memory is not locked/);
  const page = await pageFor(t, `${show.desk}/#pass=${show.operator_pass}`);
  await page.getByText('Core runs without real-time priority and without memory of its own').waitFor();
});

test('the desk is told how punctual core is, and while its memory is locked no tick waits for a page', async (t) => {
  const show = await showFor(t, blend);
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 20);
  later(t, keepHolding(viewers, 1, 0.5, 0));
  await desk.start();
  await sleep(1000); // the last pages that are brought in by use
  const { tick: first } = desk.scene.desk;
  assert.ok(first.late_p50_us <= first.late_p99_us && first.late_p99_us <= first.late_p999_us && first.late_p999_us <= first.late_max_us, JSON.stringify(first));
  const counted = first.late_steps.reduce((a, b) => a + b, 0);
  assert.ok(counted <= first.count && counted > first.count - 50, `${counted} of ${first.count} ticks are in the histogram`);
  if (!first.locked) t.diagnostic('the system does not lock memory here: pages are not asserted');
  let clean = !first.locked;
  for (let tries = 0; tries < 8 && !clean; tries++) { // the kernel may move a page at any time, but not always
    const before = desk.scene.desk.tick;
    await sleep(500);
    clean = desk.scene.desk.tick.page_faults === before.page_faults && desk.scene.desk.tick.count > before.count;
  }
  assert.ok(clean, `page faults go on: ${desk.scene.desk.tick.page_faults}`);
  t.diagnostic(JSON.stringify(desk.scene.desk.tick));
  await show.stop();
  assert.match(show.output.text, /core: ended after \d+ ticks, \d+ skipped; late by \d+ us at half of them/);
});
