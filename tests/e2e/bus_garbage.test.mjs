// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Core trusts no edge: somebody on the bus who sends rubbish, too much or nothing is counted and dropped.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { assertMoves, assertUntouched, crowdFor, deskFor, keepHolding, later, showFor } from './lib/show.mjs';

/** Node has no SOCK_SEQPACKET; Python, which meson brings along, has. Same seed, same rubbish. */
const rubbish = `
import os, random, socket, sys, time
random.seed(7)
peers = []
for _ in range(8):
    s = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    s.connect(sys.argv[1])
    s.setblocking(False)
    peers.append(s)
end = time.monotonic() + float(sys.argv[2])
sent = 0
while time.monotonic() < end:
    for s in peers[:7]:
        n = random.choice([1, 2, 8, 100, 500, 1024, 1500, 60000])
        head = random.choice([b'', b'\\x01', b'\\x01\\x01', b'\\x01\\x02'])
        try:
            s.send((head + os.urandom(n))[:n])
            sent += 1
        except (BlockingIOError, BrokenPipeError, ConnectionResetError, OSError):
            pass
    time.sleep(0.001)
print(sent)
`;

function sendRubbish(socket, seconds) {
  return new Promise((resolve, reject) => {
    const child = spawn('python3', ['-c', rubbish, socket, String(seconds)], { stdio: ['ignore', 'pipe', 'inherit'] });
    let out = '';
    child.stdout.on('data', (d) => (out += d));
    child.once('error', reject);
    child.once('close', (code) => (code === 0 ? resolve(Number(out)) : reject(new Error(`python3 ended with ${code}`))));
  });
}

test('rubbish on the bus neither moves the camera nor stops the show', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const socket = readdirSync(show.files.state).find((name) => name.endsWith('.sock'));
  assert.ok(socket, 'the bus has its socket in the state folder');
  const desk = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 10);
  await desk.start();
  const sent = await sendRubbish(join(show.files.state, socket), 3);
  assert.ok(sent > 1000, `${sent} frames`);
  assert.equal(desk.scene.state, 'running', `still running: ${JSON.stringify(desk.scene.reason)}`);
  assert.equal(desk.scene.crowd.sticks, 0, 'nobody was believed');
  assert.equal(desk.scene.desk.tick.skipped, 0);
  later(t, keepHolding(viewers, -1, 0, 0));
  await assertMoves(show, 0.1);
  await assertUntouched(show);
});
