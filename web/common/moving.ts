// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * The shown position, frame by frame. With reduced motion asked for, it changes twice a second instead of gliding.
 */
import { signal, type Signal } from '@preact/signals';
import type { Scene, Vec3 } from './messages';
import { Track } from './track';

const CALM_MS = 500;

export class Moving {
  readonly pos: Signal<Vec3 | null> = signal(null);
  readonly trail: Signal<readonly Vec3[]> = signal([]);
  private readonly track: Track;
  private readonly calm = matchMedia('(prefers-reduced-motion: reduce)');
  private calmAt = 0;

  constructor(delayMs: number) {
    this.track = new Track(delayMs);
    requestAnimationFrame(this.frame);
  }

  push(scene: Scene): void {
    this.track.push({ t: scene.t_ms, pos: scene.pos, vel: scene.vel }, performance.now());
    if (!this.calm.matches) this.trail.value = this.track.trail();
  }

  private readonly frame = (now: number): void => {
    requestAnimationFrame(this.frame);
    const next = this.calm.matches ? this.calmStep(now) : this.track.at(now);
    const last = this.pos.peek();
    if (next && (!last || next.some((v, i) => Math.abs(v - last[i]!) > 1e-4))) this.pos.value = next;
  };

  private calmStep(now: number): Vec3 | undefined {
    if (now - this.calmAt < CALM_MS) return undefined;
    this.calmAt = now;
    this.trail.value = [];
    return this.track.newest()?.pos;
  }
}
