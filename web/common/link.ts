// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * One socket that is always being kept alive: reconnects with jittered back-off, drops a connection that has gone
 * silent (a half-open socket looks open for minutes), and starts afresh when a page wakes up. It keeps no queue: what
 * could not be sent is forgotten, so that nothing old reaches the camera after a gap.
 */
import { backoffMs, type BackoffLimits } from './backoff';
import { parse } from './messages';

export type LinkState =
  | { readonly is: 'connecting' }
  | { readonly is: 'open' }
  | { readonly is: 'waiting'; readonly untilMs: number }
  | { readonly is: 'closed'; readonly code: number; readonly reason: string };

interface LinkOptions<In extends { type: string }> {
  /** Relative to the page, so that a proxy may serve it under a sub-path. */
  readonly path: string;
  readonly protocol: string;
  readonly backoff: BackoffLimits;
  /** Silence after which the connection is given up. */
  readonly silenceMs: number;
  /** Close codes after which trying again is pointless. */
  readonly finalCodes: readonly number[];
  readonly onOpen: () => void;
  readonly onMessage: (message: In) => void;
  readonly onState: (state: LinkState) => void;
}

const WATCH_MS = 500;
/** The watch runs this much late: the machine slept, or the page was frozen. */
const SLEPT_MS = 4000;

function socketUrl(path: string): string {
  const url = new URL(path, location.href);
  url.protocol = location.protocol === 'https:' ? 'wss:' : 'ws:';
  url.hash = '';
  return url.href;
}

export class Link<In extends { type: string }, Out> {
  private socket: WebSocket | null = null;
  private attempt = 0;
  private heardAt = 0;
  private watchedAt = Date.now();
  private retry: ReturnType<typeof setTimeout> | undefined;
  private final = false;

  constructor(private readonly options: LinkOptions<In>) {
    setInterval(() => this.watch(), WATCH_MS);
    document.addEventListener('visibilitychange', () => { if (!document.hidden) this.wake(); });
    addEventListener('pageshow', () => this.wake());
    addEventListener('online', () => this.wake());
    this.connect();
  }

  /** True if it went into an open socket. */
  send(message: Out): boolean {
    if (this.socket?.readyState !== WebSocket.OPEN) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }

  /** Starts over at once, for instance with another pass. */
  restart(): void {
    this.final = false;
    this.attempt = 0;
    this.drop();
    this.connect();
  }

  private connect(): void {
    clearTimeout(this.retry);
    this.heardAt = performance.now();
    this.options.onState({ is: 'connecting' });
    const socket = new WebSocket(socketUrl(this.options.path), this.options.protocol);
    this.socket = socket;
    socket.onopen = () => { this.heardAt = performance.now(); this.options.onOpen(); };
    socket.onmessage = (event) => this.receive(event);
    socket.onclose = (event) => this.lost(event.code, event.reason);
  }

  private receive(event: MessageEvent): void {
    const message = typeof event.data === 'string' ? parse<In>(event.data) : null;
    if (!message) return;
    this.heardAt = performance.now();
    // Only a gateway that talks counts as a connection: an accepted socket may still be turned away.
    this.attempt = 0;
    this.options.onState({ is: 'open' });
    this.options.onMessage(message);
  }

  private lost(code: number, reason: string): void {
    this.drop();
    if (this.options.finalCodes.includes(code)) {
      this.final = true;
      this.options.onState({ is: 'closed', code, reason });
      return;
    }
    const wait = backoffMs(this.attempt++, this.options.backoff, Math.random());
    this.options.onState({ is: 'waiting', untilMs: performance.now() + wait });
    this.retry = setTimeout(() => this.connect(), wait);
  }

  /** Lets go of the socket without hearing of its end. */
  private drop(): void {
    const socket = this.socket;
    this.socket = null;
    if (!socket) return;
    socket.onopen = socket.onmessage = socket.onclose = null;
    try { socket.close(); } catch { /* it never opened */ }
  }

  private watch(): void {
    const slept = Date.now() - this.watchedAt > SLEPT_MS;
    this.watchedAt = Date.now();
    if (slept) this.wake();
    else if (this.socket && performance.now() - this.heardAt > this.options.silenceMs) this.lost(1006, 'silent');
  }

  private wake(): void {
    this.watchedAt = Date.now();
    if (this.final) return;
    const silent = performance.now() - this.heardAt > this.options.silenceMs;
    if (this.socket && !silent) return;
    this.drop();
    this.connect();
  }
}
