// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The service file: what it promises fits what the programs do, and systemd, where it is installed, understands all of it.
import assert from 'node:assert/strict';
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { root } from '../../deploy/lib/show_process.mjs';

const text = readFileSync(join(root, 'deploy', 'systemd', 'steadyhand@.service'), 'utf8');
const value = (key) => text.split('\n').filter((line) => line.startsWith(`${key}=`)).map((line) => line.slice(key.length + 1)).at(-1);
const constant = (file, name) => Number(new RegExp(`\\b${name} = (\\d+)`).exec(readFileSync(join(root, file), 'utf8'))[1]);

test('it is watched by beats that `run` passes on, and waits longer than `run` itself does', () => {
  assert.equal(value('Type'), 'notify');
  assert.equal(value('NotifyAccess'), 'main');
  const again = 5; // most that run waits before it starts a child again, and its start: s
  assert.ok(Number(value('WatchdogSec')) >= constant('gateway/run/watch.h', 'WATCH_SILENT_S') + 2 * again);
});

test('it comes back after a failure, and asks for real time and memory', () => {
  assert.equal(value('Restart'), 'on-failure');
  assert.ok(Number(value('LimitRTPRIO')) >= constant('gateway/core/realtime.h', 'REALTIME_TICK'));
  assert.equal(value('LimitMEMLOCK'), 'infinity');
  assert.notEqual(value('RestrictRealtime'), 'yes');
});

test('the command line is one that `run` takes', () => {
  const binary = process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');
  const words = value('ExecStart').split(' ');
  const help = execFileSync(binary, [words[1], '--help'], { encoding: 'utf8' });
  for (const option of words.filter((w) => w.startsWith('--'))) assert.ok(help.includes(`${option} `), option);
});

test('systemd understands it', (t) => {
  const folder = mkdtempSync(join(tmpdir(), 'steadyhand-unit-'));
  try {
    const unit = join(folder, 'steadyhand@show.service');
    writeFileSync(unit, text.replace('/usr/local/bin/steadyhand', '/bin/true'));
    const verdict = spawnSync('systemd-analyze', ['verify', unit], { encoding: 'utf8' });
    if (verdict.error) return t.skip('systemd-analyze is not installed');
    const about = `${verdict.stdout}${verdict.stderr}`.split('\n').filter((line) => line.includes('steadyhand@'));
    assert.deepEqual(about, []);
    assert.equal(verdict.status, 0, verdict.stderr);
  } finally {
    rmSync(folder, { recursive: true });
  }
});
