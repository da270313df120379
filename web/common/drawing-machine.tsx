// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * What hangs and turns with the camera, and what holds for it now: limbs, tether, where the lens looks, the subject, the
 * floor and ceiling in force, and how hard each cord pulls.
 */
import { computed, type ReadonlySignal } from '@preact/signals';
import type { JSX } from 'preact';
import { useMemo } from 'preact/hooks';
import type { Room, Scene, Vec3 } from './messages';
import { elevZ, inElevation, inPlan, path, type Point, type Sheet } from './sheet';

interface MachineProps {
  readonly sheet: Sheet;
  readonly room: Room;
  readonly scene: ReadonlySignal<Scene | null>;
  /** The lower end of the boom. */
  readonly body: ReadonlySignal<Vec3>;
  readonly detail: boolean;
}

type Views = readonly [string, string];
const NOTHING: Views = ['', ''];
const RAD = Math.PI / 180;

function both(sheet: Sheet, draw: (at: (p: Vec3) => Point) => string): Views {
  return [draw((p) => inPlan(sheet, p)), draw((p) => inElevation(sheet, p))];
}

/** How far the limbs are turned; null: not known. */
function turnOf(room: Room, s: Scene | null): number | null {
  switch (room.outline.yaw) {
    case 'fixed': return 0;
    case 'pan': return s?.head ? s.head.pan_deg * RAD : null;
    case 'reported': return s?.yaw_deg == null ? null : s.yaw_deg * RAD;
    case 'unknown': return null;
  }
}

function turned(p: Vec3, at: Vec3, turn: number): Vec3 {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  return [at[0] + c * p[0] - s * p[1], at[1] + s * p[0] + c * p[1], at[2] + p[2]];
}

function limbPath(sheet: Sheet, room: Room, i: number, at: Vec3, turn: number): Views {
  const limb = room.outline.limbs[i]!;
  const [a, b] = [turned(limb.from, at, turn), turned(limb.to, at, turn)];
  return both(sheet, (project) => path([project(a), project(b)], false) || '');
}

/** Straight, or in a bow as deep as its length allows: a drawing, not the envelope that is kept clear. */
function tetherPath(sheet: Sheet, room: Room, at: Vec3): Views {
  const t = room.tether;
  if (!t) return NOTHING;
  const apart = Math.hypot(...t.anchor.map((v, i) => v - at[i]!));
  const sag = t.kind === 'hanging' ? Math.sqrt(Math.max(0, t.length ** 2 - apart ** 2)) / 2 : 0;
  return both(sheet, (project) => {
    const mid: Vec3 = [(t.anchor[0] + at[0]) / 2, (t.anchor[1] + at[1]) / 2, Math.max(0, (t.anchor[2] + at[2]) / 2 - sag)];
    const [a, m, b] = [project(t.anchor), project(mid), project(at)];
    // A quadratic that passes through the middle has its handle twice as far out.
    const [hx, hy] = [2 * m[0] - (a[0] + b[0]) / 2, 2 * m[1] - (a[1] + b[1]) / 2];
    return `M${a[0].toFixed(1)} ${a[1].toFixed(1)}Q${hx.toFixed(1)} ${hy.toFixed(1)} ${b[0].toFixed(1)} ${b[1].toFixed(1)}`;
  });
}

const SIGHT_M = 1.4;

/** The pyramid the lens looks into, as wide as the zoom makes it, cut short. */
function sightPath(sheet: Sheet, room: Room, s: Scene | null, at: Vec3): Views {
  if (!room.head || !s?.head) return NOTHING;
  const half = (wide: number) => Math.atan(Math.tan((wide / 2) * RAD) / Math.max(1, s.head!.zoom));
  const [h, v] = [half(room.head.hfov_wide_deg), half(room.head.vfov_wide_deg)];
  const pan = (s.head.pan_deg + (room.outline.yaw === 'reported' ? s.yaw_deg ?? 0 : 0)) * RAD;
  const tilt = s.head.tilt_deg * RAD;
  const ray = (p: number, t: number): Vec3 => [
    at[0] + SIGHT_M * Math.cos(p) * Math.cos(t), at[1] + SIGHT_M * Math.sin(p) * Math.cos(t), at[2] + SIGHT_M * Math.sin(t)];
  const plan = [at, ray(pan - h, tilt), ray(pan + h, tilt)].map((p) => inPlan(sheet, p));
  const front = [at, ray(pan, tilt - v), ray(pan, tilt + v)].map((p) => inElevation(sheet, p));
  return [path(plan, true), path(front, true)];
}

function subjectPath(sheet: Sheet, room: Room, s: Scene | null): Views {
  const r = room.subject?.radius ?? 0, tall = room.subject?.height ?? 0;
  if (!s?.subject || !room.subject) return NOTHING;
  const [x, y] = s.subject.at;
  const px = r * sheet.scale, [cx, cy] = inPlan(sheet, [x, y, 0]);
  const circle = `M${cx - px} ${cy}a${px} ${px} 0 1 0 ${2 * px} 0a${px} ${px} 0 1 0 ${-2 * px} 0Z`;
  const post: Vec3[] = [[x - r, y, 0], [x + r, y, 0], [x + r, y, tall], [x - r, y, tall]];
  return [circle, path(post.map((p) => inElevation(sheet, p)), true)];
}

function useViews(make: () => Views, deps: readonly unknown[]): readonly [ReadonlySignal<string>, ReadonlySignal<string>] {
  return useMemo(() => {
    const views = computed(make);
    return [computed(() => views.value[0]), computed(() => views.value[1])] as const;
  }, [...deps]);
}

