// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The head: buttons that turn it for as long as they are held, keys for the same, and the way home. */
import type { JSX } from 'preact';
import { useEffect } from 'preact/hooks';
import { headKey, STILL, type Rates } from '../common/headhub';
import { headHome, headHub, scene, youHold } from './store';

const BUTTONS: readonly (readonly [name: string, label: string, rates: Rates])[] = [
  ['left', '◀ Pan', [1, 0, 0, 0]],
  ['right', 'Pan ▶', [-1, 0, 0, 0]],
  ['up', '▲ Tilt', [0, 1, 0, 0]],
  ['down', '▼ Tilt', [0, -1, 0, 0]],
  ['wide', '– Zoom', [0, 0, 0, -1]],
  ['tight', '+ Zoom', [0, 0, 0, 1]],
];

function RateButton({ name, label, rates, enabled }: { name: string; label: string; rates: Rates; enabled: boolean }): JSX.Element {
  const letGo = (): void => headHub.set(name, STILL);
  const press = (): void => { if (enabled) headHub.set(name, rates); };
  const isPress = (event: KeyboardEvent): boolean => event.code === 'Space' || event.code === 'Enter';
  useEffect(() => { if (!enabled) letGo(); return letGo; }, [enabled]);
  return (
    <button type="button" class="plain rate" disabled={!enabled}
      onPointerDown={(event) => { if (event.button === 0) { event.currentTarget.setPointerCapture(event.pointerId); press(); } }}
      onPointerUp={letGo} onPointerCancel={letGo} onLostPointerCapture={letGo} onBlur={letGo}
      onContextMenu={(event) => event.preventDefault()}
      onKeyDown={(event) => { if (isPress(event)) { event.preventDefault(); if (!event.repeat) press(); } }}
      onKeyUp={(event) => { if (isPress(event)) { event.preventDefault(); letGo(); } }}>{label}</button>
  );
}

/** Nothing where the show has no head. */
export function Head(): JSX.Element | null {
  const head = scene.value?.head ?? null;
  if (!head) return null;
  const enabled = youHold.value && scene.value?.state === 'running';
  const key = (event: KeyboardEvent, down: boolean): void => {
    const rates = headKey(event.code);
    if (!rates || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    headHub.set(event.code, down && enabled ? rates : STILL);
  };
  return (
    <section class="headpart" aria-labelledby="head-title"
      onKeyDown={(event) => { if (!event.repeat) key(event, true); }} onKeyUp={(event) => key(event, false)}>
      <div class="head">
        <h2 id="head-title">Head</h2>
        <button type="button" class="plain" disabled={!enabled} onClick={headHome}>Home</button>
      </div>
      <div class="rates" role="group" aria-label="Hold to turn">
        {BUTTONS.map(([name, label, rates]) => <RateButton key={name} name={name} label={label} rates={rates} enabled={enabled} />)}
      </div>
      <p class="hint">Pan {head.pan_deg.toFixed(0)}°, tilt {head.tilt_deg.toFixed(0)}°, zoom {head.zoom.toFixed(1)}×. Keys, while one of these has the focus: I J K L, U and O.</p>
    </section>
  );
}
