// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The right-hand column: what leads to motion and away from it, control of the camera, the audience's part. */
import { useSignal } from '@preact/signals';
import type { JSX } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import type { GamepadHand } from '../common/gamepad';
import type { Mode, StopState } from '../common/messages';
import { StickPad } from '../common/stickpad';
import { MODE_WORD } from '../common/words';
import { HoldButton } from './holdbutton';
import {
  alive, arm, controlLost, go, hold, hub, isOperator, mayModerate, park, refusal, release, reset, role, scene, setMode, setScale, take, welcome, youHold,
} from './store';

const GUARD_MS = 1000;

function goSays(state: StopState): string {
  if (state === 'armed' || state === 'holding') return 'Press and hold 1 s';
  return state === 'running' ? 'It is live' : state === 'parked' ? 'Arm first' : 'Reset first';
}

/** Whoever may sit at a desk may hold; all else is the operator's. Each is there only where it leads on. */
export function Restart(): JSX.Element {
  const state = scene.value?.state ?? 'stopped';
  const atRest = scene.value?.at_rest === true;
  const still = state === 'armed' || state === 'holding';
  return (
    <section class="restart" aria-label="Motion: reset, arm, go, hold, park">
      <button type="button" class="reset" disabled={!isOperator.value || state !== 'stopped' || !atRest} onClick={reset}>
        <span class="front"><b>Reset</b><small>{state === 'stopped' && !atRest ? 'Wait until it rests' : 'Reset doesn\'t start'}</small></span>
      </button>
      <HoldButton holdMs={GUARD_MS} enabled={isOperator.value && state === 'parked' && atRest} class="go arm" act={arm}>
        <b>Arm</b><small>{state !== 'parked' ? 'Only when parked' : atRest ? 'Press and hold 1 s' : 'Wait until it rests'}</small>
      </HoldButton>
      <HoldButton holdMs={GUARD_MS} enabled={isOperator.value && still} class="go" act={go}>
        <b>Go</b><small>{goSays(state)}</small>
      </HoldButton>
      <div class="pair">
        <button type="button" class="plain" disabled={!alive.value || !(still || state === 'running')} onClick={hold}>Hold</button>
        <button type="button" class="plain" disabled={!isOperator.value || !still || !atRest} onClick={park}>Park</button>
      </div>
    </section>
  );
}

export function Driving({ gamepad }: { gamepad: GamepadHand }): JSX.Element {
  const desk = scene.value?.desk;
  const holder = desk?.holder ?? null;
  const mine = youHold.value;
  const section = useRef<HTMLElement>(null);
  useEffect(() => { if (mine) section.current?.querySelector<HTMLElement>('.field')?.focus(); }, [mine]);
  const live = scene.value?.state === 'running';
  return (
    <section class="driving" aria-labelledby="driving-title" ref={section}>
      <div class="head">
        <h2 id="driving-title">Control</h2>
        {mine
          ? <button type="button" class="plain" onClick={release}>Release</button>
          : <button type="button" class="plain" disabled={!isOperator.value || holder !== null} onClick={take}>Take control</button>}
        {controlLost.value && <button type="button" class="plain" disabled={!isOperator.value} onClick={release}>Release</button>}
      </div>
      <p class="who">{whoHolds(mine, holder)}{mine && !live && ' The camera is held until Go.'}</p>
      <StickPad hub={hub} enabled={mine && live} label="Operator's stick" />
      <p class="hint">{stickHint(gamepad)}</p>
    </section>
  );
}

function whoHolds(mine: boolean, holder: string | null): string {
  if (mine) return 'You have control.';
  if (holder) return `${holder} has control.`;
  return controlLost.value
    ? 'Whoever had control is gone. The camera is held: take control, or release it to the audience.'
    : 'Nobody has control.';
}

function stickHint(gamepad: GamepadHand): string {
  const keys = 'Keys, while the stick has the focus: arrows or W A S D, Page Up and Page Down.';
  switch (gamepad.state.value) {
    case 'none': return keys;
    case 'unclaimed': return `${keys} Gamepad found: press any of its buttons to use it.`;
    case 'claimed': return `${keys} Gamepad in use; its right face button is STOP.`;
  }
}

const MODES: readonly [Mode, string][] = [['closed', 'viewers watch'], ['poll', 'vote for a step'], ['blend', 'middle of all sticks']];
const STEPS = [0.25, 0.5, 0.75, 1];

const MODE_PENDING_MS = 1000;

/** Shows a choice at once, and falls back to what core says if core does not follow. */
function usePendingMode(): [Mode, (mode: Mode) => void] {
  const asked = useSignal<Mode | null>(null);
  const actual = scene.value?.mode ?? 'closed';
  useEffect(() => { asked.value = null; }, [actual]);
  useEffect(() => {
    if (asked.value === null) return undefined;
    const timer = setTimeout(() => { asked.value = null; }, MODE_PENDING_MS);
    return () => clearTimeout(timer);
  }, [asked.value]);
  return [asked.value ?? actual, (mode) => { asked.value = mode; setMode(mode); }];
}

export function Audience(): JSX.Element {
  const [mode, ask] = usePendingMode();
  return (
    <section class="crowdpart" aria-labelledby="crowd-title">
      <h2 id="crowd-title">Audience</h2>
      <fieldset class="modes" disabled={!mayModerate.value}>
        <legend class="unseen">Audience mode</legend>
        {MODES.map(([m, says]) => (
          <label key={m} class={m === mode ? 'chosen' : ''}>
            <input type="radio" name="mode" checked={m === mode} disabled={m !== 'closed' && !isOperator.value} onChange={() => ask(m)} />
            <span><b>{MODE_WORD[m]}</b><small>{says}</small></span>
          </label>
        ))}
      </fieldset>
      <Scale />
    </section>
  );
}

function Scale(): JSX.Element {
  const now = scene.value?.scale ?? 0;
  const dragged = useSignal<number | null>(null);
  const ceiling = role.value === 'moderator' ? now : 1; // a moderator may only lower it
  const set = (value: number): void => { if (value <= ceiling) setScale(value); };
  const shown = dragged.value ?? now;
  return (
    <fieldset class="scale" disabled={!mayModerate.value}>
      <legend>Audience speed <b>{Math.round(shown * 100)} %</b></legend>
      <input type="range" min="0" max="1" step="0.05" value={shown} aria-label="Audience speed"
        aria-valuetext={`${Math.round(shown * 100)} percent`}
        onInput={(event) => { dragged.value = Math.min(ceiling, event.currentTarget.valueAsNumber); }}
        onChange={(event) => { dragged.value = null; set(event.currentTarget.valueAsNumber); }} />
      <div class="steps">
        {STEPS.map((s) => (
          <button type="button" key={s} class={`plain${Math.abs(s - now) < 0.005 ? ' chosen' : ''}`} disabled={s > ceiling}
            aria-pressed={Math.abs(s - now) < 0.005} onClick={() => set(s)}>{s * 100}</button>
        ))}
      </div>
    </fieldset>
  );
}

export function Refusal(): JSX.Element {
  const r = refusal.value;
  return <p class="refusal" role="alert">{r ? r.text || `Refused: ${r.code}` : ''}</p>;
}

export function Who(): JSX.Element {
  const w = welcome.value;
  return <p class="who">{w && alive.value ? `${w.name}, ${w.role}` : 'not signed in'}</p>;
}
