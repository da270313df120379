// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* Made by web/types.mjs from web/asyncapi.json, where every field is described. Do not edit. */

export type Vector = readonly [number, number, number];

export type Axis = number;

export type Count = number;

export type StopSeen = number;

export type Choice = "stay" | "truck-left" | "truck-right" | "dolly-out" | "dolly-in" | "pedestal-down" | "pedestal-up";

export type Mode = "closed" | "poll" | "blend";

export type Code = string;

export type Reason = {
  readonly code: Code;
  readonly text: string;
  readonly zone: string | null;
  readonly value?: number;
  readonly limit?: number;
  readonly unit?: "m" | "m/s" | "N" | "rad" | "s";
};

export type Round = {
  readonly id: number;
  readonly phase: "off" | "open" | "grace";
  readonly left_ms: number;
  readonly votes: readonly Count[];
  readonly needed: number;
  readonly last: { readonly choice: Choice; readonly voices: Count };
};

export type Crowd = {
  readonly viewers: Count;
  readonly sticks: Count;
  readonly edges: Count;
  readonly blend: Vector;
};

export type Desk = {
  readonly holder: string | null;
  readonly holder_id: Count;
  readonly lost: boolean;
  readonly you_hold: boolean;
  readonly desks: Count;
  readonly spotter: string | null;
  readonly spotter_id: Count;
  readonly rig: {
    readonly session: boolean;
    readonly sent: Count;
    readonly telemetry: Count;
    readonly refused: Count;
  };
  readonly tick: {
    readonly count: Count;
    readonly skipped: Count;
    readonly late_p50_us: Count;
    readonly late_p99_us: Count;
    readonly late_p999_us: Count;
    readonly late_max_us: Count;
    readonly late_steps: readonly Count[];
    readonly page_faults: Count;
    readonly real_time: boolean;
    readonly locked: boolean;
  };
  readonly counts: {
    readonly accepted: Count;
    readonly limited: Count;
    readonly refused: Count;
    readonly connects: Count;
    readonly turned_away: Count;
  };
  readonly setup: boolean;
  readonly speeds: { readonly audience: number; readonly operator: number };
  readonly clamps: { readonly [key: string]: Count };
  readonly rounds: Count;
  readonly stop: { readonly count: Count; readonly confirmed: boolean };
};

export type LimitsInForce = {
  readonly mode: "setup" | "show" | "low";
  readonly floor_m: number;
  readonly ceiling_m: number;
  readonly speed_mps: number;
};

export type NearestPair = {
  readonly part: "body" | "boom" | "cord" | "tether";
  readonly cord?: number;
  readonly bound: "stage" | "floor" | "ceiling" | "keepout" | "subject" | "reach" | "tether-end";
  readonly zone: string | null;
};

export type CordState = {
  readonly tension_n: readonly number[];
  readonly margin_n: number;
  readonly least: number;
} | null;

export type HeadState = {
  readonly pan_deg: number;
  readonly tilt_deg: number;
  readonly roll_deg: number;
  readonly zoom: number;
} | null;

export type SubjectState = { readonly at: Vector; readonly age_s: number } | null;

export type State = "parked" | "stopped" | "armed" | "running" | "holding";

export type Category = 0 | 1 | 2 | null;

export type Scene = {
  readonly type: "scene";
  readonly seq: Count;
  readonly t_ms: Count;
  readonly state: State;
  readonly category: Category;
  readonly unconfirmed: boolean;
  readonly lane: "idle" | "audience" | "operator";
  readonly mode: Mode;
  readonly pos: Vector;
  readonly vel: Vector;
  readonly wanted: Vector;
  readonly goal: Vector | null;
  readonly clearance_m: number;
  readonly margin_m: number;
  readonly braking_m: number;
  readonly swing_deg: number;
  readonly uncertainty_m: number;
  readonly rig: "ok" | "lost" | "fault";
  readonly at_rest: boolean;
  readonly powered: boolean;
  readonly limits: LimitsInForce;
  readonly nearest: NearestPair;
  readonly cords: CordState;
  readonly head: HeadState;
  readonly yaw_deg: number | null;
  readonly subject: SubjectState;
  readonly reason: Reason;
  readonly reasons: readonly Code[];
  readonly scale: number;
  readonly round: Round;
  readonly crowd: Crowd;
};

