// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * Solids in the room, in plan and elevation: keep-outs hatched, with their padding around them; slow zones dotted, with
 * their speed; what must not be seen struck through. Shape and words say what colour says.
 */
import type { JSX } from 'preact';
import type { KeepOut, Room, Zone } from './messages';
import { around, frontOf, path, placeLabel, planOf, type Point, type Sheet, wrapLabel } from './sheet';

interface ZonesProps { readonly sheet: Sheet; readonly room: Room; readonly blocking: string | null }

export function Zones({ sheet, room, blocking }: ZonesProps): JSX.Element {
  return (
    <g clip-path="url(#views)">
      <defs>
        <clipPath id="views">
          {[sheet.plan, sheet.elevation].map((v, i) => <rect key={i} x={v.x} y={v.y - 4} width={v.w} height={v.h + 4} />)}
        </clipPath>
      </defs>
      {room.slow_zones.map((z) => (
        <Solid key={z.name} sheet={sheet} zone={z} kind="slow" blocks={z.name === blocking} text={`${z.name}, ${z.speed_mps} m/s`} />
      ))}
      {room.view_keep_outs.map((z) => (
        <Solid key={z.name} sheet={sheet} zone={z} kind="unseen-zone" blocks={z.name === blocking} text={`unseen: ${z.name}`} />
      ))}
      {room.keep_outs.map((k) => <KeepOutSolid key={k.name} sheet={sheet} zone={k} blocks={k.name === blocking} />)}
    </g>
  );
}

const bothViews = (sheet: Sheet, zone: Zone): Point[][] => [planOf(sheet, zone), frontOf(sheet, zone)];

interface SolidProps { readonly sheet: Sheet; readonly zone: Zone; readonly kind: string; readonly blocks: boolean; readonly text: string }

function Solid({ sheet, zone, kind, blocks, text }: SolidProps): JSX.Element {
  return (
    <g class={blocks ? `${kind} blocks` : kind}>
      {bothViews(sheet, zone).map((points, i) => (
        <g key={i}>
          <path d={path(points, true)} class="zone-edge" />
          {kind === 'unseen-zone' && <Strike points={points} />}
          <Label sheet={sheet} points={points} text={text} top={kind === 'slow'} />
        </g>
      ))}
    </g>
  );
}

/** A cross over what is not to be seen. */
function Strike({ points }: { points: readonly Point[] }): JSX.Element | null {
  const box = around(points);
  if (!box) return null;
  const [l, r, t, b] = [box.x, box.x + box.w, box.y, box.y + box.h];
  return <path d={path([[l, t], [r, b]], false) + path([[l, b], [r, t]], false)} class="strike" />;
}

function KeepOutSolid({ sheet, zone, blocks }: { sheet: Sheet; zone: KeepOut; blocks: boolean }): JSX.Element {
  const text = zone.yields ? `${zone.name} (yields)` : zone.name;
  return (
    <g class={`${blocks ? 'keepout blocks' : 'keepout'}${zone.yields ? ' yields' : ''}`}>
      {bothViews(sheet, zone).map((points, i) => {
        const outline = path(points, true);
        return (
          <g key={i}>
            {zone.padding > 0 && <path d={outline} class="padding" stroke-width={2 * zone.padding * sheet.scale} />}
            <path d={outline} class="keepout-fill" />
            <path d={outline} fill="url(#hatch)" class="keepout-edge" />
            <Label sheet={sheet} points={points} text={text} />
          </g>
        );
      })}
    </g>
  );
}

const LABEL_PX = 12;
const CHAR_PX = 7.5; // of bold text, a little more than it is wide

/** Over the solid, or beside it where it would run out of the view. `top`: along its upper edge, as things stand in it. */
function Label({ sheet, points, text, top = false }: { sheet: Sheet; points: readonly Point[]; text: string; top?: boolean }): JSX.Element | null {
  const box = around(points);
  if (!box) return null;
  const placed = placeLabel(text, box, LABEL_PX);
  const { lines, y } = top ? { lines: wrapLabel(text, box.w, CHAR_PX), y: box.y + LABEL_PX + 2 } : placed;
  const half = Math.max(...lines.map((line) => line.length)) * CHAR_PX * 0.55;
  const x = Math.min(Math.max(placed.x, sheet.plan.x + half), sheet.plan.x + sheet.plan.w - half);
  return (
    <text class="label" text-anchor="middle">
      {lines.map((line, i) => <tspan key={i} x={x} y={y + i * (LABEL_PX + 1)}>{line}</tspan>)}
    </text>
  );
}
