// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The executable's command line, and passes made by hand.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { root } from './lib/show.mjs';

const binary = process.env.STEADYHAND ?? process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');
const folder = mkdtempSync(join(tmpdir(), 'steadyhand-verbs-'));
after(() => rmSync(folder, { recursive: true }));
const show = join(root, 'tests', 'unit', 'show', 'good.json');

test('the command line: what is not understood is told, with status 2', () => {
  const run = (...args) => spawnSync(binary, args, { encoding: 'utf8', timeout: 60000 });
  for (const [args, says] of [
    [[], /expected a verb, found nothing/],
    [['fly'], /expected a verb, found "fly"/],
    [['check'], /expected a show file/],
    [['check', show, show], /takes one show file/],
    [['check', show, '--colour'], /does not know the option --colour/],
    [['check', show, '--state', 'x'], /does not know the option --state/],
    [['run', show, '--lan'], /--lan: expected ADDRESS after it/],
    [['run', show, '--lan', 'localhost'], /this machine's own IPv4 address.*found "localhost"/],
    [['run', show, '--quiet=yes'], /--quiet: expected no value/],
    [['pass', show, '--hours', '1e3'], /--hours: expected a whole number from 1 to 744/],
    [['check', join(folder, 'none.json')], /No such file/],
    [['check', folder], /not a regular file/],
  ]) {
    const r = run(...args);
    assert.equal(r.status, 2, `${args.join(' ')}: ${r.stderr}`);
    assert.match(r.stderr, says);
    assert.equal(r.stdout, '');
  }
  assert.match(run('--help').stdout, /steadyhand VERB SHOW\.json[^]*run[^]*rig-sim/);
  assert.match(run('pass', '--help').stdout, /--role ROLE/);
  assert.match(run('--version').stdout, /^steadyhand \d+\.\d+\.\d+\n$/);
});

test('a pass is one line for scripts, and opens the page of its role', () => {
  const state = join(folder, 'state');
  const pass = (...args) =>
    spawnSync(binary, ['pass', show, '--state', state, ...args], { encoding: 'utf8' });
  const spotter = pass('--role', 'spotter', '--name', 'sam');
  assert.equal(spotter.status, 0, spotter.stderr);
  assert.match(spotter.stdout, /^sh1\.spotter\.sam\.\d+\.[\w-]{11}\.[\w-]{43}\n$/);
  assert.ok(spotter.stderr.includes(`http://127.0.0.1:8081/stop#pass=${spotter.stdout.trim()}`));
  const desk = pass('--role', 'operator', '--name', 'dana', '--hours', '1');
  assert.match(desk.stderr, /8081\/#pass=sh1\.operator\.dana\./);
  assert.ok(Math.abs(Number(desk.stdout.split('.')[3]) - Date.now() / 1000 - 3600) < 30);
  assert.match(pass('--role', 'king').stderr, /expected viewer, moderator, spotter or operator/);
  assert.equal(pass('--role', 'operator', '--name', 'Dana!').status, 2);
});
