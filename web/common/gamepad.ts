// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * A gamepad as one more hand. It must be claimed by pressing a button while its sticks are at rest (sticks that rest
 * off centre, or a pad under a book, move nothing), and after every drop the sticks must come back to rest first.
 */
import { signal, type Signal } from '@preact/signals';
import type { StickHub } from './stickhub';
import { atRest, fromAxes, REST } from './stick';

type GamepadState = 'none' | 'unclaimed' | 'claimed';

const DEAD_ZONE = 0.18;
const SOURCE = 'gamepad';

export class GamepadHand {
  readonly state: Signal<GamepadState> = signal('none');
  private index = -1;
  private mustRest = true;
  private pressed: readonly boolean[] = [];
  private running = false;

  /** `onButton`: a button of the claimed pad went down (standard mapping numbers). */
  constructor(private readonly hub: StickHub, private readonly onButton: (button: number) => void) {
    addEventListener('gamepadconnected', () => this.start());
    addEventListener('gamepaddisconnected', (event) => { if (event.gamepad.index === this.index) this.lose(); });
    hub.dropped.subscribe(() => { this.mustRest = true; });
  }

  private start(): void {
    if (this.running) return;
    this.running = true;
    requestAnimationFrame(this.frame);
  }

  private lose(): void {
    this.index = -1;
    this.pressed = [];
    this.hub.set(SOURCE, REST);
  }

  private readonly frame = (): void => {
    const pads = navigator.getGamepads().filter((p): p is Gamepad => p !== null && p.connected);
    if (pads.length === 0) {
      this.lose();
      this.state.value = 'none';
      this.running = false;
      return;
    }
    requestAnimationFrame(this.frame);
    const pad = pads.find((p) => p.index === this.index) ?? this.claim(pads);
    this.state.value = pad ? 'claimed' : 'unclaimed';
    if (pad) this.read(pad);
  };

  private claim(pads: readonly Gamepad[]): Gamepad | undefined {
    const pad = pads.find((p) => p.buttons.some((b) => b.pressed) && atRest(fromAxes(p.axes, DEAD_ZONE)));
    if (!pad) return undefined;
    this.index = pad.index;
    this.mustRest = true;
    this.pressed = pad.buttons.map((b) => b.pressed); // the claiming press does nothing else
    return pad;
  }

  private read(pad: Gamepad): void {
    const v = fromAxes(pad.axes, DEAD_ZONE);
    if (this.mustRest && atRest(v)) this.mustRest = false;
    this.hub.set(SOURCE, this.mustRest ? REST : v);
    pad.buttons.forEach((b, i) => { if (b.pressed && !this.pressed[i]) this.onButton(i); });
    this.pressed = pad.buttons.map((b) => b.pressed);
  }
}