function Pair({ make, deps, ...rest }: { make: () => Views; deps: readonly unknown[] } & JSX.SVGAttributes<SVGPathElement>): JSX.Element {
  const [plan, front] = useViews(make, deps);
  return <g><path d={plan} {...rest} /><path d={front} {...rest} /></g>;
}

export function Machine({ sheet, room, scene, body, detail }: MachineProps): JSX.Element {
  const deps = [sheet, room, scene, body];
  return (
    <g class="machine">
      <Pair make={() => sightPath(sheet, room, scene.value, body.value)} deps={deps} class="sight" />
      <Pair make={() => subjectPath(sheet, room, scene.value)} deps={deps} class="subject" />
      <Pair make={() => tetherPath(sheet, room, body.value)} deps={deps} class="tether" />
      {room.outline.limbs.map((limb, i) => <Limb key={i} i={i} width={2 * limb.radius * sheet.scale} sheet={sheet} room={room} scene={scene} body={body} />)}
      <InForce sheet={sheet} room={room} scene={scene} />
      {detail && room.anchors.map((a, i) => <Pull key={i} i={i} at={inPlan(sheet, a)} room={room} scene={scene} />)}
    </g>
  );
}

interface LimbProps { readonly i: number; readonly width: number; readonly sheet: Sheet; readonly room: Room; readonly scene: ReadonlySignal<Scene | null>; readonly body: ReadonlySignal<Vec3> }

/** Where its turn is not known, the circle that it may be anywhere on. */
function Limb({ i, width, sheet, room, scene, body }: LimbProps): JSX.Element {
  const deps = [i, sheet, room, scene, body];
  const limb = room.outline.limbs[i]!;
  const far = (Math.max(Math.hypot(limb.from[0], limb.from[1]), Math.hypot(limb.to[0], limb.to[1])) + limb.radius) * sheet.scale;
  const sweep = (): Views => {
    if (turnOf(room, scene.value) !== null) return NOTHING;
    const [x, y] = inPlan(sheet, body.value);
    return [`M${x - far} ${y}a${far} ${far} 0 1 0 ${2 * far} 0a${far} ${far} 0 1 0 ${-2 * far} 0Z`, ''];
  };
  const drawn = (): Views => {
    const turn = turnOf(room, scene.value);
    return turn === null ? NOTHING : limbPath(sheet, room, i, body.value, turn);
  };
  return <g><Pair make={drawn} deps={deps} class="limb" stroke-width={width} /><Pair make={sweep} deps={deps} class="sweep" /></g>;
}

/** The heights that hold now, where they are inside those of the stage. */
function InForce({ sheet, room, scene }: Pick<MachineProps, 'sheet' | 'room' | 'scene'>): JSX.Element {
  const xs = room.stages.flatMap((part) => part.footprint.map((c) => c[0]!));
  const floor = Math.min(...room.stages.map((part) => part.floor)), ceiling = Math.max(...room.stages.map((part) => part.ceiling));
  const line = (z: number | undefined, own: number): string => (z === undefined || Math.abs(z - own) < 0.005 ? ''
    : path([inElevation(sheet, [Math.min(...xs), 0, z]), inElevation(sheet, [Math.max(...xs), 0, z])], false));
  const d = useMemo(() => computed(() => line(scene.value?.limits.floor_m, floor) + line(scene.value?.limits.ceiling_m, ceiling)), [sheet, room, scene]);
  const y = useMemo(() => computed(() => elevZ(sheet, scene.value?.limits.floor_m ?? floor) - 4), [sheet, room, scene]);
  const word = useMemo(() => computed(() => {
    const l = scene.value?.limits;
    return !l || Math.abs(l.floor_m - floor) < 0.005 ? '' : `${l.mode === 'low' ? 'low flight, ' : ''}floor ${l.floor_m.toFixed(2)} m`;
  }), [room, scene]);
  return <g><path d={d} class="inforce" /><text x={sheet.elevation.x + sheet.elevation.w - 3} y={y} class="inforce-word" text-anchor="end">{word}</text></g>;
}

/** Newtons beside the anchor; near a limit, said so in words as well. */
function Pull({ i, at, room, scene }: { i: number; at: Point; room: Room; scene: ReadonlySignal<Scene | null> }): JSX.Element {
  const pull = useMemo(() => computed(() => scene.value?.cords?.tension_n[i]), [i, scene]);
  const near = useMemo(() => computed(() => pullWord(pull.value, room.cords)), [pull, room]);
  const text = useMemo(() => computed(() => (pull.value === undefined ? '' : `${i + 1}: ${pull.value.toFixed(1)} N${near.value}`)), [i, pull]);
  const cls = useMemo(() => computed(() => (near.value ? 'pull near' : 'pull')), [near]);
  return <text x={at[0]} y={at[1] + (i % 2 ? -9 : 18)} class={cls} text-anchor="middle">{text}</text>;
}

/** '' while a cord is well inside its limits. */
export function pullWord(n: number | undefined, limits: Room['cords']): string {
  if (n === undefined || !limits) return '';
  if (n < limits.min_n) return ', slack';
  if (n > limits.max_n) return ', overloaded';
  const band = 0.1 * (limits.max_n - limits.min_n);
  return n > limits.max_n - band ? ', near its limit' : n < limits.min_n * 1.25 ? ', nearly slack' : '';
}
