// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The session's limits: what is in force, the operator's speed, and set-up. */
import { useSignal } from '@preact/signals';
import type { JSX } from 'preact';
import { alive, isOperator, limitSpeed, role, room, scene, setSetup } from './store';

const MODE_SAYS = { setup: 'Set-up: people at the rig, slow', show: 'Show', low: 'Low flight: a spotter enables' } as const;

function Speed({ now, most, armed }: { now: number; most: number; armed: boolean }): JSX.Element {
  const dragged = useSignal<number | null>(null);
  const ceiling = role.value === 'operator' && !armed ? most : now; // others, and while it moves, only lower
  const shown = dragged.value ?? now;
  return (
    <label class="speedlimit">Operator's speed <b>{shown.toFixed(2)} m/s</b>
      <input type="range" min="0" max={most} step="0.01" value={shown} disabled={!alive.value}
        aria-valuetext={`${shown.toFixed(2)} metres a second`}
        onInput={(event) => { dragged.value = Math.min(ceiling, event.currentTarget.valueAsNumber); }}
        onChange={(event) => { dragged.value = null; limitSpeed('operator', Math.min(ceiling, event.currentTarget.valueAsNumber)); }} />
    </label>
  );
}

export function Limits(): JSX.Element | null {
  const limits = scene.value?.limits;
  const desk = scene.value?.desk;
  if (!limits || !desk || !room.value) return null;
  const armed = scene.value?.state !== 'stopped' && scene.value?.state !== 'parked';
  const spotter = desk.spotter;
  return (
    <section class="limits" aria-labelledby="limits-title">
      <h2 id="limits-title">Limits</h2>
      <p class="who">{MODE_SAYS[limits.mode]}{spotter ? ` (${spotter})` : ''}. At most {limits.speed_mps.toFixed(2)} m/s,
        between {limits.floor_m.toFixed(2)} and {limits.ceiling_m.toFixed(2)} m.</p>
      <Speed now={desk.speeds.operator} most={room.value.speed.operator} armed={armed} />
      <label class="setup"><input type="checkbox" checked={desk.setup} disabled={!isOperator.value || armed}
        onChange={(event) => setSetup(event.currentTarget.checked)} /> Set-up <small>{armed ? 'only while stopped or parked' : 'people at the rig: you alone, slow'}</small></label>
    </section>
  );
}
