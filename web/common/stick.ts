// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * Sticks as numbers: dead zone, keys and the sum of several hands. x right, y in (away from the front wall), z up,
 * each -1..1, and the whole never longer than 1 so that a diagonal is not faster than a straight.
 */
import type { Vec3 } from './messages';

export const REST: Vec3 = [0, 0, 0];

/** Radial dead zone, rescaled so that motion begins at 0 just outside it and reaches 1 at the rim. Sticks do not rest
 * at exactly zero; a per-axis zone would make a cross-shaped dead area. Not finite counts as rest. */
export function deadZone(x: number, y: number, zone: number): [number, number] {
  const r = Math.hypot(x, y);
  if (!Number.isFinite(r) || r <= zone) return [0, 0];
  const k = Math.min(1, (r - zone) / (1 - zone)) / r;
  return [x * k, y * k];
}

/** Shortens to length 1, keeping the direction. */
export function within1(v: Vec3): Vec3 {
  if (!v.every(Number.isFinite)) return REST;
  const n = Math.hypot(v[0], v[1], v[2]);
  return n <= 1 ? v : [v[0] / n, v[1] / n, v[2] / n];
}

/** What several sources (pointer, buttons, keys, gamepad) ask together. */
export function together(sources: Iterable<Vec3>): Vec3 {
  let x = 0, y = 0, z = 0;
  for (const s of sources) { x += s[0]; y += s[1]; z += s[2]; }
  return within1([x, y, z]);
}

export const atRest = (v: readonly number[]): boolean => v.every((x) => x === 0);

/** Physical keys (KeyboardEvent.code), so that WASD is the same place on every layout. */
const KEYS: Readonly<Record<string, Vec3>> = {
  ArrowLeft: [-1, 0, 0], KeyA: [-1, 0, 0],
  ArrowRight: [1, 0, 0], KeyD: [1, 0, 0],
  ArrowUp: [0, 1, 0], KeyW: [0, 1, 0],
  ArrowDown: [0, -1, 0], KeyS: [0, -1, 0],
  PageUp: [0, 0, 1], KeyR: [0, 0, 1],
  PageDown: [0, 0, -1], KeyF: [0, 0, -1],
};

export function isStickKey(code: string): boolean {
  return Object.prototype.hasOwnProperty.call(KEYS, code);
}

/** Two keys for one direction are still one push. */
export function fromKeys(held: Iterable<string>): Vec3 {
  const sum: [number, number, number] = [0, 0, 0];
  for (const code of held) {
    const k = KEYS[code];
    if (k) for (let i = 0; i < 3; i++) sum[i] = sum[i]! + k[i]!;
  }
  return within1(sum.map((v) => Math.sign(v)) as unknown as Vec3);
}

/** Left stick: truck and dolly. Right stick, up and down: pedestal. Standard mapping, whose y points down. */
export function fromAxes(axes: readonly number[], zone: number): Vec3 {
  const [x, y] = deadZone(axes[0] ?? 0, -(axes[1] ?? 0), zone);
  const [, z] = deadZone(0, -(axes[3] ?? 0), zone);
  // + 0: a centred axis that reads -0 is rest like any other.
  return within1([x + 0, y + 0, z + 0]);
}
