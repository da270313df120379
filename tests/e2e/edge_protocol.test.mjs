// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// An edge on its own, and what hostile clients send it: every limit holds, nothing stays open for nothing, and whoever
// behaves is served on beside it. RFC 6455 where a section is named.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { frame, handshake, Raw, RawSocket } from './lib/raw.mjs';
import { freePort, modelRailway, promptOnce, root, sleep, until, Viewer } from './lib/show.mjs';

const HANDSHAKE_MS = 2000;
let port, base, edge, folder, ended;

before(async () => {
  folder = await mkdtemp(join(tmpdir(), 'steadyhand-edge-'));
  port = await freePort();
  base = `http://127.0.0.1:${port}`;
  const show = JSON.parse(await readFile(modelRailway, 'utf8'));
  Object.assign(show.audience, { max_viewers: 40, max_per_address: 30, handshake_s: HANDSHAKE_MS / 1000, message_bytes: 256 });
  show.audience.listen.port = port;
  await writeFile(join(folder, 'show.json'), JSON.stringify(show));
  const binary = process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');
  edge = spawn(binary, ['edge', join(folder, 'show.json'), '--state', join(folder, 'state'), '--web', join(root, 'web', 'dist')],
    { stdio: ['ignore', 'pipe', 'inherit'] });
  ended = new Promise((resolve) => edge.once('exit', (code, signal) => resolve({ code, signal })));
  let said = '';
  edge.stdout.on('data', (data) => (said += data));
  await until('the edge to be ready', () => /edge 0: ready/.test(said));
});

after(async () => {
  edge.kill('SIGTERM');
  assert.deepEqual(await ended, { code: 0, signal: null }, 'the edge lived through all of it and ended when told to');
  await rm(folder, { recursive: true });
});

async function raw(t, bytes) {
  const r = await new Raw(port).opened;
  t.after(() => r.close());
  r.send(bytes);
  return r;
}

async function rawSocket(t, change) {
  const r = await RawSocket.open(port, change);
  t.after(() => r.close());
  assert.match(r.head, /^HTTP\/1\.1 101 /);
  return r;
}

/** Somebody well-behaved is served. */
async function assertServes() {
  const viewer = await new Viewer(base).opened;
  const verdict = viewer.next('a verdict', (m) => m.type === 'verdict');
  viewer.letGo();
  assert.equal((await verdict).verdict, 'counted');
  await viewer.close();
}

test('the handshake is answered as published', async (t) => {
  const { input, expect } = JSON.parse(await readFile(join(root, 'tests', 'reference', 'websocket.json'), 'utf8'));
  assert.deepEqual(input, {});
  for (const { key, accept } of expect.rows) {
    const r = await rawSocket(t, { 'Sec-WebSocket-Key': key });
    assert.match(r.head, new RegExp(`sec-websocket-accept: ${accept.replace(/[+/=]/g, '\\$&')}\\r\\n`, 'i'));
    assert.match(r.head, /sec-websocket-protocol: steadyhand\.audience\.1\r\n/i);
    assert.doesNotMatch(r.head, /sec-websocket-extensions/i);
  }
});

test('compression is never agreed to', async (t) => {
  const r = await rawSocket(t, { 'Sec-WebSocket-Extensions': 'permessage-deflate' });
  assert.doesNotMatch(r.head, /extensions/i);
});

