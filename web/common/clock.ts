// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* A clock signal for what must be shown as time passes though no message comes: ages, waits, time left. */
import { signal, type ReadonlySignal } from '@preact/signals';

export function ticking(everyMs: number): ReadonlySignal<number> {
  const now = signal(performance.now());
  setInterval(() => { now.value = performance.now(); }, everyMs);
  return now;
}
