// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * All the hands on one thing, each a named source of deflections, -1..1 an axis. drop() lets go of everything at once
 * (connection lost, page hidden, window left); whoever still presses then must press anew.
 */
import { computed, signal, type ReadonlySignal } from '@preact/signals';
import { atRest } from './stick';

export class Hub<V extends readonly number[]> {
  private readonly sources = signal<ReadonlyMap<string, V>>(new Map());
  /** Grows with every drop. */
  readonly dropped = signal(0);
  readonly value: ReadonlySignal<V>;

  constructor(private readonly rest: V, together: (sources: Iterable<V>) => V) {
    this.value = computed(() => together(this.sources.value.values()));
    addEventListener('blur', () => this.drop());
    addEventListener('pagehide', () => this.drop());
    document.addEventListener('visibilitychange', () => { if (document.hidden) this.drop(); });
  }

  set(source: string, v: V): void {
    const held = this.sources.peek().get(source) ?? this.rest;
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
