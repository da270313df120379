// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * The drawing on every page: plan above front elevation, as a stage drawing shows them, joined by a projection line
 * through the camera. What stands still is drawn once a room; what moves is bound to signals and touches only its own
 * attributes.
 */
import { useComputed, useSignal, type ReadonlySignal } from '@preact/signals';
import type { ComponentChildren, JSX } from 'preact';
import { useLayoutEffect, useMemo, useRef } from 'preact/hooks';
import type { Room, Scene, Vec3 } from './messages';
import type { Moving } from './moving';
import { MovingParts } from './drawing-moving';
import {
  type Box, elevZ, inElevation, inPlan, makeSheet, metres, path, planX, planY, type Sheet, stageElevation,
} from './sheet';
import { placeSentence } from './words';
import { Zones } from './drawing-zones';

interface DrawingProps {
  readonly room: Room;
  readonly scene: ReadonlySignal<Scene | null>;
  readonly moving: Moving;
  /** Desk: braking path, wanted velocity, home, padding figures. */
  readonly detail?: boolean;
  /** Largest height in px; the width is what the column gives. */
  readonly maxHeight: number;
  readonly stale?: boolean;
}

export function Drawing({ room, scene, moving, detail = false, maxHeight, stale = false }: DrawingProps): JSX.Element {
  const holder = useRef<HTMLDivElement>(null);
  const width = useSignal(0);
  useLayoutEffect(() => {
    const el = holder.current!;
    width.value = el.clientWidth;
    const watch = new ResizeObserver(() => { width.value = el.clientWidth; });
    watch.observe(el);
    return () => watch.disconnect();
  }, []);
  const w = width.value;
  const sheet = useMemo(() => (w > 0 ? makeSheet(room, w, maxHeight) : null), [room, w, maxHeight]);
  const blocking = useComputed(() => {
    return scene.value?.reason.zone ?? null;
  });
  const words = useComputed(() => (scene.value ? placeSentence(scene.value) : 'Waiting for the camera.'));
  return (
    <div class={`drawing${stale ? ' stale' : ''}`} ref={holder}>
      {sheet && (
        <svg width={sheet.width} height={sheet.height} viewBox={`0 0 ${sheet.width} ${sheet.height}`} role="img" aria-label={words}>
          <Patterns />
          <Still sheet={sheet} room={room} blocking={blocking.value} detail={detail} />
          <MovingParts sheet={sheet} room={room} scene={scene} moving={moving} detail={detail} />
        </svg>
      )}
    </div>
  );
}

function Patterns(): JSX.Element {
  return (
    <defs>
      <pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
        <line x1="0" y1="0" x2="0" y2="7" class="hatch-line" />
      </pattern>
      <pattern id="earth" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">
        <line x1="0" y1="0" x2="0" y2="8" class="earth-line" />
      </pattern>
    </defs>
  );
}

function R({ box, ...rest }: { box: Box } & JSX.SVGAttributes<SVGRectElement>): JSX.Element {
  return <rect x={box.x} y={box.y} width={box.w} height={box.h} {...rest} />;
}

/** px per metre below which the views' titles would cover what they name. */
const CAPTION_SCALE = 26;

interface StillProps { readonly sheet: Sheet; readonly room: Room; readonly blocking: string | null; readonly detail: boolean }

function Still({ sheet, room, blocking, detail }: StillProps): JSX.Element {
  const stage = room.stages.map((part) => path(part.footprint.map(([x, y]) => inPlan(sheet, [x, y, 0])), true)).join('');
  return (
    <g>
      <Grid sheet={sheet} />
      <path d={stage} class="stage" />
      {room.stages.map((part, i) => <R key={i} box={stageElevation(sheet, part)} class="stage" />)}
      <Ground sheet={sheet} />
      <Zones sheet={sheet} room={room} blocking={blocking} />
      {detail && <Home sheet={sheet} at={room.home} />}
      {room.anchors.map((a, i) => <Anchor key={i} sheet={sheet} at={a} />)}
      {sheet.scale >= CAPTION_SCALE && <>
        <Caption x={sheet.plan.x + sheet.plan.w / 2} y={sheet.plan.y + 16}>Plan</Caption>
        <Caption x={sheet.elevation.x + sheet.elevation.w / 2} y={sheet.elevation.y + 16}>From the front</Caption>
      </>}
    </g>
  );
}

function Caption({ x, y, children }: { x: number; y: number; children: ComponentChildren }): JSX.Element {
  return <text x={x} y={y} class="caption" text-anchor="middle">{children}</text>;
}

function Grid({ sheet }: { sheet: Sheet }): JSX.Element {
  const { plan, elevation, lo, hi } = sheet;
  return (
    <g>
      <R box={plan} class="view" />
      <R box={elevation} class="view" />
      {metres(lo[0], hi[0]).map((m) => (
        <g key={`x${m}`}>
          <line x1={planX(sheet, m)} x2={planX(sheet, m)} y1={plan.y} y2={plan.y + plan.h} class="grid" />
          <line x1={planX(sheet, m)} x2={planX(sheet, m)} y1={elevation.y} y2={elevation.y + elevation.h} class="grid" />
          <text x={planX(sheet, m)} y={plan.y + plan.h + 14} class="figure" text-anchor="middle">{m}</text>
        </g>
      ))}
      {metres(lo[1], hi[1]).map((m) => (
        <g key={`y${m}`}>
          <line x1={plan.x} x2={plan.x + plan.w} y1={planY(sheet, m)} y2={planY(sheet, m)} class="grid" />
          <text x={plan.x - 6} y={planY(sheet, m) + 4} class="figure" text-anchor="end">{m}</text>
        </g>
      ))}
      {metres(lo[2], hi[2]).map((m) => (
        <g key={`z${m}`}>
          <line x1={elevation.x} x2={elevation.x + elevation.w} y1={elevZ(sheet, m)} y2={elevZ(sheet, m)} class="grid" />
          <text x={elevation.x - 6} y={elevZ(sheet, m) + 4} class="figure" text-anchor="end">{m}</text>
        </g>
      ))}
    </g>
  );
}

function Ground({ sheet }: { sheet: Sheet }): JSX.Element {
  const y = elevZ(sheet, 0);
  const { x, w } = sheet.elevation;
  return (
    <g>
      <rect x={x} y={y} width={w} height={5} fill="url(#earth)" />
      <line x1={x} x2={x + w} y1={y} y2={y} class="ground" />
    </g>
  );
}

function Anchor({ sheet, at }: { sheet: Sheet; at: Vec3 }): JSX.Element {
  const [px, py] = inPlan(sheet, at);
  const [ex, ey] = inElevation(sheet, at);
  return (
    <g class="anchor">
      <rect x={px - 4} y={py - 4} width={8} height={8} />
      <rect x={ex - 4} y={ey - 4} width={8} height={8} />
    </g>
  );
}

function Home({ sheet, at }: { sheet: Sheet; at: Vec3 }): JSX.Element {
  return (
    <g class="home">
      {[inPlan(sheet, at), inElevation(sheet, at)].map(([x, y], i) => (
        <g key={i}>
          <path d={path([[x - 6, y], [x + 6, y]], false) + path([[x, y - 6], [x, y + 6]], false)} />
          <text x={x + 8} y={y - 5}>home</text>
        </g>
      ))}
    </g>
  );
}
