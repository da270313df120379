// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * Press and hold: done once, when held without a break for the whole time. Letting go, losing focus or being disabled
 * starts it afresh. Pure; the caller owns the clock.
 */
export class Hold {
  private since: number | null = null;
  private spent = false;

  constructor(readonly needMs: number) {}

  press(now: number): void {
    if (this.since === null) { this.since = now; this.spent = false; }
  }

  letGo(): void { this.since = null; this.spent = false; }

  /** 0..1 */
  progress(now: number): number {
    return this.since === null ? 0 : Math.min(1, Math.max(0, (now - this.since) / this.needMs));
  }

  /** True exactly once per press, at the first call after the time is up. */
  done(now: number): boolean {
    if (this.spent || this.progress(now) < 1) return false;
    this.spent = true;
    return true;
  }
}
