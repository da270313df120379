// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * What crosses the two WebSockets, by the names the pages use, and the making of what the pages say. The types come from
 * web/asyncapi.json, which describes every field. Units: m, m/s, ms, degrees; room frame x right, y away from the front
 * wall, z up.
 */
import type {
  AudienceVerdictMessage, Choice, Room, Scene, ToCore, ToEdge, Vector,
} from './protocol';

export type {
  AudienceNoticeMessage as Notice, Choice, Desk, DeskRefusedMessage as Refused, DeskWelcomeMessage as DeskWelcome, FromCore,
  FromEdge, Mode, Reason, Room, Scene, SceneDesk, ToCore, ToEdge,
} from './protocol';

export type Vec3 = Vector;
export type KeepOut = Room['keep_outs'][number];
export type Stage = Room['stages'][number];
/** A solid as it is drawn. */
export type Zone = Room['view_keep_outs'][number];
export type StopState = Scene['state'];
export type Lane = Scene['lane'];
export type Verdict = AudienceVerdictMessage;

/** In the order of the tallies. */
export const CHOICES: readonly Choice[] = [
  'stay', 'truck-left', 'truck-right', 'dolly-out', 'dolly-in', 'pedestal-down', 'pedestal-up',
];

/** Three decimals are a hundredth of a bin of the crowd's histogram; NaN and infinities become rest. */
function axis(v: number): number {
  if (!Number.isFinite(v)) return 0;
  // + 0 turns -0 into 0, which JSON would otherwise spell differently in different places.
  return Math.round(Math.min(1, Math.max(-1, v)) * 1000) / 1000 + 0;
}

export const say = {
  vote: (round: number, choice: Choice): ToEdge => ({ type: 'vote', round, choice }),
  stick: (v: Vec3): { type: 'stick'; x: number; y: number; z: number } =>
    ({ type: 'stick', x: axis(v[0]), y: axis(v[1]), z: axis(v[2]) }),
  release: (): { type: 'release' } => ({ type: 'release' }),
  hello: (pass: string): ToCore => ({ type: 'hello', pass }),
  beat: (n: number): ToCore => ({ type: 'beat', n }),
  stop: (): ToCore => ({ type: 'stop' }),
  // All three name the newest stop that is on the page: core refuses them where there has been another since.
  reset: (stop: number): ToCore => ({ type: 'reset', stop }),
  go: (stop: number): ToCore => ({ type: 'go', stop }),
  arm: (stop: number): ToCore => ({ type: 'arm', stop }),
  hold: (): ToCore => ({ type: 'hold' }),
  park: (): ToCore => ({ type: 'park' }),
  take: (): ToCore => ({ type: 'take' }),
  mode: (mode: Scene['mode']): ToCore => ({ type: 'mode', mode }),
  head: (r: readonly [number, number, number, number]): ToCore =>
    ({ type: 'head', pan: axis(r[0]), tilt: axis(r[1]), roll: axis(r[2]), zoom: axis(r[3]) }),
  headHome: (): ToCore => ({ type: 'head-home' }),
  setup: (on: boolean): ToCore => ({ type: 'setup', on }),
  // Only the speed: what is null stays as it is. Hundredths, rounded down: never more than was meant.
  limitSpeed: (lane: 'audience' | 'operator', speed: number): ToCore => ({
    type: 'limit', lane, speed: Number.isFinite(speed) ? Math.min(10, Math.max(0, Math.floor(speed * 100 + 1e-6) / 100)) : 0, floor: null, ceiling: null,
  }),
  scale: (value: number): ToCore => ({ type: 'scale', value: Number.isFinite(value) ? Math.min(1, Math.max(0, Math.round(value * 100) / 100)) : 0 }),
};

/** A parsed message with a type, or null. Pages skip what they do not know, so that a newer gateway does not break
 * an older page that is still open. */
export function parse<M extends { type: string }>(text: string): M | null {
  try {
    const value: unknown = JSON.parse(text);
    if (typeof value !== 'object' || value === null) return null;
    return typeof (value as { type?: unknown }).type === 'string' ? (value as M) : null;
  } catch {
    return null;
  }
}
