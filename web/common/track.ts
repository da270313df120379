// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * Where the camera was a moment ago, smoothly: scenes are kept with core's time stamps and shown a fixed delay behind
 * the newest, on a cubic Hermite through the reported positions and velocities. Never beyond the newest scene: a
 * drawing that guesses ahead would show a camera moving that may have stopped.
 */
import type { Vec3 } from './messages';

interface Sample {
  readonly t: number; // ms, core's clock
  readonly pos: Vec3;
  readonly vel: Vec3;
}

const KEEP_MS = 6000;
/** Scenes further apart than this are not joined by a glide; the drawing jumps, and does not invent the way between. */
const MAX_GAP_MS = 1000;
/** How fast the estimate of the clocks' offset may grow again, ms per ms: enough for drift, too little for jitter. */
const OFFSET_LEAK = 0.002;

export function hermite(a: Sample, b: Sample, t: number): Vec3 {
  const span = b.t - a.t;
  const u = Math.min(1, Math.max(0, (t - a.t) / span));
  const u2 = u * u, u3 = u2 * u;
  const h00 = 2 * u3 - 3 * u2 + 1, h10 = u3 - 2 * u2 + u, h01 = 3 * u2 - 2 * u3, h11 = u3 - u2;
  const seconds = span / 1000;
  const at = (i: 0 | 1 | 2) =>
    h00 * a.pos[i] + h10 * seconds * a.vel[i] + h01 * b.pos[i] + h11 * seconds * b.vel[i];
  return [at(0), at(1), at(2)];
}

export class Track {
  private samples: Sample[] = [];
  private offset = Infinity; // local time - core time, at the fastest delivery seen
  private lastArrival = 0;

  /** `delayMs`: how far behind the newest to show; a little more than the time between scenes. */
  constructor(private readonly delayMs: number) {}

  push(sample: Sample, arrival: number): void {
    const newest = this.newest();
    // Core's clock went back, or stood still for long: another core. Nothing of before can be joined to it.
    if (newest && sample.t < newest.t) this.clear();
    else if (newest && sample.t === newest.t) return;
    const leak = Math.max(0, arrival - this.lastArrival) * OFFSET_LEAK;
    this.offset = Math.min(arrival - sample.t, this.offset + leak);
    this.lastArrival = arrival;
    this.samples.push(sample);
    while (this.samples.length > 2 && this.samples[0]!.t < sample.t - KEEP_MS) this.samples.shift();
  }

  newest(): Sample | undefined { return this.samples[this.samples.length - 1]; }

  /** The position to draw at local time `now`, undefined before the first scene. */
  at(now: number): Vec3 | undefined {
    const newest = this.newest();
    if (!newest) return undefined;
    const t = now - this.offset - this.delayMs;
    if (t >= newest.t) return newest.pos;
    for (let i = this.samples.length - 2; i >= 0; i--) {
      const a = this.samples[i]!, b = this.samples[i + 1]!;
      if (t < a.t) continue;
      return b.t - a.t > MAX_GAP_MS ? b.pos : hermite(a, b, t);
    }
    return this.samples[0]!.pos;
  }

  /** Past positions, oldest first, for the trail. A gap breaks it: only what came after the gap is given. */
  trail(): Vec3[] {
    let from = this.samples.length - 1;
    while (from > 0 && this.samples[from]!.t - this.samples[from - 1]!.t <= MAX_GAP_MS) from--;
    return this.samples.slice(Math.max(0, from)).map((s) => s.pos);
  }

  clear(): void { this.samples = []; this.offset = Infinity; this.lastArrival = 0; }
}