const BAD_HANDSHAKES = [
  ['no subprotocol', 400, { 'Sec-WebSocket-Protocol': undefined }],
  ['another subprotocol', 0, { 'Sec-WebSocket-Protocol': 'chat' }],
  ['the desk\'s subprotocol', 0, { 'Sec-WebSocket-Protocol': 'steadyhand.desk.1' }],
  ['no version', 426, { 'Sec-WebSocket-Version': undefined }],
  ['an old version', 426, { 'Sec-WebSocket-Version': '8' }],
  ['no key', 400, { 'Sec-WebSocket-Key': undefined }],
  ['a short key', 400, { 'Sec-WebSocket-Key': 'AAAA' }],
  ['no host', 400, { Host: undefined }],
  ['no origin', 403, { Origin: undefined }],
  ['a null origin', 403, { Origin: 'null' }],
  ['a strange origin', 403, { Origin: 'http://evil.example' }],
  ['another path', 404, {}, 'GET /desk HTTP/1.1'],
  ['HTTP/1.0', 505, {}, 'GET /audience HTTP/1.0'],
  ['POST', 405, {}, 'POST /audience HTTP/1.1'],
  ['HEAD', 405, {}, 'HEAD /audience HTTP/1.1'],
  ['an upgrade to HTTP/2', 0, { Upgrade: 'h2c', Connection: 'Upgrade, HTTP2-Settings', 'HTTP2-Settings': 'AAMAAABkAAQAAP__' }],
  ['HTTP/2 with prior knowledge', 0, {}, 'PRI * HTTP/2.0'],
  ['no Connection: Upgrade', 0, { Connection: 'close' }],
  ['CONNECT', 0, { Upgrade: undefined }, 'CONNECT 127.0.0.1:22 HTTP/1.1'],
];

for (const [name, status, change, line] of BAD_HANDSHAKES) {
  test(`a handshake with ${name} is refused and the connection ended`, async (t) => {
    const r = await raw(t, handshake(port, change, line));
    assert.notEqual(await r.endsWithin(), null, 'it does not stay open');
    const got = await r.status(0);
    assert.notEqual(got, 101);
    if (status !== 0) assert.equal(got, status);
    assert.doesNotMatch(r.heard.toString('latin1'), /SETTINGS|\0\0.\x04/);
  });
}

test('who says nothing, or dribbles, is gone when the time for a handshake is over', async (t) => {
  const silent = await raw(t, '');
  const dribbling = await raw(t, '');
  const text = handshake(port);
  const timer = setInterval(() => dribbling.send(text[dribbling.sent = (dribbling.sent ?? 0) + 1] ?? ''), 30);
  t.after(() => clearInterval(timer));
  for (const r of [silent, dribbling]) {
    const ms = await r.endsWithin();
    assert.notEqual(ms, null, 'it was ended');
  }
});

test('a head that never ends is cut off', async (t) => {
  const r = await raw(t, `GET / HTTP/1.1\r\nHost: a\r\nX: ${'a'.repeat(20000)}`);
  assert.notEqual(await r.endsWithin(), null);
});

test('plain HTTP: pages, health, strict headers, and nothing else', async () => {
  const page = await fetch(`${base}/`);
  assert.equal(page.status, 200);
  assert.equal(await page.text(), await readFile(join(root, 'web', 'dist', 'index.html'), 'utf8'));
  for (const [name, value] of [['x-content-type-options', /nosniff/], ['x-frame-options', /DENY/], ['cache-control', /no-cache/],
    ['referrer-policy', /no-referrer/], ['content-security-policy', /default-src 'self'/]]) {
    assert.match(page.headers.get(name), value, name);
  }
  assert.doesNotMatch(page.headers.get('content-security-policy'), /unsafe|\*|ws:/);
  const again = await fetch(`${base}/`, { headers: { 'If-None-Match': page.headers.get('etag') } });
  assert.equal(again.status, 304);
  const script = await fetch(`${base}/audience.js`);
  assert.deepEqual(Buffer.from(await script.arrayBuffer()), await readFile(join(root, 'web', 'dist', 'audience.js')));
  assert.equal(await (await fetch(`${base}/healthz`)).text(), 'ok');
  assert.equal((await fetch(`${base}/`, { method: 'HEAD' })).status, 200);
  for (const path of ['/nothing', '/..%2f..%2fshow.json', '/.git/config']) assert.equal((await fetch(base + path)).status, 404, path);
  for (const method of ['POST', 'PUT', 'DELETE', 'OPTIONS']) assert.equal((await fetch(`${base}/`, { method })).status, 405, method);
});

