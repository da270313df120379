// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Core trusts no edge: somebody on the bus who sends rubbish, too much or nothing is counted and dropped.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { assertKeptTime, assertMoves, assertUntouched, crowdFor, deskFor, keepHolding, later, showFor, test, until } from './lib/show.mjs';

/** Node has no SOCK_SEQPACKET; Python, which meson brings along, has. Same seed, same rubbish. */
const rubbish = `
import os, random, socket, sys, time
random.seed(7)
def connect():
    s = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    s.connect(sys.argv[1])
    s.setblocking(False)
    return s
peer, sent, turned_away = connect(), 0, 0
end = time.monotonic() + float(sys.argv[2])
while time.monotonic() < end:
    n = random.choice([1, 2, 8, 100, 500, 1024, 1500, 60000])
    head = random.choice([b'', b'\\x01', b'\\x01\\x01', b'\\x01\\x02'])
    try:
        peer.send((head + os.urandom(n))[:n])
        sent += 1
    except BlockingIOError:
        pass
    except OSError:
        turned_away += 1
        peer.close()
        peer = connect()
    time.sleep(0.0005)
print(sent, turned_away)
`;

function sendRubbish(socket, seconds) {
  return new Promise((resolve, reject) => {
    const child = spawn('python3', ['-c', rubbish, socket, String(seconds)], { stdio: ['ignore', 'pipe', 'inherit'] });
    let out = '';
    child.stdout.on('data', (d) => (out += d));
    child.once('error', reject);
    child.once('close', (code) => (code === 0 ? resolve(out.trim().split(' ').map(Number)) : reject(new Error(`python3 ended with ${code}`))));
  });
}

async function showWithBus(t) {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const name = readdirSync(show.files.state).find((n) => n.endsWith('.sock'));
  assert.ok(name, 'the bus has its socket in the state folder');
  const desk = await deskFor(t, show);
  await desk.start();
  return { show, desk, bus: join(show.files.state, name) };
}

function assertUnimpressed(t, desk) {
  assert.equal(desk.scene.state, 'running', `still running: ${JSON.stringify(desk.scene.reason)}`);
  assert.equal(desk.scene.crowd.sticks, 0, 'nobody was believed');
  assertKeptTime(t, desk);
}

test('rubbish beside a living edge neither moves the camera nor stops the show; the edge is still heard', async (t) => {
  const { show, desk, bus } = await showWithBus(t);
  const [sent, turnedAway] = await sendRubbish(bus, 2);
  assert.ok(sent + turnedAway > 500, `${sent} frames, ${turnedAway} times turned away`);
  assertUnimpressed(t, desk);
  later(t, keepHolding(await crowdFor(t, show, 10), -1, 0, 0));
  await assertMoves(show, 0.1);
});

test('rubbish in a dead edge\'s place neither moves the camera nor stops the show; the next edge is heard', async (t) => {
  const { show, desk, bus } = await showWithBus(t);
  const edge = (await show.processes()).edges[0];
  process.kill(show.child.pid, 'SIGSTOP'); // nobody starts the next edge yet
  later(t, () => show.child.kill('SIGCONT'));
  process.kill(edge, 'SIGKILL');
  await desk.sceneWhere('the edge gone', (s) => s.crowd.edges === 0);
  const [sent] = await sendRubbish(bus, 3);
  assert.ok(sent > 1000, `${sent} frames`);
  assertUnimpressed(t, desk);
  process.kill(show.child.pid, 'SIGCONT');
  await until('a new edge', async () => (await show.processes()).edges[0] !== edge);
  later(t, keepHolding(await crowdFor(t, show, 10), -1, 0, 0));
  await assertMoves(show, 0.1);
  await assertUntouched(show);
});
