// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The desk's port is open to whoever can reach it. However many come without a pass, and whatever they do there, who has
// one gets in and is heard to the last.
import assert from 'node:assert/strict';
import { createRequire } from 'node:module';
import { frame, handshake, Raw } from './lib/raw.mjs';
import { Desk, deskFor, later, PATIENCE_MS, root, showFor, sleep, test } from './lib/show.mjs';

const WebSocket = createRequire(`${root}/package.json`)('ws');

/** Strangers who stay as long as they are let, and come back at once. Returns how many connections there were so far. */
function besiege(t, count, connect) {
  const open = new Set();
  let made = 0;
  let over = false;
  const one = () => {
    if (over) return;
    const socket = connect();
    made++;
    open.add(socket);
    const again = () => open.delete(socket) && setTimeout(one, 5);
    socket.on('close', again);
    socket.on('error', () => {});
  };
  for (let i = 0; i < count; i++) one();
  later(t, () => {
    over = true;
    for (const socket of open) (socket.terminate ?? socket.destroy).call(socket);
  });
  return () => made;
}

const SIEGES = [
  ['400 open WebSockets that say nothing', 400, (show) => new WebSocket(show.desk.replace(/^http/, 'ws') + '/desk', 'steadyhand.desk.1', { origin: show.desk })],
  ['400 connections that say nothing', 400, (show) => new Raw(Number(new URL(show.desk).port)).socket],
  ['400 requests for a page that is never read', 400, (show) => {
    const raw = new Raw(Number(new URL(show.desk).port));
    raw.send('GET /desk.js HTTP/1.1\r\nHost: a\r\n\r\n');
    raw.socket.pause();
    return raw.socket;
  }],
  ['60 WebSockets with a pass that is none', 60, (show) => {
    const socket = new WebSocket(show.desk.replace(/^http/, 'ws') + '/desk', 'steadyhand.desk.1', { origin: show.desk });
    socket.on('open', () => socket.send('{"type":"hello","pass":"sh1.spotter.nobody.1.AAAA"}'));
    return socket;
  }],
];

/** Tries again when it is turned away, as the page does, until it is in or `end` has come. On a machine too busy to say
 * hello at once, it can be the oldest stranger before it has. */
async function openLikeAPage(show, end) {
  for (;;) {
    try {
      return await Desk.open(show.desk, show.spotter_pass);
    } catch (error) {
      if (performance.now() > end) throw error;
      await sleep(100);
    }
  }
}

for (const [name, count, connect] of SIEGES) {
  test(`${name} do not keep out the spotter, nor silence the operator`, async (t) => {
    const show = await showFor(t);
    const operator = await deskFor(t, show);
    const made = besiege(t, count, () => connect(show));
    await sleep(1500);
    assert.ok(made() >= count);
    const took = [];
    for (let i = 0; i < 8; i++) {
      await operator.start();
      const began = performance.now();
      const spotter = await openLikeAPage(show, began + PATIENCE_MS);
      took.push(await spotter.stop());
      await operator.sceneWhere('stopped', (s) => s.state === 'stopped');
      await spotter.close();
    }
    t.diagnostic(`the longest stop took ${Math.max(...took).toFixed(0)} ms`);
    assert.ok(Math.min(...took) < 1000, `stops took ${took.map((x) => x.toFixed(0))} ms`);
    assert.equal(operator.closed, null);
  });
}

test('a stop is heard from who is being closed: silent for too long, or too talkative', async (t) => {
  const show = await showFor(t);
  const operator = await deskFor(t, show);
  const talkative = await Desk.open(show.desk, show.spotter_pass);
  await operator.start();
  for (let i = 0; i < 300; i++) talkative.sendRaw('{"type":"beat","n":1}');
  talkative.sendRaw('{"type":"stop"}');
  await operator.sceneWhere('stopped by the talkative', (s) => s.state === 'stopped');
  assert.equal(operator.scene.reason.code, 'stop-spotter');

  await operator.start();
  const stalled = await Desk.open(show.desk, show.spotter_pass); // a phone whose radio stalls: nothing in, nothing out
  stalled.fallSilent();
  stalled.socket._socket.pause();
  await sleep(11000); // it is given up after 10 s, and then has 3 to take its leave
  assert.equal(operator.scene.state, 'running');
  stalled.sendRaw('{"type":"stop"}');
  await operator.sceneWhere('stopped by the stalled', (s) => s.state === 'stopped');
  stalled.kill();
});

test('nothing but a stop counts from who is being closed', async (t) => {
  const show = await showFor(t);
  const operator = await deskFor(t, show);
  const talkative = await Desk.open(show.desk, show.operator_pass);
  for (let i = 0; i < 300; i++) talkative.sendRaw('{"type":"beat","n":1}');
  talkative.sendRaw('{"type":"take"}');
  talkative.sendRaw('{"type":"mode","mode":"blend"}');
  await sleep(500);
  assert.equal(operator.scene.desk.holder, null);
  assert.equal(operator.scene.mode, 'poll');
});

test('nobody is greeted late: a pass after one that was refused is not looked at', async (t) => {
  const show = await showFor(t);
  const operator = await deskFor(t, show);
  const port = Number(new URL(show.desk).port);
  const raw = await new Raw(port).opened;
  later(t, () => raw.close());
  raw.send(handshake(port, { 'Sec-WebSocket-Protocol': 'steadyhand.desk.1' }, 'GET /desk HTTP/1.1'));
  assert.equal(await raw.status(), 101);
  await operator.start();
  raw.send(Buffer.concat(['{"type":"hello","pass":"x"}', `{"type":"hello","pass":"${show.spotter_pass}"}`, '{"type":"stop"}'].map((m) => frame(1, m))));
  assert.notEqual(await raw.endsWithin(), null);
  assert.equal(operator.scene.state, 'running');
  assert.doesNotMatch(raw.heard.toString('latin1'), /welcome/);
});

test('a page of a host name that is made to stand for this machine gets no socket', async (t) => {
  const show = await showFor(t);
  for (const [base, path, subprotocol] of [[show.desk, '/desk', 'steadyhand.desk.1'], [show.audience, '/audience', 'steadyhand.audience.1']]) {
    const { port } = new URL(base);
    for (const [host, status] of [[`evil.example:${port}`, 403], [`localhost:${port}`, 101], [`127.0.0.1:${port}`, 101]]) {
      const raw = await new Raw(Number(port)).opened;
      later(t, () => raw.close());
      raw.send(handshake(Number(port), { Host: host, Origin: `http://${host}`, 'Sec-WebSocket-Protocol': subprotocol }, `GET ${path} HTTP/1.1`));
      assert.equal(await raw.status(), status, `${host}${path}`);
    }
  }
});
