// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * Is the other end alive? Only echoes say so, never what a browser believes of its socket: a half-open connection looks
 * open for minutes. Pure; the caller owns the clock, sends the beats and reads the answer.
 */

export const BEAT_MS = 250;
export const LOST_MS = 1000;
const REMEMBER = 24;

export interface Quality {
  readonly medianMs: number;
  readonly worstMs: number;
}

export class Beats {
  private n = 0;
  private sent = new Map<number, number>();
  private heardAt = -Infinity;
  private trips: number[] = [];

  /** The number for the next beat. */
  next(now: number): number {
    this.n += 1;
    this.sent.set(this.n, now);
    if (this.sent.size > REMEMBER) this.sent.delete(this.n - REMEMBER);
    return this.n;
  }

  /** An echo arrived. One we never sent, or have given up on, proves nothing. */
  echo(n: number, now: number): void {
    const at = this.sent.get(n);
    if (at === undefined) return;
    this.sent.delete(n);
    // The time of *sending* counts: an echo that took two seconds says the link was alive two seconds ago.
    this.heardAt = Math.max(this.heardAt, at);
    this.trips.push(now - at);
    if (this.trips.length > REMEMBER) this.trips.shift();
  }

  alive(now: number): boolean { return now - this.heardAt < LOST_MS; }

  /** ms since the newest beat that was answered, Infinity if none was. */
  age(now: number): number { return now - this.heardAt; }

  quality(): Quality | null {
    if (this.trips.length === 0) return null;
    const sorted = [...this.trips].sort((a, b) => a - b);
    return { medianMs: sorted[sorted.length >> 1]!, worstMs: sorted[sorted.length - 1]! };
  }

  /** A new socket: what the old one answered says nothing about it. */
  reset(): void { this.sent.clear(); this.heardAt = -Infinity; this.trips = []; }
}
