// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The desk: one screen for the person who answers for the motion. STOP is the bottom edge of it, always. */
import { effect, signal, useComputed } from '@preact/signals';
import { render, type JSX } from 'preact';
import { useRef } from 'preact/hooks';
import { Drawing } from '../common/drawing';
import { GamepadHand } from '../common/gamepad';
import { LinkShape, StateShape } from '../common/icons';
import type { SceneDesk } from '../common/messages';
import { CATEGORY_MEANS, deskReason, STATE_MEANS, STATE_WORD, steering, UNCONFIRMED } from '../common/words';
import { Audience, Driving, Refusal, Restart, Who } from './controls';
import { Head } from './head';
import { Clearance, Cords, Crowd, Events, Machinery, Reasons } from './instruments';
import { Limits } from './limits';
import {
  alive, hub, link, moving, pass, quality, room, scene, stop, stopping, tryAgain, type Stopping,
} from './store';

const STOP_BUTTON = 1; // right face button of a standard pad
const gamepad = new GamepadHand(hub, (button) => { if (button === STOP_BUTTON) stop(); });

/* Escape stops, whatever has the focus; no control of the page uses it for anything else. */
addEventListener('keydown', (event) => {
  if (event.key !== 'Escape' || event.repeat) return;
  event.preventDefault();
  stop();
}, { capture: true });

const drawingHeight = signal(600);
const BANNER_PX = 52;
function measure(): void {
  const rest = 240 + (alive.value ? 0 : BANNER_PX);
  drawingHeight.value = innerWidth >= 900 ? Math.max(360, innerHeight - rest) : 430;
}
effect(measure);
addEventListener('resize', measure);

function Banner(): JSX.Element | null {
  if (alive.value) return null;
  return (
    <div class="banner" role="alert">
      <strong>NOT CONNECTED – STOP HERE DOES NOTHING</strong>
      <span>{bannerWords()} Use the wired emergency stop.</span>
      {link.value.is === 'closed' && <button type="button" class="plain" onClick={tryAgain}>Try again</button>}
    </div>
  );
}

/** What it is stopped by, in one place and in words that nobody overlooks. */
function Unconfirmed(): JSX.Element | null {
  if (!alive.value || scene.value?.unconfirmed !== true) return null;
  return <p class="unconfirmed" role="alert">{UNCONFIRMED}</p>;
}

function bannerWords(): string {
  if (!pass.value) return 'This page has no pass: open the desk address that the show prints when it starts.';
  const state = link.value;
  switch (state.is) {
    case 'closed': return `Your pass was not accepted${state.reason ? ` (${state.reason})` : ''}.`;
    case 'connecting': return 'Connecting.';
    case 'waiting': return 'The connection is lost; trying again.';
    case 'open': return 'The other side does not answer.';
  }
}

function Header(): JSX.Element {
  const s = scene.value;
  const state = s?.state ?? 'stopped';
  const up = alive.value;
  const rig = s?.rig ?? 'lost';
  return (
    <header class="titleblock">
      <div class={`state ${up ? state : 'unknown'}`}>
        <StateShape state={state} /><span class="stateword">{up ? STATE_WORD[state] : 'Unknown'}</span>
      </div>
      <div class="cell"><h1>{room.value?.name ?? 'Steadyhand desk'}</h1><Who /></div>
      <div class="cell"><h2>Steering</h2><p>{s && up ? steering(s) : 'unknown'}</p></div>
      <div class={`cell rig ${up ? rig : 'unknown'}`}><h2>Rig</h2><p><LinkShape up={up && rig === 'ok'} /> {up ? `${rig}${s && rig !== 'lost' ? s.powered ? ', powered' : ', no power' : ''}` : 'unknown'}</p></div>
      <div class={`cell rig ${up ? 'ok' : 'lost'}`}><h2>This desk</h2><p><LinkShape up={up} /> {up ? `alive, ${quality.value?.medianMs.toFixed(0) ?? '–'} ms` : 'not connected'}</p></div>
    </header>
  );
}

