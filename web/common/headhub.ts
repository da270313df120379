// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* All the hands on the head: buttons and keys, each a source of rates for pan, tilt, roll and zoom. */
import { Hub } from './hub';

export type Rates = readonly [pan: number, tilt: number, roll: number, zoom: number];

export const STILL: Rates = [0, 0, 0, 0];

/** Physical keys, so that they are the same places on every layout: I J K L like a cross, U and O beside it. */
const KEYS: Readonly<Record<string, Rates>> = {
  KeyJ: [1, 0, 0, 0], KeyL: [-1, 0, 0, 0], // pan is counter-clockwise: to the left
  KeyI: [0, 1, 0, 0], KeyK: [0, -1, 0, 0],
  KeyU: [0, 0, 0, -1], KeyO: [0, 0, 0, 1],
};

export const headKey = (code: string): Rates | null => (Object.prototype.hasOwnProperty.call(KEYS, code) ? KEYS[code]! : null);

/** Two hands on one axis are still one push, and against each other none. */
export function summed(sources: Iterable<Rates>): Rates {
  const sum: [number, number, number, number] = [0, 0, 0, 0];
  for (const s of sources) for (let i = 0; i < 4; i++) sum[i] = sum[i]! + s[i]!;
  return sum.map((v) => Math.min(1, Math.max(-1, v))) as unknown as Rates;
}

export class HeadHub extends Hub<Rates> {
  constructor() { super(STILL, summed); }
}
