// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// What no well-behaved library would send: a plain TCP connection, requests and WebSocket frames (RFC 6455) byte by byte.
import { connect } from 'node:net';
import { PATIENCE_MS, sleep } from './show.mjs';

export const KEY = 'dGhlIHNhbXBsZSBub25jZQ=='; // RFC 6455, section 1.3

/** A TCP connection: everything heard so far, and whether it has ended. */
export class Raw {
  heard = Buffer.alloc(0);
  ended = false;

  constructor(port) {
    this.socket = connect(port, '127.0.0.1');
    this.socket.setNoDelay(true);
    this.socket.on('data', (data) => (this.heard = Buffer.concat([this.heard, data])));
    for (const event of ['end', 'close', 'error']) this.socket.on(event, () => (this.ended = true));
    this.opened = new Promise((resolve) => this.socket.once('connect', () => resolve(this)));
  }

  send(bytes) {
    if (!this.socket.destroyed) this.socket.write(bytes);
  }

  /** Milliseconds until the other side ends it; null if it does not within `timeoutMs`. */
  async endsWithin(timeoutMs = PATIENCE_MS) {
    const began = performance.now();
    while (!this.ended && performance.now() - began < timeoutMs) await sleep(10);
    return this.ended ? performance.now() - began : null;
  }

  /** Waits until `wanted` finds something in what was heard; null after `timeoutMs`, or when it ends without. */
  async hears(wanted, timeoutMs = PATIENCE_MS) {
    const end = performance.now() + timeoutMs;
    for (;;) {
      const found = wanted(this);
      if (found) return found;
      if (this.ended || performance.now() > end) return null;
      await sleep(5);
    }
  }

  /** Status of the answer to a request, 0 if there is none. */
  async status(timeoutMs = PATIENCE_MS) {
    const line = await this.hears((r) => /^HTTP\/1\.[01] (\d{3}) /.exec(r.heard.toString('latin1')), timeoutMs);
    return line ? Number(line[1]) : 0;
  }

  close() {
    this.socket.destroy();
  }
}

/** An opening handshake, as lines; `change` edits the fields (undefined removes one). */
export function handshake(port, change = {}, line = 'GET /audience HTTP/1.1') {
  const fields = {
    Host: `127.0.0.1:${port}`,
    Upgrade: 'websocket',
    Connection: 'Upgrade',
    'Sec-WebSocket-Key': KEY,
    'Sec-WebSocket-Version': '13',
    'Sec-WebSocket-Protocol': 'steadyhand.audience.1',
    Origin: `http://127.0.0.1:${port}`,
    ...change,
  };
  const lines = Object.entries(fields).filter(([, value]) => value !== undefined).map(([name, value]) => `${name}: ${value}`);
  return [line, ...lines, '', ''].join('\r\n');
}

/** One frame from a client. `length` announces another length than the payload has. */
export function frame(opcode, payload = '', { fin = true, masked = true, rsv = 0, length } = {}) {
  const body = Buffer.from(payload);
  const announced = BigInt(length ?? body.length);
  const bit = masked ? 0x80 : 0;
  const head = [(fin ? 0x80 : 0) | (rsv << 4) | opcode];
  if (announced < 126n) head.push(bit | Number(announced));
  else if (announced < 65536n) head.push(bit | 126, Number(announced >> 8n), Number(announced & 255n));
  else head.push(bit | 127, ...Array.from({ length: 8 }, (_, i) => Number((announced >> BigInt(56 - 8 * i)) & 255n)));
  return Buffer.concat([Buffer.from(head), masked ? Buffer.alloc(4) : Buffer.alloc(0), body]); // a mask of zeros is one too
}

/** The frames of a server in `bytes`: { opcode, payload }. */
export function frames(bytes) {
  const found = [];
  for (let at = 0; at + 2 <= bytes.length; ) {
    let length = bytes[at + 1] & 127;
    let head = 2;
    if (length === 126) [length, head] = [bytes.readUInt16BE(at + 2), 4];
    if (at + head + length > bytes.length) break;
    found.push({ opcode: bytes[at] & 15, payload: bytes.subarray(at + head, at + head + length) });
    at += head + length;
  }
  return found;
}

/** An open WebSocket on a raw connection. */
export class RawSocket extends Raw {
  static async open(port, change) {
    const raw = await new RawSocket(port).opened;
    raw.send(handshake(port, change));
    const head = await raw.hears((r) => r.heard.indexOf('\r\n\r\n') + 1);
    raw.head = raw.heard.subarray(0, head + 3).toString('latin1');
    raw.heard = raw.heard.subarray(head + 3);
    return raw;
  }

  get frames() {
    return frames(this.heard);
  }

  get messages() {
    return this.frames.filter((f) => f.opcode === 1).map((f) => JSON.parse(f.payload.toString()));
  }

  verdict(timeoutMs) {
    return this.hears((r) => r.messages.find((m) => m.type === 'verdict'), timeoutMs);
  }

  /** Code and reason of the server's Close frame; null if it sends none. */
  async closeCode(timeoutMs = PATIENCE_MS) {
    const close = await this.hears((r) => r.frames.find((f) => f.opcode === 8), timeoutMs);
    return close && close.payload.length >= 2 ? close.payload.readUInt16BE(0) : null;
  }
}
