// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * What crosses the two WebSockets, as types. The described contract is web/asyncapi.json; tests/web holds the messages
 * built here against it. Units: m, m/s, ms, degrees; room frame x right, y away from the front wall, z up.
 */

export type Vec3 = readonly [number, number, number];

export const CHOICES = [
  'stay', 'truck-left', 'truck-right', 'dolly-out', 'dolly-in', 'pedestal-down', 'pedestal-up',
] as const;
export type Choice = (typeof CHOICES)[number];

export type StopState = 'stopped' | 'ready' | 'running';
export type Lane = 'idle' | 'audience' | 'operator';
export type Mode = 'closed' | 'poll' | 'blend';
export type Role = 'viewer' | 'moderator' | 'spotter' | 'operator';

export interface KeepOut {
  readonly name: string;
  readonly from: Vec3;
  readonly to: Vec3;
  readonly padding: number;
}

export interface Room {
  readonly type: 'room';
  readonly name: string;
  readonly rules: string;
  readonly stage: { readonly footprint: readonly (readonly [number, number])[]; readonly floor: number; readonly ceiling: number };
  readonly keep_outs: readonly KeepOut[];
  readonly anchors: readonly Vec3[];
  readonly outline: { readonly body_radius: number; readonly boom: number };
  readonly home: Vec3;
  readonly margin: number;
  readonly choices: readonly Choice[];
  readonly step_m: number;
  readonly round_s: number;
  readonly speed: { readonly audience: number; readonly operator: number };
}

export interface Reason {
  readonly code: string;
  readonly text: string;
  readonly zone: string | null;
}

export interface Round {
  readonly id: number;
  readonly phase: 'off' | 'open' | 'grace';
  readonly left_ms: number;
  readonly votes: readonly number[];
  readonly needed: number;
  readonly last: { readonly choice: Choice; readonly voices: number };
}

/** What only a desk is told, about the machinery behind the scene. */
export interface DeskPart {
  readonly holder: string | null;
  readonly holder_id: number;
  readonly you_hold?: boolean;
  readonly desks: number;
  readonly rig: { readonly session: boolean; readonly sent: number; readonly telemetry: number; readonly refused: number };
  readonly tick: { readonly count: number; readonly skipped: number; readonly late_p99_us: number };
  readonly counts: {
    readonly accepted: number; readonly limited: number; readonly refused: number;
    readonly connects: number; readonly turned_away: number;
  };
  readonly clamps: Readonly<Record<string, number>>;
  readonly rounds: number;
  readonly stop: { readonly count: number; readonly confirmed: boolean };
}

export interface Scene {
  readonly type: 'scene';
  readonly seq: number;
  readonly t_ms: number;
  readonly state: StopState;
  readonly lane: Lane;
  readonly mode: Mode;
  readonly pos: Vec3;
  readonly vel: Vec3;
  readonly wanted: Vec3;
  readonly goal: Vec3 | null;
  readonly clearance_m: number;
  readonly margin_m: number;
  readonly braking_m: number;
  readonly swing_deg: number;
  readonly uncertainty_m: number;
  readonly rig: 'ok' | 'lost' | 'fault';
  readonly at_rest: boolean;
  readonly reason: Reason;
  readonly reasons: readonly string[];
  readonly scale: number;
  readonly round: Round;
  readonly crowd: { readonly viewers: number; readonly sticks: number; readonly edges: number; readonly blend: Vec3 };
  readonly desk?: DeskPart;
}

export interface Verdict {
  readonly type: 'verdict';
  readonly of: 'vote' | 'stick' | 'release' | 'message';
  readonly verdict: 'counted' | 'limited' | 'refused' | 'overtaken';
  readonly code?: string;
  readonly text?: string;
  readonly wait_ms?: number;
  /** Messages this answers: several of one kind that arrived together get one answer. */
  readonly answers?: number;
}

export interface AudienceWelcome { readonly type: 'welcome'; readonly protocol: 1; readonly rate_per_s: number; readonly burst: number }
export interface DeskWelcome { readonly type: 'welcome'; readonly protocol: 1; readonly role: Role; readonly name: string; readonly id: number }
export interface Beat { readonly type: 'beat'; readonly n: number }
export interface Stopped { readonly type: 'stopped'; readonly count: number }
export interface Refused { readonly type: 'refused'; readonly of: string; readonly code: string; readonly text: string }

export type FromEdge = AudienceWelcome | Room | Scene | Verdict;
export type FromCore = DeskWelcome | Room | Scene | Beat | Stopped | Refused;

export type ToEdge =
  | { type: 'vote'; round: number; choice: Choice }
  | { type: 'stick'; x: number; y: number; z: number }
  | { type: 'release' };

export type ToCore =
  | { type: 'hello'; pass: string }
  | { type: 'beat'; n: number }
  | { type: 'stop' | 'reset' | 'go' | 'take' | 'release' }
  | { type: 'stick'; x: number; y: number; z: number }
  | { type: 'mode'; mode: Mode }
  | { type: 'scale'; value: number };

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
  reset: (): ToCore => ({ type: 'reset' }),
  go: (): ToCore => ({ type: 'go' }),
  take: (): ToCore => ({ type: 'take' }),
  mode: (mode: Mode): ToCore => ({ type: 'mode', mode }),
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