export type SceneDesk = {
  readonly type: "scene";
  readonly seq: Count;
  readonly t_ms: Count;
  readonly state: State;
  readonly category: Category;
  readonly unconfirmed: boolean;
  readonly lane: "idle" | "audience" | "operator";
  readonly mode: Mode;
  readonly pos: Vector;
  readonly vel: Vector;
  readonly wanted: Vector;
  readonly goal: Vector | null;
  readonly clearance_m: number;
  readonly margin_m: number;
  readonly braking_m: number;
  readonly swing_deg: number;
  readonly uncertainty_m: number;
  readonly rig: "ok" | "lost" | "fault";
  readonly at_rest: boolean;
  readonly powered: boolean;
  readonly limits: LimitsInForce;
  readonly nearest: NearestPair;
  readonly cords: CordState;
  readonly head: HeadState;
  readonly yaw_deg: number | null;
  readonly subject: SubjectState;
  readonly reason: Reason;
  readonly reasons: readonly Code[];
  readonly scale: number;
  readonly round: Round;
  readonly crowd: Crowd;
  readonly desk: Desk;
};

export type Room = {
  readonly type: "room";
  readonly name: string;
  readonly rules: string;
  readonly stages: readonly ({ readonly footprint: Outline; readonly floor: number; readonly ceiling: number })[];
  readonly keep_outs: readonly ({
    readonly name: string;
    readonly plan: Outline;
    readonly front: Outline;
    readonly padding: number;
    readonly yields: boolean;
  })[];
  readonly slow_zones: readonly ({
    readonly name: string;
    readonly plan: Outline;
    readonly front: Outline;
    readonly speed_mps: number;
  })[];
  readonly view_keep_outs: readonly ({ readonly name: string; readonly plan: Outline; readonly front: Outline })[];
  readonly anchors: readonly Vector[];
  readonly outline: {
    readonly body_radius: number;
    readonly boom: number;
    readonly limbs: readonly ({ readonly from: Vector; readonly to: Vector; readonly radius: number })[];
    readonly yaw: "fixed" | "reported" | "unknown" | "pan";
  };
  readonly tether: {
    readonly kind: "straight" | "hanging";
    readonly anchor: Vector;
    readonly length: number;
  } | null;
  readonly cords: { readonly min_n: number; readonly max_n: number } | null;
  readonly head: {
    readonly hfov_wide_deg: number;
    readonly vfov_wide_deg: number;
    readonly zoom_max: number;
  } | null;
  readonly subject: { readonly radius: number; readonly height: number } | null;
  readonly home: Vector;
  readonly margin: number;
  readonly choices: readonly Choice[];
  readonly step_m: number;
  readonly round_s: number;
  readonly speed: { readonly audience: number; readonly operator: number };
};

export type Outline = readonly (readonly [number, number])[];

export type AudienceVoteMessage = { readonly type: "vote"; readonly round: number; readonly choice: Choice };

export type AudienceStickMessage = { readonly type: "stick"; readonly x: Axis; readonly y: Axis; readonly z: Axis };

export type AudienceReleaseMessage = { readonly type: "release" };

export type AudienceWelcomeMessage = {
  readonly type: "welcome";
  readonly protocol: 1;
  readonly rate_per_s: number;
  readonly burst: number;
};

export type RoomMessage = Room;

export type AudienceSceneMessage = Scene;

