// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The socket that reconnects, against a browser made of paper: its clock is turned by hand.
import assert from 'node:assert/strict';
import { afterEach, beforeEach, test } from 'node:test';
import { load } from './lib/bundle.mjs';
import { FakeClock } from './lib/clock.mjs';

const { Link } = await load('common/link.ts');
const { StickHub } = await load('common/stickhub.ts');

let clock, sockets, listeners, opened, states, heard;

class PaperSocket {
  static OPEN = 1;
  constructor(url, protocol) { Object.assign(this, { url, protocol, readyState: 0, sent: [], closed: false }); sockets.push(this); }
  send(text) { this.sent.push(JSON.parse(text)); }
  close() { this.closed = true; this.readyState = 3; }
  open() { this.readyState = 1; this.onopen?.(); }
  say(message) { this.onmessage?.({ data: JSON.stringify(message) }); }
  die(code = 1006) { this.readyState = 3; this.onclose?.({ code, reason: '' }); }
}

const fire = (name) => (listeners[name] ?? []).forEach((fn) => fn());

beforeEach(() => {
  clock = new FakeClock();
  [sockets, listeners, opened, states, heard] = [[], {}, 0, [], []];
  const listen = (name, fn) => (listeners[name] ??= []).push(fn);
  Object.assign(globalThis, { WebSocket: PaperSocket, addEventListener: listen, document: { hidden: false, addEventListener: listen } });
  globalThis.location = { href: 'https://show.example/cam/', protocol: 'https:' };
});
afterEach(() => clock.restore());

function link(over = {}) {
  return new Link({
    path: 'audience', protocol: 'p.1', backoff: { baseMs: 800, capMs: 15000 }, silenceMs: 3000, finalCodes: [4003],
    onOpen: () => opened++, onMessage: (m) => heard.push(m), onState: (s) => states.push(s.is), ...over,
  });
}

test('it speaks TLS from a TLS page, under the page\'s own path, with its subprotocol', () => {
  link();
  assert.equal(sockets[0].url, 'wss://show.example/cam/audience');
  assert.equal(sockets[0].protocol, 'p.1');
});

test('nothing is kept for later: what could not be sent is gone', () => {
  const l = link();
  assert.equal(l.send({ type: 'vote' }), false);
  sockets[0].open();
  assert.deepEqual(sockets[0].sent, []);
  assert.equal(l.send({ type: 'release' }), true);
  assert.deepEqual(sockets[0].sent, [{ type: 'release' }]);
});

test('waits grow while the gateway is away, and start small again once it has spoken', () => {
  link();
  const waits = [];
  for (let i = 0; i < 6; i++) {
    const from = clock.now, before = sockets.length;
    sockets.at(-1).die();
    while (sockets.length === before) clock.advance(10);
    waits.push(clock.now - from);
  }
  for (let i = 0; i < 6; i++) assert.ok(waits[i] <= Math.min(15000, 800 * 2 ** i) + 10, `${waits}`);
  assert.ok(waits[5] >= 3000, `${waits}`);
  sockets.at(-1).open();
  sockets.at(-1).say({ type: 'room' });
  const from = clock.now, before = sockets.length;
  sockets.at(-1).die();
  while (sockets.length === before) clock.advance(10);
  assert.ok(clock.now - from <= 810);
});

test('a socket that is open and silent is given up; its late words are not heard', () => {
  link();
  sockets[0].open();
  sockets[0].say({ type: 'room' });
  clock.advance(2900);
  assert.equal(sockets.length, 1);
  clock.advance(1500);
  assert.ok(sockets[0].closed);
  assert.equal(states.at(-1) === 'waiting' || sockets.length > 1, true);
  const before = heard.length;
  sockets[0].say({ type: 'scene' });
  assert.equal(heard.length, before);
});

test('a page that wakes up starts over at once if it has heard nothing, and keeps a living socket', () => {
  link();
  sockets[0].open();
  sockets[0].say({ type: 'room' });
  fire('visibilitychange');
  assert.equal(sockets.length, 1, 'alive: kept');
  clock.sleep(60_000);
  fire('pageshow');
  assert.equal(sockets.length, 2, 'silent for a minute: replaced without waiting');
});

test('some ends are final', () => {
  const l = link();
  sockets[0].die(4003);
  clock.advance(120_000);
  fire('visibilitychange');
  assert.equal(sockets.length, 1);
  assert.equal(states.at(-1), 'closed');
  l.restart();
  assert.equal(sockets.length, 2);
});

test('the stick is let go when the window loses the focus or is hidden', () => {
  for (const [event, hidden] of [['blur', false], ['pagehide', false], ['visibilitychange', true]]) {
    const hub = new StickHub();
    hub.set('keys', [1, 0, 0]);
    hub.set('field', [0, 0.5, 0]);
    assert.notDeepEqual(hub.value.value, [0, 0, 0]);
    document.hidden = hidden;
    fire(event);
    assert.deepEqual(hub.value.value, [0, 0, 0], event);
  }
});
