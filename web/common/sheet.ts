// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * The drawing's geometry: a plan above a front elevation, one scale, one x axis, as on a stage drawing. Room metres in,
 * pixels out. No DOM here.
 */
import type { Room, Stage, Vec3, Zone } from './messages';

export interface Box { readonly x: number; readonly y: number; readonly w: number; readonly h: number }
export type Point = readonly [number, number];

export interface Sheet {
  readonly width: number;
  readonly height: number;
  /** px per metre */
  readonly scale: number;
  readonly lo: Vec3;
  readonly hi: Vec3;
  readonly plan: Box;
  readonly elevation: Box;
}

const GUTTER_LEFT = 24; // metre figures
const EDGE = 6;
const GAP = 20; // between the views, holds the figures of the shared x axis
const AIR_M = 0.25;

/** Corners of the box around a solid: its plan tells x and y, its front x and z. What is not drawn tells nothing. */
function corners({ plan, front }: Zone, room: Room): Vec3[] {
  return [...plan.map(([x, y]): Vec3 => [x, y, room.home[2]]), ...front.map(([x, z]): Vec3 => [x, room.home[1], z])];
}

/** The extent of everything that is drawn, the floor (z = 0) always included. */
function extent(room: Room): { lo: Vec3; hi: Vec3 } {
  const points: Vec3[] = [...room.anchors, room.home];
  for (const stage of room.stages) for (const [x, y] of stage.footprint) points.push([x, y, stage.floor], [x, y, stage.ceiling]);
  for (const zone of [...room.keep_outs, ...room.slow_zones, ...room.view_keep_outs]) points.push(...corners(zone, room));
  const along = (i: 0 | 1 | 2) => points.map((p) => p[i]);
  const low = (i: 0 | 1 | 2) => Math.min(...along(i)) - AIR_M;
  const high = (i: 0 | 1 | 2) => Math.max(...along(i)) + AIR_M;
  return { lo: [low(0), low(1), Math.min(0, low(2) + AIR_M)], hi: [high(0), high(1), high(2)] };
}

/** Largest sheet that fits the width and the height. */
export function makeSheet(room: Room, width: number, maxHeight: number): Sheet {
  const { lo, hi } = extent(room);
  const across = hi[0] - lo[0], deep = hi[1] - lo[1], tall = hi[2] - lo[2];
  const byWidth = (width - GUTTER_LEFT - EDGE) / across;
  const byHeight = (maxHeight - 2 * EDGE - GAP) / (deep + tall);
  const scale = Math.max(8, Math.min(byWidth, byHeight));
  const w = across * scale;
  const x = Math.max(GUTTER_LEFT, (width + GUTTER_LEFT - EDGE - w) / 2);
  const plan = { x, y: EDGE, w, h: deep * scale };
  const elevation = { x, y: plan.y + plan.h + GAP, w, h: tall * scale };
  return { width, height: elevation.y + elevation.h + EDGE, scale, lo, hi, plan, elevation };
}

export function planX(s: Sheet, x: number): number { return s.plan.x + (x - s.lo[0]) * s.scale; }
export function planY(s: Sheet, y: number): number { return s.plan.y + (s.hi[1] - y) * s.scale; }
export function elevZ(s: Sheet, z: number): number { return s.elevation.y + (s.hi[2] - z) * s.scale; }

export function inPlan(s: Sheet, p: Vec3): Point { return [planX(s, p[0]), planY(s, p[1])]; }
export function inElevation(s: Sheet, p: Vec3): Point { return [planX(s, p[0]), elevZ(s, p[2])]; }

/** Upright rectangle between two corners, in whichever order they come. */
export function rect(a: Point, b: Point): Box {
  return { x: Math.min(a[0], b[0]), y: Math.min(a[1], b[1]), w: Math.abs(a[0] - b[0]), h: Math.abs(a[1] - b[1]) };
}

/** A solid's outlines, as points of the two views. */
export function planOf(s: Sheet, zone: Zone): Point[] { return zone.plan.map(([x, y]) => inPlan(s, [x, y, 0])); }
export function frontOf(s: Sheet, zone: Zone): Point[] { return zone.front.map(([x, z]) => inElevation(s, [x, 0, z])); }

/** The box around points, null where there are none. */
export function around(points: readonly Point[]): Box | null {
  const xs = points.map((p) => p[0]), ys = points.map((p) => p[1]);
  return points.length === 0 ? null : rect([Math.min(...xs), Math.min(...ys)], [Math.max(...xs), Math.max(...ys)]);
}

/** A part of the stage seen from the front: the width of its footprint, floor to ceiling. */
export function stageElevation(s: Sheet, stage: Stage): Box {
  const xs = stage.footprint.map((c) => c[0]!);
  return rect(inElevation(s, [Math.min(...xs), 0, stage.floor]), inElevation(s, [Math.max(...xs), 0, stage.ceiling]));
}

/** Whole metres inside a range. */
export function metres(lo: number, hi: number): number[] {
  const out: number[] = [];
  for (let m = Math.ceil(lo - 1e-9); m <= hi + 1e-9; m++) out.push(m);
  return out;
}

export function path(points: readonly Point[], closed: boolean): string {
  if (points.length === 0) return '';
  const d = points.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`).join('');
  return closed ? d + 'Z' : d;
}

/** An arrow from a to b: shaft and open head, '' if it would be shorter than its head. */
export function arrow(a: Point, b: Point, head = 7): string {
  const dx = b[0] - a[0], dy = b[1] - a[1];
  const n = Math.hypot(dx, dy);
  if (!(n > head)) return '';
  const ux = dx / n, uy = dy / n;
  const side = (k: number): Point => [b[0] - head * ux - k * head * 0.55 * uy, b[1] - head * uy + k * head * 0.55 * ux];
  return path([a, b], false) + path([side(1), b, side(-1)], false);
}

/** Where a box's name goes: inside, over several lines, or on one line above it where it would hide the box. */
export function placeLabel(text: string, box: Box, fontPx: number): { lines: string[]; x: number; y: number } {
  const charPx = fontPx * 0.56;
  const x = box.x + box.w / 2;
  const lines = wrapLabel(text, box.w - 4, charPx);
  const widest = Math.max(0, ...lines.map((line) => line.length)) * charPx;
  if (widest > box.w + fontPx || lines.length * (fontPx + 1) > box.h) return { lines: [text], x, y: box.y - fontPx / 2 };
  return { lines, x, y: box.y + box.h / 2 - ((lines.length - 1) * (fontPx + 1)) / 2 + fontPx * 0.36 };
}

/** Splits a label so that each line is about as wide as the box; words stay whole. */
export function wrapLabel(text: string, boxPx: number, charPx: number): string[] {
  const room = Math.max(1, Math.floor(boxPx / charPx));
  const lines: string[] = [];
  for (const word of text.split(/\s+/).filter(Boolean)) {
    const last = lines[lines.length - 1];
    if (last !== undefined && last.length + 1 + word.length <= room) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
}
