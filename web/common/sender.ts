// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * When to send a held stick: at once when it is first pushed or let go, otherwise no faster than `minGapMs` and no
 * slower than `renewMs`, since a held stick is a lease that lapses unless renewed. Pure; the caller owns the clock.
 */
import type { Vec3 } from './messages';
import { atRest, REST } from './stick';

interface SenderLimits {
  readonly minGapMs: number;
  readonly renewMs: number;
}

type StickAction = 'nothing' | 'send' | 'release';

export class StickSender {
  private sent: Vec3 = REST;
  private sentAt = -Infinity;
  private heldOffUntil = -Infinity;

  constructor(private limits: SenderLimits) {}

  setLimits(limits: SenderLimits): void { this.limits = limits; }

  /** Called often (every frame or so) with where the stick is now. */
  step(stick: Vec3, now: number): StickAction {
    const wasHeld = !atRest(this.sent);
    if (atRest(stick)) {
      if (!wasHeld) return 'nothing';
      this.sent = REST;
      return 'release'; // never delayed: letting go must not wait for a rate
    }
    if (now < this.heldOffUntil) return 'nothing';
    const age = now - this.sentAt;
    const changed = stick.some((v, i) => v !== this.sent[i]);
    const due = !wasHeld || age >= this.limits.renewMs || (changed && age >= this.limits.minGapMs);
    if (!due) return 'nothing';
    this.sent = stick;
    this.sentAt = now;
    return 'send';
  }

  /** The gateway said "not so fast". */
  holdOff(untilMs: number): void { this.heldOffUntil = Math.max(this.heldOffUntil, untilMs); }

  /** A new connection knows of no stick; nothing is repeated to it. */
  forget(): void { this.sent = REST; this.sentAt = -Infinity; this.heldOffUntil = -Infinity; }
}
