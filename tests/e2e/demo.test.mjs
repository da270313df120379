// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The demo as its command runs it after building: an evening in small, its summary, its end, and what it refuses.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { freePort, root } from './lib/show.mjs';

const state = mkdtempSync(join(tmpdir(), 'steadyhand-demo-'));
after(() => rmSync(state, { recursive: true }));

/** Two ports in a row that were free a moment ago; the rig's, one further, is UDP. */
async function portBase() {
  for (;;) {
    const base = await freePort();
    if (base < 65000 && (await free(base + 1))) return base;
  }
}

function free(port) {
  return new Promise((resolve) => {
    const probe = createServer();
    probe.once('error', () => resolve(false));
    probe.listen(port, '127.0.0.1', () => probe.close(() => resolve(true)));
  });
}

function demo(...args) {
  const child = spawn('node', [join(root, 'deploy', 'lib', 'demo.mjs'), ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
    env: { ...process.env, STEADYHAND_STATE: state },
  });
  const run = { child, output: '' };
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (d) => (run.output += d));
  run.ended = new Promise((resolve) => child.once('close', (code) => resolve(code)));
  return run;
}

test('a whole evening with a crowd and a scripted operator ends well, and says how it went', async () => {
  const run = demo('--for', '20s', '--crowd', '100', '--port-base', String(await portBase()));
  assert.equal(await run.ended, 0, run.output);
  for (const words of [/rounds decided +[1-9]/, /intents sent +[1-9]\d\d+/, /ticks clamped, by reason +\S/, /stops +([1-9]\d*) pressed, \1 confirmed by the rig, \1 ended at rest/,
    /press to rig confirmed +median [\d.]+ ms/, /touches: 0/, /All was well\./]) assert.match(run.output, words);
});

test('Ctrl-C ends it, well', async () => {
  const run = demo('--crowd', '10', '--port-base', String(await portBase()));
  await new Promise((resolve) => {
    run.child.stdout.on('data', () => run.output.includes('viewers have come') && resolve());
    run.ended.then(resolve);
  });
  run.child.kill('SIGINT');
  assert.equal(await run.ended, 0, run.output);
  assert.match(run.output, /desk +http:\/\/127\.0\.0\.1:\d+\/#pass=sh1\.operator\./, 'whoever tries it out gets in');
});

test('a port in use and options that mean nothing are said in words, before anything starts', async () => {
  const squatter = createServer();
  await new Promise((resolve) => squatter.listen(0, '127.0.0.1', resolve));
  const { port } = squatter.address();
  const taken = demo('--port-base', String(port));
  assert.equal(await taken.ended, 2);
  assert.match(taken.output, new RegExp(`Port ${port} .*--port-base`));
  squatter.close();
  for (const args of [['--lan', '300.1.1.1'], ['--for', 'ever'], ['--crowd', '-3'], ['--crowd', '1e9'], ['--port-base', '80'], ['--fast'], ['--for', '2s']]) {
    const run = demo(...args);
    assert.equal(await run.ended, 2, args.join(' '));
    assert.match(run.output, /expected|Unknown option|argument|not an address/i);
    assert.ok(!run.output.includes('ready'));
  }
});
