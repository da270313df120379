// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * Shapes that say what colour says: one for each state, one arrow for each direction. In and Back point as they do in
 * the plan; Up and Down stand on a ground line as in the elevation, so that the two pairs are not taken for each other.
 */
import type { JSX } from 'preact';
import type { Choice, StopState } from './messages';

const STATE_PATH: Readonly<Record<StopState, string>> = {
  parked: 'M2 10H22V15H2Z',
  stopped: 'M4 4H20V20H4Z',
  armed: 'M12 2L22 12L12 22L2 12Z',
  running: 'M12 3A9 9 0 1 1 12 21A9 9 0 1 1 12 3Z',
  holding: 'M5 4H10V20H5ZM14 4H19V20H14Z',
};

export function StateShape({ state }: { state: StopState }): JSX.Element {
  return <svg class="shape" viewBox="0 0 24 24" aria-hidden="true"><path d={STATE_PATH[state]} /></svg>;
}

const ARROW: Readonly<Record<Choice, string>> = {
  'stay': 'M5 5H9M5 5V9M19 5H15M19 5V9M5 19H9M5 19V15M19 19H15M19 19V15M12 11V13M11 12H13',
  'truck-left': 'M20 12H5M11 6L5 12L11 18',
  'truck-right': 'M4 12H19M13 6L19 12L13 18',
  'dolly-in': 'M12 20V5M6 11L12 5L18 11',
  'dolly-out': 'M12 4V19M6 13L12 19L18 13',
  'pedestal-up': 'M12 17V4M6 10L12 4L18 10M4 21H20',
  'pedestal-down': 'M12 3V16M6 10L12 16L18 10M4 21H20',
};

export function Arrow({ to }: { to: Choice }): JSX.Element {
  return <svg class="arrow" viewBox="0 0 24 24" aria-hidden="true"><path d={ARROW[to]} /></svg>;
}

/** Joined, broken: the connection. */
export function LinkShape({ up }: { up: boolean }): JSX.Element {
  return (
    <svg class="linkshape" viewBox="0 0 24 12" aria-hidden="true">
      <circle cx="5" cy="6" r="4" /><circle cx="19" cy="6" r="4" />
      <path d={up ? 'M9 6H15' : 'M9 6H10.5M13.5 6H15M11 2L13 10'} />
    </svg>
  );
}
