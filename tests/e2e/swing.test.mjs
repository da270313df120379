// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The verb `swing`: frequency and damping from a recording, and every way in which a recording can be wrong.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { root } from './lib/show.mjs';

const binary = process.env.STEADYHAND ?? process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');
const folder = mkdtempSync(join(tmpdir(), 'steadyhand-swing-'));
after(() => rmSync(folder, { recursive: true }));
const railway = join(root, 'deploy', 'shows', 'model-railway.json');
const heading = 't_s,tilt_x_deg,tilt_y_deg';

function swing(...lines) {
  const file = join(folder, 'record.csv');
  writeFileSync(file, `${lines.join('\n')}\n`);
  return { file, ...spawnSync(binary, ['swing', railway, '--record', file], { cwd: folder, encoding: 'utf8', timeout: 60000 }) };
}

/** Free decay of a linear pendulum: exp(-zeta omega t) cos(omega_d t), a textbook's closed form; 0.1 deg of noise. */
function decay(hz, zeta, seconds, dt = 0.01) {
  const omega = 2 * Math.PI * hz, damped = omega * Math.sqrt(1 - zeta * zeta);
  let seed = 7;
  const noise = () => (((seed = (seed * 48271) % 2147483647) / 2147483647) * 2 - 1) * 0.1;
  return Array.from({ length: Math.round(seconds / dt) }, (_, i) => {
    const q = 8 * Math.exp(-zeta * omega * i * dt) * Math.cos(damped * i * dt);
    return [(i * dt).toFixed(3), (0.8 * q + 0.5 + noise()).toFixed(3), (0.6 * q - 0.2 + noise()).toFixed(3)].join(',');
  });
}

test('frequency, damping and the sensor at rest, as the show file takes them', () => {
  const r = swing(heading, ...decay(0.84, 0.06, 12));
  assert.equal(r.status, 0, r.stderr);
  const [, hz, damping] = r.stdout.match(/"frequency_hz": ([\d.]+), "damping": ([\d.]+)/).map(Number);
  assert.ok(Math.abs(hz - 0.84) < 0.003, r.stdout);
  assert.ok(Math.abs(damping - 0.06) < 0.004, r.stdout);
  assert.match(r.stdout, /at rest +0\.\d+ deg towards x, -0\.\d+ deg towards y/);
  assert.ok(!existsSync(join(folder, '.steadyhand')), 'it starts nothing, and leaves nothing behind');
  assert.match(r.stdout, /boom_m +0\.350 m would swing at 0\.84\d\d Hz/);
});

test('a recording that says nothing of a swing is refused with what to do', () => {
  const still = swing(heading, ...decay(0.84, 0.06, 1));
  assert.equal(still.status, 1);
  assert.match(still.stderr, /record\.csv: .+/);
  assert.equal(still.stdout, '');
});

test('a line that is not as it should be is named', () => {
  const good = decay(0.84, 0.06, 2);
  for (const [lines, says] of [
    [['time,x,y', ...good], /record\.csv:1: expected the heading t_s,tilt_x_deg,tilt_y_deg, found "time,x,y"/],
    [[heading, ...good.slice(0, 5), '0.05,1'], /record\.csv:7: expected three numbers, .+ found "0\.05,1"/],
    [[heading, ...good.slice(0, 5), '0.05,nan,1'], /record\.csv:7: expected three numbers/],
    [[heading, ...good.slice(0, 5), '0.05,1,2,3'], /record\.csv:7: expected three numbers/],
    [[heading, ...good.slice(0, 5), '0.09,1,2'], /record\.csv:7: expected times that rise by the same step/],
    [[heading, '0,1,2', '0,1,2'], /record\.csv:3: expected times that rise/],
    [[heading, 'x'.repeat(300)], /record\.csv:2: expected three numbers/],
  ]) {
    const r = swing(...lines);
    assert.equal(r.status, 1, r.stderr);
    assert.match(r.stderr, says);
  }
});

test('what is left out, or not there, is told', () => {
  const without = spawnSync(binary, ['swing', railway], { encoding: 'utf8' });
  assert.equal(without.status, 2);
  assert.match(without.stderr, /expected --record FILE/);
  const none = spawnSync(binary, ['swing', railway, '--record', join(folder, 'none.csv')], { encoding: 'utf8' });
  assert.equal(none.status, 2);
  assert.match(none.stderr, /--record: expected a file that can be read, found ".*none\.csv" \(No such file or directory\)/);
});
