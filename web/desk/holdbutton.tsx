// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* A button that acts only when held without a break: by pointer, by Space or by Enter. */
import { useSignal } from '@preact/signals';
import type { ComponentChildren, JSX } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { Hold } from '../common/hold';

interface HoldButtonProps {
  readonly holdMs: number;
  readonly enabled: boolean;
  readonly class: string;
  readonly act: () => void;
  readonly children: ComponentChildren;
}

export function HoldButton({ holdMs, enabled, class: name, act, children }: HoldButtonProps): JSX.Element {
  const progress = useSignal(0);
  const hold = useRef(new Hold(holdMs)).current;
  const frame = useRef(0);
  const letGo = (): void => { hold.letGo(); cancelAnimationFrame(frame.current); progress.value = 0; };
  useEffect(() => { if (!enabled) letGo(); }, [enabled]);
  useEffect(() => {
    addEventListener('blur', letGo);
    return () => { removeEventListener('blur', letGo); letGo(); };
  }, []);
  const step = (): void => {
    const now = performance.now();
    progress.value = hold.progress(now);
    if (hold.done(now)) { letGo(); act(); return; }
    if (progress.value > 0 || hold.progress(now) < 1) frame.current = requestAnimationFrame(step);
  };
  const press = (): void => { if (enabled) { hold.press(performance.now()); step(); } };
  const isPress = (event: KeyboardEvent) => event.code === 'Space' || event.code === 'Enter';
  return (
    <button type="button" class={name} disabled={!enabled}
      onPointerDown={(event) => { if (event.button === 0) { event.currentTarget.setPointerCapture(event.pointerId); press(); } }}
      onPointerUp={letGo} onPointerCancel={letGo} onLostPointerCapture={letGo} onBlur={letGo}
      onContextMenu={(event) => event.preventDefault()}
      onKeyDown={(event) => { if (isPress(event)) { event.preventDefault(); if (!event.repeat) press(); } }}
      onKeyUp={(event) => { if (isPress(event)) { event.preventDefault(); letGo(); } }}>
      <svg class="holdbar" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect width={progress.value * 100} height="10" />
      </svg>
      <span class="front">{children}</span>
    </button>
  );
}
