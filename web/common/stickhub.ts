// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * All the hands on one stick: pointer, buttons, keys, gamepad, each a named source. drop() lets go of everything at
 * once (connection lost, page hidden, window left); whoever still presses then must press anew.
 */
import { computed, signal, type ReadonlySignal } from '@preact/signals';
import type { Vec3 } from './messages';
import { atRest, REST, together } from './stick';

export class StickHub {
  private readonly sources = signal<ReadonlyMap<string, Vec3>>(new Map());
  /** Grows with every drop. */
  readonly dropped = signal(0);
  readonly value: ReadonlySignal<Vec3> = computed(() => together(this.sources.value.values()));

  constructor() {
    addEventListener('blur', () => this.drop());
    addEventListener('pagehide', () => this.drop());
    document.addEventListener('visibilitychange', () => { if (document.hidden) this.drop(); });
  }

  set(source: string, v: Vec3): void {
    const held = this.sources.peek().get(source) ?? REST;
    if (held.every((x, i) => x === v[i])) return;
    const next = new Map(this.sources.peek());
    if (atRest(v)) next.delete(source);
    else next.set(source, v);
    this.sources.value = next;
  }

  drop(): void {
    if (this.sources.peek().size > 0) this.sources.value = new Map();
    this.dropped.value += 1;
  }
}