test('a request with a body is refused at once', async (t) => {
  for (const field of ['Content-Length: 1000000', 'Content-Length: -5', 'Transfer-Encoding: chunked']) {
    const r = await raw(t, `GET / HTTP/1.1\r\nHost: a\r\n${field}\r\n\r\n`);
    assert.equal(await r.status(), 400, field);
    assert.notEqual(await r.endsWithin(), null, field);
  }
});

const BAD_FRAMES = [
  ['a message one byte too long', 1009, () => frame(1, 'a'.repeat(257))],
  ['a 20 KB message', 1009, () => frame(1, 'a'.repeat(20000))],
  ['a 20 KB message in 200 fragments', 1009, () =>
    Buffer.concat([frame(1, 'a'.repeat(100), { fin: false }), ...Array.from({ length: 199 }, () => frame(0, 'a'.repeat(100), { fin: false }))])],
  ['a frame of 2^62 bytes', 1009, () => frame(1, 'aaaa', { length: 2n ** 62n })],
  ['a binary message', 1003, () => frame(2, 'x')],
  ['text that is not UTF-8', 1007, () => frame(1, Buffer.from([0xff, 0xfe]))],
  ['text cut within a character', 1007, () => frame(1, Buffer.from([0xc3]))],
  ['reserved bits (5.2)', 1002, () => frame(1, 'x', { rsv: 4 })],
  ['a reserved opcode (5.2)', 1002, () => frame(3, 'x')],
  ['a fragmented ping (5.5)', 1002, () => frame(9, 'x', { fin: false })],
  ['a continuation of nothing (5.4)', 1002, () => frame(0, 'x')],
  ['a message within a message (5.4)', 1002, () => Buffer.concat([frame(1, 'x', { fin: false }), frame(1, 'x')])],
  ['a ping of 126 bytes (5.5)', null, () => frame(9, 'a'.repeat(126))],
  ['a frame of 2^63 bytes (5.2)', null, () => frame(1, 'x', { length: 2n ** 63n })],
  ['a Close of one byte (5.5.1)', null, () => frame(8, 'x')],
  ['a Close with a code out of range (7.4)', null, () => frame(8, Buffer.from([0xff, 0xff]))],
];

async function assertEnds(t, code, bytes) {
  const r = await rawSocket(t);
  r.send(bytes);
  if (code !== null) assert.equal(await r.closeCode(), code);
  assert.notEqual(await r.endsWithin(), null, 'it is ended even though the client never answers');
  assert.equal(r.messages.filter((m) => m.type === 'verdict').length, 0, 'nothing of it was acted on');
  await assertServes();
}

test('frames that RFC 6455 or the show forbids end their connection, and nobody else\'s', { concurrency: true }, (t) =>
  Promise.all(BAD_FRAMES.map(([name, code, bytes]) =>
    t.test(code === null ? name : `${name}: ${code}`, (t2) => assertEnds(t2, code, bytes())))));

test('fragments, a ping between them and split characters make one message (5.4)', async (t) => {
  const r = await rawSocket(t);
  r.send(frame(1, '{"type":', { fin: false }));
  r.send(frame(9, 'still there?'));
  await sleep(50);
  r.send(frame(0, '"rel', { fin: false }));
  r.send(frame(0, '', { fin: false }));
  r.send(frame(0, 'ease"}'));
  assert.deepEqual(await r.verdict(), { type: 'verdict', of: 'release', verdict: 'counted', answers: 1 });
  assert.ok(r.frames.some((f) => f.opcode === 10 && f.payload.toString() === 'still there?'), 'the ping was answered');
});

test('a Close is answered and the connection ended (5.5.1)', async (t) => {
  const r = await rawSocket(t);
  r.send(frame(8, Buffer.from([0x03, 0xe8])));
  assert.equal(await r.closeCode(), 1000);
  assert.notEqual(await r.endsWithin(), null);
});

