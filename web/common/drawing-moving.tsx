// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The moving half of the drawing: cords, trail, goal, braking path, camera. Each attribute is bound to a signal. */
import { computed, type ReadonlySignal } from '@preact/signals';
import type { JSX } from 'preact';
import { useMemo } from 'preact/hooks';
import type { Room, Scene, Vec3 } from './messages';
import { Machine } from './drawing-machine';
import type { Moving } from './moving';
import { arrow, elevZ, inElevation, inPlan, path, planX, planY, type Point, type Sheet } from './sheet';

interface Props {
  readonly sheet: Sheet;
  readonly room: Room;
  readonly scene: ReadonlySignal<Scene | null>;
  readonly moving: Moving;
  readonly detail: boolean;
}

/** The velocity arrow ends where the camera would be in this many seconds. */
const AHEAD_S = 2.5;

function ahead(p: Vec3, v: Vec3, k: number): Vec3 {
  return [p[0] + v[0] * k, p[1] + v[1] * k, p[2] + v[2] * k];
}

/** Two strings of path data, one a view. */
type Views = readonly [string, string];

function both(sheet: Sheet, draw: (project: (p: Vec3) => Point) => string): Views {
  return [draw((p) => inPlan(sheet, p)), draw((p) => inElevation(sheet, p))];
}

function derive({ sheet, room, scene, moving }: Props) {
  const pos = computed<Vec3>(() => moving.pos.value ?? scene.value?.pos ?? room.home);
  const drop = room.outline.boom;
  const body = (p: Vec3): Vec3 => [p[0], p[1], p[2] - drop];
  const stat = computed(() => scene.value);
  return {
    pos,
    body: computed(() => body(pos.value)),
    cords: computed(() => both(sheet, (at) => room.anchors.map((a) => path([at(a), at(pos.value)], false)).join(''))),
    trail: computed(() => both(sheet, (at) => path(moving.trail.value.map((p) => at(body(p))), false))),
    velocity: computed(() => velocityArrow(sheet, body(pos.value), stat.value?.vel, room.outline.body_radius)),
    wanted: computed(() => velocityArrow(sheet, body(pos.value), stat.value?.wanted, room.outline.body_radius)),
    braking: computed(() => brakingPath(sheet, body(pos.value), stat.value)),
    goal: computed(() => goalPath(sheet, body(pos.value), stat.value?.goal ? body(stat.value.goal) : null)),
    x: computed(() => planX(sheet, pos.value[0])),
    y: computed(() => planY(sheet, pos.value[1])),
    top: computed(() => elevZ(sheet, pos.value[2])),
    z: computed(() => elevZ(sheet, pos.value[2] - drop)),
    margin: computed(() => (room.outline.body_radius + Math.max(0, stat.value?.margin_m ?? room.margin)) * sheet.scale),
  };
}

/** From the rim of the body, so that a slow camera still shows its arrow. */
function velocityArrow(sheet: Sheet, from: Vec3, v: Vec3 | undefined, radius: number): Views {
  if (!v) return ['', ''];
  return both(sheet, (at) => {
    const a = at(from), b = at(ahead(from, v, AHEAD_S));
    const n = Math.hypot(b[0] - a[0], b[1] - a[1]);
    if (!(n > 2)) return '';
    const k = (radius * sheet.scale) / n;
    const rim = (p: Point): Point => [p[0] + (b[0] - a[0]) * k, p[1] + (b[1] - a[1]) * k];
    return arrow(rim(a), rim(b));
  });
}

/** Where it would come to rest if braked now: along the velocity, as long as the guard says. */
function brakingPath(sheet: Sheet, from: Vec3, s: Scene | null): Views {
  const speed = s ? Math.hypot(s.vel[0], s.vel[1], s.vel[2]) : 0;
  if (!s || speed < 0.005) return ['', ''];
  return both(sheet, (at) => path([at(from), at(ahead(from, s.vel, s.braking_m / speed))], false));
}

const GOAL_PX = 7;

function goalPath(sheet: Sheet, from: Vec3, goal: Vec3 | null): Views {
  if (!goal) return ['', ''];
  return both(sheet, (at) => {
    const [x, y] = at(goal);
    const diamond: Point[] = [[x, y - GOAL_PX], [x + GOAL_PX, y], [x, y + GOAL_PX], [x - GOAL_PX, y]];
    return path([at(from), [x, y]], false) + path(diamond, true);
  });
}

function Pair({ of, ...rest }: { of: ReadonlySignal<Views> } & JSX.SVGAttributes<SVGPathElement>): JSX.Element {
  const first = useMemo(() => computed(() => of.value[0]), [of]);
  const second = useMemo(() => computed(() => of.value[1]), [of]);
  return <g><path d={first} {...rest} /><path d={second} {...rest} /></g>;
}

export function MovingParts(props: Props): JSX.Element {
  const { sheet, room, scene, moving, detail } = props;
  const d = useMemo(() => derive(props), [sheet, room, scene, moving]);
  const radius = room.outline.body_radius * sheet.scale;
  const capsule = 2 * radius;
  return (
    <g class="moving">
      <line x1={d.x} x2={d.x} y1={d.y} y2={d.z} class="projection" />
      <Pair of={d.cords} class="cord" />
      <Machine sheet={sheet} room={room} scene={scene} body={d.body} detail={detail} />
      <Pair of={d.trail} class="trail" />
      {detail && <Pair of={d.braking} class="braking" stroke-width={capsule} />}
      <Pair of={d.goal} class="goal" />
      <circle cx={d.x} cy={d.y} r={d.margin} class="margin" />
      <circle cx={d.x} cy={d.z} r={d.margin} class="margin" />
      <line x1={d.x} x2={d.x} y1={d.top} y2={d.z} class="boom" />
      <rect x={-3.5} y={-3.5} width={7} height={7} class="platform" transform={useAt(d.x, d.top)} />
      <Camera x={d.x} y={d.y} radius={radius} />
      <Camera x={d.x} y={d.z} radius={radius} />
      {detail && <Pair of={d.wanted} class="wanted" />}
      <Pair of={d.velocity} class="velocity" />
    </g>
  );
}

function useAt(x: ReadonlySignal<number>, y: ReadonlySignal<number>): ReadonlySignal<string> {
  return useMemo(() => computed(() => `translate(${x.value.toFixed(2)} ${y.value.toFixed(2)})`), [x, y]);
}

/** The body to scale, with a ring so that a small one is still found. */
function Camera({ x, y, radius }: { x: ReadonlySignal<number>; y: ReadonlySignal<number>; radius: number }): JSX.Element {
  return (
    <g transform={useAt(x, y)} class="camera">
      <circle r={radius} class="body" />
      <circle r={Math.max(1.5, radius * 0.38)} class="lens" />
    </g>
  );
}
