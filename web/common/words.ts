// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The words the pages share. One state word, the same everywhere; directions as a viewer sees them. */
import type { Choice, Lane, Mode, Reason, Scene, StopState, Verdict } from './messages';

export const STATE_WORD: Readonly<Record<StopState, string>> = {
  parked: 'Parked', stopped: 'Stopped', armed: 'Armed', running: 'Live', holding: 'Held',
};

export const STATE_MEANS: Readonly<Record<StopState, string>> = {
  parked: 'The camera rests, its drives without power.',
  stopped: 'The camera is held where it is.',
  armed: 'The drives have power, and the camera is still. It waits for Go.',
  running: 'The camera may move.',
  holding: 'The camera is kept still under power. Go moves on.',
};

export const CHOICE_WORD: Readonly<Record<Choice, string>> = {
  'stay': 'Stay', 'truck-left': 'Left', 'truck-right': 'Right', 'dolly-out': 'Back', 'dolly-in': 'In',
  'pedestal-down': 'Down', 'pedestal-up': 'Up',
};

export const MODE_WORD: Readonly<Record<Mode, string>> = { closed: 'Closed', poll: 'Poll', blend: 'Blend' };

const LANE_SAYS: Readonly<Record<Lane, string>> = {
  idle: 'Nobody is steering',
  audience: 'The audience is steering',
  operator: 'The operator is steering',
};

/** IEC 60204-1, for the desk: what the stop in force does with the power. */
export const CATEGORY_MEANS: Readonly<Record<0 | 1 | 2, string>> = {
  0: 'Category 0: power off at once, brakes set.',
  1: 'Category 1: braked to rest, then power off.',
  2: 'Category 2: braked to rest and held under power.',
};

/** On every page, for as long as it is so. */
export const UNCONFIRMED = 'STOP NOT CONFIRMED – use the wired emergency stop';

/** Who steers, where anything may move at all. */
export function steering(scene: Scene): string {
  return LANE_SAYS[scene.state === 'running' ? scene.lane : 'idle'];
}

/** "1 voice", "2 voices". */
export function count(n: number, one: string): string { return `${n} ${one}${n === 1 ? '' : 's'}`; }

function sentence(text: string): string {
  const t = text.trim();
  if (t === '') return '';
  const upper = t.charAt(0).toUpperCase() + t.slice(1);
  return /[.!?]$/.test(upper) ? upper : upper + '.';
}

/** Why the camera did or did not do what was asked; '' if it does just that. A keep-out is called by its name. */
export function reasonSentence(reason: Reason): string {
  if (reason.code === 'none') return '';
  if (reason.code === 'keepout' && reason.zone) return sentence(`The ${reason.zone} is in the way`);
  if (reason.code === 'slow-zone' && reason.zone) return sentence(`Slowly here: ${reason.zone}`);
  if (reason.code === 'view' && reason.zone) return sentence(`The camera would see ${reason.zone}`);
  return sentence(reason.text || reason.code.replace(/-/g, ' '));
}

/**
 * The same for the operator, whose text has the numbers in it. That the audience is not heard while someone has control
 * limits nobody at the desk, so the next reason is the one to say.
 */
export function deskReason(scene: Scene): string {
  if (scene.reason.code === 'none') return '';
  if (scene.reason.code !== 'operator-has-it') return sentence(scene.reason.text);
  const next = scene.reasons.find((code) => code !== 'operator-has-it');
  return next ? sentence(`Limited by: ${codeWords(next)}`) : '';
}

const CODE_WORDS: Readonly<Record<string, string>> = {
  'keepout': 'keep-out',
  'stop-operator': 'stopped by the operator',
  'stop-spotter': 'stopped by the spotter',
  'stop-moderator': 'stopped by the moderator',
  'started-up': 'just started',
  'stop-unconfirmed': 'STOP NOT CONFIRMED',
  'stop-input': 'stopped at the rig',
  'hold-operator': 'held by the operator',
  'hold-spotter': 'held by the spotter',
  'hold-moderator': 'held by the moderator',
  'parked': 'parked',
  'rig-unpowered': 'drives without power',
  'await-go': 'waits for go',
  'tick-late': 'core was late',
  'operator-has-it': 'audience not heard',
  'crowd-silent': 'no word from the edges',
};

/** A reason's code as a person reads it; one we do not know is spelt out. */
export function codeWords(code: string): string {
  return CODE_WORDS[code] ?? code.replace(/-/g, ' ');
}

export function seconds(ms: number): string {
  const s = Math.max(0, ms) / 1000;
  return s < 10 ? `${s.toFixed(1)} s` : `${Math.round(s)} s`;
}

/** What became of a wish, in one line. */
export function verdictSentence(v: Verdict): string {
  const what = v.of === 'vote' ? 'Your vote' : v.of === 'stick' ? 'Your stick' : 'That';
  switch (v.verdict) {
    case 'counted': return v.of === 'release' ? 'You let go.' : `${what} counts.`;
    case 'overtaken': return 'Too late for that round. The next one is open.';
    case 'limited': return `Too fast. Wait ${seconds(v.wait_ms)}, then try again.`;
    case 'refused': return `${what} was not counted. ${sentence(v.text)}`;
  }
}

/** Where the camera is, for those who do not see the drawing. */
export function placeSentence(scene: Scene): string {
  const [x, y, z] = scene.pos;
  return `Camera ${x.toFixed(1)} m from the left wall, ${y.toFixed(1)} m in, ${z.toFixed(1)} m up; `
    + `${Math.max(0, scene.clearance_m).toFixed(2)} m clear of the nearest thing.`;
}
