// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* Voting with a gamepad: its cross, its first button for Stay, or a flick of a stick, which must come back to rest
 * before it votes again. */
import type { Choice, Vec3 } from '../common/messages';
import type { StickHub } from '../common/stickhub';
import { mode, vote } from './store';
import { choiceOf } from './votepad';

/** Standard mapping. */
const BUTTONS: Readonly<Record<number, Choice>> = {
  0: 'stay', 4: 'pedestal-down', 5: 'pedestal-up', 12: 'dolly-in', 13: 'dolly-out', 14: 'truck-left', 15: 'truck-right',
};
const FLICK = 0.7;
const REARM = 0.3;

/** Returns what to do with the pad's buttons. In poll mode only gamepads put anything into the hub. */
export function watchGamepadVotes(hub: StickHub): (button: number) => void {
  let armed = true;
  hub.value.subscribe((v: Vec3) => {
    const n = Math.hypot(v[0], v[1], v[2]);
    if (n < REARM) armed = true;
    if (n <= FLICK || !armed || mode.peek() !== 'poll') return;
    armed = false;
    vote(choiceOf(v));
  });
  return (button) => {
    const choice = BUTTONS[button];
    if (choice && mode.peek() === 'poll') vote(choice);
  };
}
