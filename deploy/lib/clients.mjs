// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The two ends of the web protocol as a script speaks them: a viewer and a desk. Used by the demo's synthetic crowd and
// by the end-to-end tests.
import WebSocket from 'ws';

/** How long to wait for what will come: no bound on how fast it must be, for a machine may be slow and busy. */
export const PATIENCE_MS = 30000;

/** Waits without holding the process open longer than needed. */
export function sleep(ms) {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

/**
 * Calls `probe` every `everyMs` until it returns something truthy, and returns that. Throws with `what` after
 * `timeoutMs`.
 */
export async function until(what, probe, timeoutMs = PATIENCE_MS, everyMs = 20) {
  const end = performance.now() + timeoutMs;
  for (;;) {
    const got = await probe();
    if (got) return got;
    if (performance.now() > end) throw new Error(`waited ${timeoutMs} ms in vain for: ${what}`);
    await sleep(everyMs);
  }
}

/** One WebSocket that speaks JSON messages: keeps the newest scene and room, and everything else in `messages`. */
class Client {
  constructor(base, path, subprotocol, options = {}) {
    this.messages = [];
    this.scene = null;
    this.room = null;
    this.closed = null;
    this.listeners = new Set();
    this.socket = new WebSocket(base.replace(/^http/, 'ws') + path, subprotocol, {
      origin: options.origin ?? base,
      perMessageDeflate: false,
      handshakeTimeout: PATIENCE_MS,
    });
    this.socket.on('message', (data) => this.#take(JSON.parse(data.toString())));
    this.socket.on('close', (code, reason) => {
      this.closed = { code, reason: reason.toString() };
      for (const tell of [...this.listeners]) tell({ type: 'closed', ...this.closed });
    });
    this.opened = new Promise((resolve, reject) => {
      this.socket.once('open', () => resolve(this));
      this.socket.once('error', reject);
    });
    this.opened.catch(() => {}); // whoever cares awaits it
    this.socket.on('error', () => {});
  }

  #take(message) {
    message.at = performance.now();
    if (message.type === 'scene') this.scene = message;
    else if (message.type === 'room') this.room = message;
    else if (message.type !== 'beat' && this.messages.length < 10000) this.messages.push(message);
    for (const tell of [...this.listeners]) tell(message);
  }

  send(message) {
    if (this.socket.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(message));
  }

  sendRaw(text) {
    this.socket.send(text);
  }

  /** The next message that `wanted` accepts, from now on. */
  next(what, wanted, timeoutMs = PATIENCE_MS) {
    return new Promise((resolve, reject) => {
      const tell = (message) => {
        const hit = wanted(message);
        if (!hit && message.type !== 'closed') return;
        clearTimeout(timer);
        this.listeners.delete(tell);
        if (hit) resolve(message);
        else reject(new Error(`closed with ${message.code} "${message.reason}" while waiting for: ${what}`));
      };
      const timer = setTimeout(() => {
        this.listeners.delete(tell);
        reject(new Error(`waited ${timeoutMs} ms in vain for: ${what}`));
      }, timeoutMs);
      this.listeners.add(tell);
    });
  }

  /** The next scene that `wanted` accepts; the present one counts too. */
  async sceneWhere(what, wanted, timeoutMs = PATIENCE_MS) {
    if (this.scene && wanted(this.scene)) return this.scene;
    try {
      return await this.next(what, (m) => m.type === 'scene' && wanted(m), timeoutMs);
    } catch (e) {
      const { state, lane, mode, rig, at_rest, reason, pos } = this.scene ?? {};
      const refused = this.messages.filter((m) => m.type === 'refused').at(-1) ?? null;
      throw new Error(`${e.message}; last scene: ${JSON.stringify({ state, lane, mode, rig, at_rest, reason, pos })}, refused: ${JSON.stringify(refused)}`);
    }
  }

  async close() {
    if (this.socket.readyState === WebSocket.CLOSED) return;
    const gone = new Promise((resolve) => this.socket.once('close', resolve));
    this.socket.close();
    await Promise.race([gone, sleep(500)]);
    this.socket.terminate();
  }

  /** Gone without a word, as when a phone's battery dies. */
  kill() {
    this.socket.terminate();
  }
}

/** A member of the audience. */
export class Viewer extends Client {
  constructor(base, options) {
    super(base, options?.path ?? '/audience', options?.subprotocol ?? 'steadyhand.audience.1', options);
  }

  vote(choice, round = this.scene?.round?.id) {
    this.send({ type: 'vote', round, choice });
  }

  stick(x, y, z) {
    this.send({ type: 'stick', x, y, z });
  }

  letGo() {
    this.send({ type: 'release' });
  }
}

/** Somebody with a pass: operator, moderator or spotter. Sends the heartbeat by itself. */
export class Desk extends Client {
  #beat = null;
  #held = null;

  constructor(base, pass, options) {
    super(base, '/desk', 'steadyhand.desk.1', options);
    this.welcomed = this.next('welcome', (m) => m.type === 'welcome');
    this.welcomed.catch(() => {});
    this.opened.then(
      () => {
        this.send({ type: 'hello', pass });
        let n = 0;
        const beat = () => this.send({ type: 'beat', n: ++n });
        this.welcomed.then(beat, () => {});
        this.#beat = setInterval(beat, 250);
        this.socket.once('close', () => this.#quiet());
      },
      () => this.#quiet(),
    );
  }

  static async open(base, pass, options) {
    const desk = new Desk(base, pass, options);
    await desk.opened;
    await desk.welcomed;
    await desk.sceneWhere('a first scene', () => true);
    return desk;
  }

  #quiet() {
    clearInterval(this.#beat);
    clearInterval(this.#held);
  }

  /** Stays connected but goes silent: no beats, no stick. */
  fallSilent() {
    this.#quiet();
  }

  /** Presses STOP; resolves to the milliseconds from the press to the rig's confirmation. */
  async stop() {
    const pressed = performance.now();
    const confirmed = this.next('the rig to confirm the stop', (m) => m.type === 'stopped');
    this.send({ type: 'stop' });
    return (await confirmed).at - pressed;
  }

  /** Both name the newest stop this desk has seen, as a page does. */
  reset(stop = this.scene.desk.stop.count) {
    this.send({ type: 'reset', stop });
  }

  go(stop = this.scene.desk.stop.count) {
    this.send({ type: 'go', stop });
  }

  arm(stop = this.scene.desk.stop.count) {
    this.send({ type: 'arm', stop });
  }

  /** Keeps the camera still, under power. */
  still() {
    this.send({ type: 'hold' });
  }

  park() {
    this.send({ type: 'park' });
  }

  /** As far as one act before motion: reset if it is stopped, arm if it is parked, once it is seen to stand still. */
  async ready() {
    let scene = await this.sceneWhere('telemetry from a rig at rest', (s) => s.rig === 'ok' && s.at_rest);
    if (scene.state === 'stopped') {
      this.reset();
      scene = await this.sceneWhere('armed or parked after a reset', (s) => s.state === 'armed' || s.state === 'parked');
    }
    if (scene.state === 'parked') this.arm();
    await this.sceneWhere('armed, under power', (s) => s.state === 'armed' && s.powered);
  }

  /** The deliberate acts of somebody who has seen that the rig is there: as above, then go. */
  async start() {
    await this.ready();
    this.go();
    await this.sceneWhere('running after go', (s) => s.state === 'running');
  }

  async take() {
    this.send({ type: 'take' });
    await this.sceneWhere('control taken', (s) => s.desk?.you_hold === true);
  }

  async release() {
    this.hold(null);
    this.send({ type: 'release' });
    await this.sceneWhere('control given back', (s) => s.desk?.you_hold !== true);
  }

  /** Holds the stick there until told otherwise; null lets go. */
  hold(x, y = 0, z = 0) {
    clearInterval(this.#held);
    const send = () => this.send({ type: 'stick', x: x ?? 0, y, z });
    send();
    if (x !== null) this.#held = setInterval(send, 100);
  }

  mode(mode) {
    this.send({ type: 'mode', mode });
  }

  scale(value) {
    this.send({ type: 'scale', value });
  }

  async close() {
    this.#quiet();
    await super.close();
  }

  kill() {
    this.#quiet();
    super.kill();
  }
}

/** Opens `count` viewers, a few dozen at a time so that the listener's queue is not the thing being tested. */
export async function crowd(base, count, options) {
  const viewers = [];
  while (viewers.length < count) {
    const batch = Array.from({ length: Math.min(40, count - viewers.length) }, () => new Viewer(base, options));
    await Promise.all(batch.map((v) => v.opened));
    viewers.push(...batch);
  }
  return viewers;
}
