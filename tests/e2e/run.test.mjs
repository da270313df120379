// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// `steadyhand run` and `check` as a host meets them: start, end, and what goes wrong.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { get } from 'node:http';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { modelRailway, root, showFor, startShow, test, until } from './lib/show.mjs';

const binary = process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');

function alive(pid) {
  try {
    return !/^State:\s*Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'));
  } catch {
    return false;
  }
}

function fetchStatus(url) {
  return new Promise((resolve, reject) =>
    get(url, (r) => {
      let body = '';
      r.on('data', (d) => (body += d));
      r.on('end', () => resolve({ status: r.statusCode, body, headers: r.headers }));
    }).on('error', reject),
  );
}

for (const signal of ['SIGINT', 'SIGTERM']) {
  test(`${signal} ends the show and all it started, with status 0`, async () => {
    const show = await startShow();
    const pids = Object.values(await show.processes()).flat();
    assert.ok(pids.length >= 3 && pids.every(alive), `core, edge, rig: ${pids}`);
    show.child.kill(signal);
    assert.deepEqual(await show.exited, { code: 0, signal: null });
    await until('all processes to be gone', () => pids.every((pid) => !alive(pid)));
    await show.stop();
  });
}

test('when run itself is killed, nothing it started lives on', async () => {
  const show = await startShow();
  const pids = Object.values(await show.processes()).flat();
  show.child.kill('SIGKILL');
  await show.exited;
  await until('all processes to be gone', () => pids.every((pid) => !alive(pid)));
  await show.stop();
});

test('a port in use is said, with the address, and the show does not start', async () => {
  const squatter = createServer();
  await new Promise((resolve) => squatter.listen(0, '127.0.0.1', resolve));
  const { port } = squatter.address();
  for (const which of ['audience', 'desk']) {
    await assert.rejects(
      startShow({ ports: { [which]: port } }),
      (e) => e.message.includes(`${port}`) && /in use|already/i.test(e.message),
      which,
    );
  }
  squatter.close();
});

test('what it serves: the pages, a health answer, no more', async (t) => {
  const show = await showFor(t);
  for (const [base, path, words] of [[show.audience, '/', '<html'], [show.desk, '/', '<html'], [show.desk, '/stop', '<html']]) {
    const r = await fetchStatus(base + path);
    assert.equal(r.status, 200, base + path);
    assert.ok(r.body.includes(words));
    assert.match(r.headers['content-security-policy'] ?? '', /default-src 'none'|default-src 'self'/);
    assert.doesNotMatch(r.headers['content-security-policy'], /unsafe-inline|unsafe-eval/);
  }
  for (const base of [show.audience, show.desk]) {
    const health = await fetchStatus(base + '/healthz');
    assert.equal(health.status, 200);
    assert.equal(health.body.trim(), 'ok');
    assert.equal((await fetchStatus(base + '/../secret')).status, 404);
    assert.equal((await fetchStatus(base + '/nothing-here')).status, 404);
  }
});

test('the state folder is its owner\'s alone', async (t) => {
  const show = await showFor(t);
  assert.equal(statSync(show.files.state).mode & 0o777, 0o700);
  for (const name of readdirSync(show.files.state)) {
    const mode = statSync(join(show.files.state, name)).mode & 0o077;
    assert.ok(name.endsWith('.sock') || mode === 0, `${name} has mode ${mode.toString(8)}`);
  }
});

test('check names every error with its place, and says so in its status', async (t) => {
  const show = await showFor(t);
  const ok = spawnSync(binary, ['check', modelRailway], { encoding: 'utf8' });
  assert.equal(ok.status, 0, ok.stderr);
  const bad = JSON.parse(readFileSync(modelRailway, 'utf8'));
  bad.room.home_m = [5.7, 3.6, 1.0];
  bad.rig.brake_mps2 = -1;
  bad.audience.colour = 'blue';
  const file = join(show.files.folder, 'bad.json');
  writeFileSync(file, JSON.stringify(bad, null, 2));
  const r = spawnSync(binary, ['check', file], { encoding: 'utf8' });
  assert.equal(r.status, 1);
  for (const pointer of ['/room/home_m', '/rig/brake_mps2', '/audience/colour']) assert.ok(r.stderr.includes(pointer) || r.stdout.includes(pointer), pointer + '\n' + r.stderr);
  assert.equal(spawnSync(binary, ['check', join(show.files.folder, 'none.json')]).status, 2);
  const run = spawnSync(binary, ['run', file, '--state', join(show.files.folder, 's2')], { encoding: 'utf8', timeout: 60000 });
  assert.ok(run.status > 0, 'a show file with errors does not start');
});