test('a flood of pings and of wishes from some leaves the others served', async (t) => {
  const pings = Buffer.concat(Array.from({ length: 2000 }, () => frame(9)));
  const wishes = Buffer.concat(Array.from({ length: 500 }, () => frame(1, '{"type":"vote","round":1,"choice":"stay"}')));
  const flooders = await Promise.all(Array.from({ length: 6 }, () => rawSocket(t)));
  const stop = performance.now() + 1500;
  const flooding = Promise.all(flooders.map(async (r, i) => {
    while (performance.now() < stop && !r.ended) {
      if (!r.socket.write(i % 2 ? pings : wishes)) await new Promise((resolve) => (r.socket.once('drain', resolve), setTimeout(resolve, 100)));
      await sleep(1);
    }
  }));
  for (let i = 0; i < 5; i++) await assertServes();
  await flooding;
  for (const r of flooders) r.close();
  await assertServes();
});

test('every wish is answered exactly once, however fast they come', async (t) => {
  const r = await rawSocket(t);
  const count = 400;
  const wish = frame(1, '{"type":"vote","round":1,"choice":"stay"}');
  r.send(Buffer.concat(Array.from({ length: count }, () => wish)));
  const answered = () => r.messages.filter((m) => m.type === 'verdict').reduce((sum, m) => sum + m.answers, 0);
  assert.ok(await r.hears(() => answered() >= count), `${answered()} of ${count}`);
  await sleep(200);
  assert.equal(answered(), count);
  const verdicts = r.messages.filter((m) => m.type === 'verdict');
  assert.ok(verdicts.length < count / 4, `${verdicts.length} answers for ${count} wishes`);
  assert.ok(verdicts.some((v) => v.verdict === 'limited'));
});

test('who reads nothing costs nothing and is still there', async (t) => {
  const r = await rawSocket(t);
  r.socket.pause();
  for (let i = 0; i < 50; i++) r.send(frame(1, '{"type":"vote","round":1,"choice":"stay"}'));
  await sleep(500);
  await assertServes();
  r.socket.resume();
  assert.ok(await r.verdict(), 'it hears what it missed, newest first');
});

test('one address has its share and no more', async () => {
  const viewers = [];
  let turnedAway = 0;
  for (let i = 0; i < 36; i++) {
    const viewer = new Viewer(base);
    const told = viewer.next('welcome or Close', (m) => m.type === 'welcome' || m.type === 'closed');
    await viewer.opened;
    if ((await told).type === 'closed') {
      turnedAway++;
      assert.equal(viewer.closed.code, 4001);
    } else viewers.push(viewer);
  }
  assert.equal(viewers.length, 30);
  assert.equal(turnedAway, 6);
  await Promise.all(viewers.map((v) => v.close()));
  await until('room again', async () => assertServes().then(() => true, () => false));
});

test('connections that never become sessions are capped too', async (t) => {
  await promptOnce(t, '80 connections made, and those too many turned away', HANDSHAKE_MS, async () => {
    const began = performance.now();
    const idle = await Promise.all(Array.from({ length: 80 }, () => raw(t, 'GET / HTTP/1.1\r\n')));
    await until('those too many to be gone', () => idle.filter((r) => !r.ended).length <= 60);
    await sleep(100);
    const kept = idle.filter((r) => !r.ended).length;
    const took = performance.now() - began;
    for (const r of idle) assert.notEqual(await r.endsWithin(), null, 'all of them are gone after the handshake time');
    if (took < HANDSHAKE_MS) assert.ok(kept >= 30 && kept <= 60, `${kept} kept`);
    return took;
  });
  await assertServes();
});

test('while core is not there a viewer is told so, and wishes are refused', async () => {
  const viewer = new Viewer(base);
  const notice = viewer.next('the notice', (m) => m.type === 'notice');
  await viewer.opened;
  assert.equal((await notice).code, 'core-lost');
  assert.ok(viewer.room, 'the room can be drawn all the same');
  const verdict = viewer.next('a verdict', (m) => m.type === 'verdict');
  viewer.vote('stay', 1);
  assert.equal((await verdict).code, 'core-lost');
  await viewer.close();
});
