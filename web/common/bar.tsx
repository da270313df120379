// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* A candidate's share of all votes, with a tick at what a change needs (0: needs nothing, as staying does). */
import type { JSX } from 'preact';

interface BarProps { readonly votes: number; readonly cast: number; readonly needed: number }

export function Bar({ votes, cast, needed }: BarProps): JSX.Element {
  const share = cast > 0 ? (100 * votes) / cast : 0;
  const tick = cast > 0 && needed > 0 ? Math.min(99, (100 * needed) / cast) : null;
  return (
    <svg class={`bar${tick !== null && votes >= needed ? ' enough' : ''}`} viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true">
      <rect width="100" height="8" class="trough" />
      <rect width={share} height="8" class="fill" />
      {tick !== null && <rect x={tick} width="1.2" height="8" class="need" />}
    </svg>
  );
}
