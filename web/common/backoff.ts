// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * How long to wait before connecting again: exponential with full jitter, so that a crowd that lost its edge in one
 * instant does not come back in one instant.
 */

export interface BackoffLimits {
  readonly baseMs: number;
  readonly capMs: number;
}

/** Delay before try number `attempt` (0 = the first one after a loss). `random` is in 0..1. Never below a fifth of the
 * ceiling: a wait of nearly nothing would be no wait for the server. */
export function backoffMs(attempt: number, limits: BackoffLimits, random: number): number {
  const doublings = Math.min(Math.max(0, attempt), 30);
  const ceiling = Math.min(limits.capMs, limits.baseMs * 2 ** doublings);
  const share = Math.min(1, Math.max(0, random));
  return Math.round(ceiling * (0.2 + 0.8 * share));
}
