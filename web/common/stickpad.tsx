// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * A stick on the screen: a field to drag in, a track for height, and a button for each direction for those who cannot
 * or would not drag. Keys work while the field has the focus. Everything ends in the hub; letting go, losing the
 * pointer or the focus is rest.
 */
import { useComputed, type ReadonlySignal } from '@preact/signals';
import type { JSX } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { Arrow } from './icons';
import type { Choice, Vec3 } from './messages';
import { fromKeys, isStickKey, REST } from './stick';
import type { StickHub } from './stickhub';
import { CHOICE_WORD } from './words';

interface PadProps {
  readonly hub: StickHub;
  readonly enabled: boolean;
  /** A second mark in the field: what the crowd together asks. */
  readonly crowd?: ReadonlySignal<Vec3> | undefined;
  readonly label: string;
}

export function StickPad({ hub, enabled, crowd, label }: PadProps): JSX.Element {
  useEffect(() => { if (!enabled) hub.drop(); }, [enabled, hub]);
  const push = (to: Exclude<Choice, 'stay'>, v: Vec3, place: string) =>
    <PushButton hub={hub} enabled={enabled} to={to} v={v} place={place} />;
  return (
    <div class={`stick${enabled ? '' : ' off'}`} role="group" aria-label={label}>
      {push('dolly-in', [0, 1, 0], 'in')}
      {push('truck-left', [-1, 0, 0], 'left')}
      <Field hub={hub} enabled={enabled} crowd={crowd} />
      {push('truck-right', [1, 0, 0], 'right')}
      {push('dolly-out', [0, -1, 0], 'back')}
      {push('pedestal-up', [0, 0, 1], 'up')}
      <Height hub={hub} enabled={enabled} crowd={crowd} />
      {push('pedestal-down', [0, 0, -1], 'down')}
    </div>
  );
}

interface DragOptions {
  readonly hub: StickHub;
  readonly source: string;
  readonly enabled: boolean;
  /** From a position in the element, each -1..1 with y up. */
  readonly map: (x: number, y: number) => Vec3;
}

/** Pointer capture, one pointer at a time; cancel, loss and a dropped hub all let go. */
function useDrag({ hub, source, enabled, map }: DragOptions) {
  const pointer = useRef<number | null>(null);
  useEffect(() => hub.dropped.subscribe(() => { pointer.current = null; }), [hub]);
  const move = (event: PointerEvent): void => {
    if (event.pointerId !== pointer.current) return;
    const box = (event.currentTarget as Element).getBoundingClientRect();
    const at = (v: number, from: number, size: number) => Math.min(1, Math.max(-1, ((v - from) / size) * 2 - 1));
    hub.set(source, map(at(event.clientX, box.left, box.width), -at(event.clientY, box.top, box.height)));
  };
  const end = (event: PointerEvent): void => {
    if (event.pointerId !== pointer.current) return;
    pointer.current = null;
    hub.set(source, REST);
  };
  return {
    onPointerDown: (event: PointerEvent) => {
      if (!enabled || pointer.current !== null || event.button !== 0) return;
      pointer.current = event.pointerId;
      (event.currentTarget as Element).setPointerCapture(event.pointerId);
      move(event);
    },
    onPointerMove: move,
    onPointerUp: end,
    onPointerCancel: end,
    onLostPointerCapture: end,
    onContextMenu: (event: Event) => event.preventDefault(),
  };
}

/** Held keys as a source, while the element has the focus. */
function useKeys(hub: StickHub, enabled: boolean) {
  const held = useRef(new Set<string>());
  const drop = (): void => { held.current.clear(); hub.set('keys', REST); };
  useEffect(() => hub.dropped.subscribe(() => held.current.clear()), [hub]);
  return {
    onKeyDown: (event: KeyboardEvent) => {
      if (!isStickKey(event.code) || event.ctrlKey || event.altKey || event.metaKey) return;
      event.preventDefault();
      if (!enabled || event.repeat) return;
      held.current.add(event.code);
      hub.set('keys', fromKeys(held.current));
    },
    onKeyUp: (event: KeyboardEvent) => {
      if (held.current.delete(event.code)) hub.set('keys', fromKeys(held.current));
    },
    onBlur: drop,
  };
}

type PartProps = Omit<PadProps, 'label'>;

function Field({ hub, enabled, crowd }: PartProps): JSX.Element {
  const drag = useDrag({ hub, source: 'field', enabled, map: (x, y) => [snap(x), snap(y), 0] });
  const keys = useKeys(hub, enabled);
  const x = useComputed(() => 50 + hub.value.value[0] * 42);
  const y = useComputed(() => 50 - hub.value.value[1] * 42);
  return (
    <div class="field" tabIndex={enabled ? 0 : -1} role="application" aria-roledescription="stick" aria-disabled={!enabled}
      aria-label="Stick. Hold arrow keys or W A S D; Page Up and Page Down, or R and F, for height." {...drag} {...keys}>
      <svg viewBox="0 0 100 100" aria-hidden="true">
        <path d="M50 6V94M6 50H94" class="cross" />
        <circle cx="50" cy="50" r="42" class="rim" />
        {crowd && <CrowdMark crowd={crowd} />}
        <line x1="50" y1="50" x2={x} y2={y} class="lever" />
        <circle cx={x} cy={y} r="9" class="knob" />
      </svg>
    </div>
  );
}

function CrowdMark({ crowd }: { crowd: ReadonlySignal<Vec3> }): JSX.Element {
  const at = useComputed(() => `translate(${50 + crowd.value[0] * 42} ${50 - crowd.value[1] * 42})`);
  return <path d="M0 -7L7 0L0 7L-7 0Z" transform={at} class="crowd" />;
}

function Height({ hub, enabled, crowd }: PartProps): JSX.Element {
  const drag = useDrag({ hub, source: 'height', enabled, map: (_x, y) => [0, 0, snap(y)] });
  const y = useComputed(() => 50 - hub.value.value[2] * 40);
  const other = useComputed(() => `translate(20 ${50 - (crowd?.value[2] ?? 0) * 40})`);
  return (
    <div class="height" {...drag}>
      <svg viewBox="0 0 40 100" preserveAspectRatio="none" aria-hidden="true">
        <path d="M20 6V94M8 50H32" class="cross" />
        <rect x="6" width="28" height="12" y={useComputed(() => y.value - 6)} class="knob" />
        {crowd && <path d="M0 -6L7 0L0 6L-7 0Z" transform={other} class="crowd" />}
      </svg>
    </div>
  );
}

/** A finger is never exactly in the middle. */
function snap(v: number): number { return Math.abs(v) < 0.08 ? 0 : v; }

interface PushProps {
  readonly hub: StickHub;
  readonly enabled: boolean;
  readonly to: Choice;
  readonly v: Vec3;
  readonly place: string;
}

/** Held down, it is full stick in its direction. */
function PushButton({ hub, enabled, to, v, place }: PushProps): JSX.Element {
  const source = `button-${place}`;
  const drag = useDrag({ hub, source, enabled, map: () => v });
  const isPress = (event: KeyboardEvent) => event.code === 'Space' || event.code === 'Enter';
  return (
    <button type="button" class={`push at-${place}`} disabled={!enabled} {...drag}
      onKeyDown={(event) => {
        if (!isPress(event)) return;
        event.preventDefault();
        if (!event.repeat) hub.set(source, v);
      }}
      onKeyUp={(event) => { if (isPress(event)) hub.set(source, REST); }}
      onBlur={() => hub.set(source, REST)}>
      <Arrow to={to} />{CHOICE_WORD[to]}
    </button>
  );
}