export type AudienceVerdictMessage = {
  readonly type: "verdict";
  readonly of: "vote" | "stick" | "release" | "message";
  readonly answers: number;
  readonly verdict: "counted";
} | {
  readonly type: "verdict";
  readonly of: "vote" | "stick" | "release" | "message";
  readonly answers: number;
  readonly verdict: "limited";
  readonly code: "too-fast";
  readonly text: string;
  readonly wait_ms: number;
} | {
  readonly type: "verdict";
  readonly of: "vote" | "stick" | "release" | "message";
  readonly answers: number;
  readonly verdict: "refused";
  readonly code: "malformed" | "too-big" | "core-lost" | "closed" | "stopped" | "wrong-mode" | "no-round" | "unknown-round";
  readonly text: string;
} | {
  readonly type: "verdict";
  readonly of: "vote";
  readonly answers: number;
  readonly verdict: "overtaken";
  readonly code: "round-over";
  readonly text: string;
};

export type AudienceNoticeMessage = { readonly type: "notice"; readonly code: "core-lost"; readonly text: string };

export type DeskHelloMessage = { readonly type: "hello"; readonly pass: string };

export type DeskBeatMessage = { readonly type: "beat"; readonly n: Count };

export type DeskStopMessage = { readonly type: "stop" };

export type DeskArmMessage = { readonly type: "arm"; readonly stop: StopSeen };

export type DeskResetMessage = { readonly type: "reset"; readonly stop: StopSeen };

export type DeskGoMessage = { readonly type: "go"; readonly stop: StopSeen };

export type DeskHoldMessage = { readonly type: "hold" };

export type DeskParkMessage = { readonly type: "park" };

export type DeskTakeMessage = { readonly type: "take" };

export type DeskReleaseMessage = { readonly type: "release" };

export type DeskStickMessage = { readonly type: "stick"; readonly x: Axis; readonly y: Axis; readonly z: Axis };

export type DeskModeMessage = { readonly type: "mode"; readonly mode: Mode };

export type DeskScaleMessage = { readonly type: "scale"; readonly value: number };

export type DeskEnableMessage = { readonly type: "enable"; readonly on: boolean };

export type DeskHeadMessage = {
  readonly type: "head";
  readonly pan: Axis;
  readonly tilt: Axis;
  readonly roll: Axis;
  readonly zoom: Axis;
};

export type DeskHeadHomeMessage = { readonly type: "head-home" };

export type DeskLimitMessage = {
  readonly type: "limit";
  readonly lane: "audience" | "operator";
  readonly speed: number | null;
  readonly floor: number | null;
  readonly ceiling: number | null;
};

export type DeskSetupMessage = { readonly type: "setup"; readonly on: boolean };

export type DeskWelcomeMessage = {
  readonly type: "welcome";
  readonly protocol: 1;
  readonly role: "operator" | "moderator" | "spotter";
  readonly name: string;
  readonly id: Count;
};

export type DeskSceneMessage = SceneDesk;

export type DeskBeatBackMessage = { readonly type: "beat"; readonly n: Count };

export type DeskStoppedMessage = { readonly type: "stopped"; readonly count: number };

export type DeskRefusedMessage = {
  readonly type: "refused";
  readonly of: "hello" | "beat" | "stop" | "arm" | "reset" | "go" | "hold" | "park" | "take" | "release" | "stick" | "mode" | "scale" | "enable" | "head" | "head-home" | "limit" | "setup" | "message";
  readonly code: Code;
  readonly text: string;
};

export type ToEdge = AudienceVoteMessage | AudienceStickMessage | AudienceReleaseMessage;

export type FromEdge = AudienceWelcomeMessage | RoomMessage | AudienceSceneMessage | AudienceVerdictMessage | AudienceNoticeMessage;

export type ToCore = DeskHelloMessage | DeskBeatMessage | DeskStopMessage | DeskArmMessage | DeskResetMessage | DeskGoMessage | DeskHoldMessage | DeskParkMessage | DeskTakeMessage | DeskReleaseMessage | DeskStickMessage | DeskModeMessage | DeskScaleMessage | DeskEnableMessage | DeskHeadMessage | DeskHeadHomeMessage | DeskLimitMessage | DeskSetupMessage;

export type FromCore = DeskWelcomeMessage | RoomMessage | DeskSceneMessage | DeskBeatBackMessage | DeskStoppedMessage | DeskRefusedMessage;