function means(s: SceneDesk): string {
  return s.category === null ? STATE_MEANS[s.state] : CATEGORY_MEANS[s.category];
}

function Why(): JSX.Element {
  const s = scene.value;
  const kind = !s || !alive.value ? '' : s.state !== 'running' ? ' still' : deskReason(s) ? ' held' : '';
  const text = !s ? 'Waiting for the first scene.' : !alive.value ? 'The drawing shows where the camera was when the connection broke.'
    : deskReason(s) || (s.state === 'running' ? 'The camera does as asked.' : '');
  return (
    <div class={`why${kind}`}>
      <span class="tab" aria-hidden="true" />
      <p><strong>{text}</strong> {s && alive.value && s.state !== 'running' ? means(s) : ''}</p>
    </div>
  );
}

const STOP_SAYS: Readonly<Record<Stopping, string>> = {
  'no': 'Press at any time, or Escape',
  'sent': 'Stopping…',
  'confirmed': 'Stop confirmed by the rig',
  'not sent': 'NOT SENT. Use the wired emergency stop',
  'unknown': 'Connection lost: not known whether the stop arrived. Use the wired emergency stop',
};

const isPress = (event: KeyboardEvent): boolean => event.code === 'Enter' || event.code === 'NumpadEnter' || event.code === 'Space';

function StopBar(): JSX.Element {
  const touched = useRef(false); // a click without a touch comes from an assistive tool, and counts as well
  const says = useComputed(() => {
    if (!alive.value && stopping.value === 'no') return 'STOP HERE DOES NOTHING';
    if (stopping.value === 'no' && scene.value?.state === 'stopped') return 'The camera is stopped';
    return STOP_SAYS[stopping.value];
  });
  return (
    <footer class="stopbar">
      <button type="button" class={`stop${alive.value ? '' : ' dead'}`} aria-keyshortcuts="Escape"
        onPointerDown={(event) => { if (event.button === 0) { touched.current = true; stop(); } }}
        onClick={() => { if (!touched.current) stop(); touched.current = false; }}
        onKeyDown={(event) => { if (isPress(event)) { event.preventDefault(); if (!event.repeat) stop(); } }}
        onKeyUp={(event) => { if (isPress(event)) event.preventDefault(); }}>
        <span class="caption"><b>software stop</b><span class="fine">Not an emergency stop device. Keep a wired emergency stop within reach of operator and spotter.</span></span>
        <span class="word">STOP</span>
        <span class="says" role="status">{says}</span>
      </button>
    </footer>
  );
}

function Announcer(): JSX.Element {
  const text = useComputed(() => !alive.value ? 'Not connected. Stop here does nothing.'
    : !scene.value ? '' : scene.value.unconfirmed ? UNCONFIRMED : `${STATE_WORD[scene.value.state]}. ${steering(scene.value)}.`);
  return <p class="unseen" aria-live="assertive">{text}</p>;
}

function Page(): JSX.Element {
  return (
    <div class={alive.value ? 'desk' : 'desk dead'}>
      <div class="top"><Banner /><Unconfirmed /><Header /></div>
      <main>
        <section class="sheet" aria-label="Where the camera is">
          {room.value ? <Drawing room={room.value} scene={scene} moving={moving} maxHeight={drawingHeight.value} detail stale={!alive.value} />
            : <div class="drawing empty" />}
          <Why />
        </section>
        <div class="controls"><Restart /><Refusal /><Driving gamepad={gamepad} /><Head /><Audience /><Limits /></div>
        <div class="instruments">
          <Clearance /><Reasons /><Cords /><Crowd /><Events /><Machinery />
          <p class="caution">Suspended load. Nobody under the camera or inside the swing area unless the risk assessment allows it.</p>
        </div>
      </main>
      <StopBar />
      <Announcer />
    </div>
  );
}

effect(() => {
  document.title = alive.value && scene.value ? `${STATE_WORD[scene.value.state]} · Desk` : 'NOT CONNECTED · Desk';
});
const mount = document.getElementById('page')!;
mount.textContent = '';
render(<Page />, mount);
