// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* The audience page: what the camera does, why, and what this viewer may ask of it. */
import { effect, signal, useComputed } from '@preact/signals';
import { render, type JSX } from 'preact';
import { Drawing } from '../common/drawing';
import { GamepadHand } from '../common/gamepad';
import { StateShape } from '../common/icons';
import { StickPad } from '../common/stickpad';
import { count, STATE_MEANS, STATE_WORD } from '../common/words';
import { watchGamepadVotes } from './gamepadvotes';
import { LinkLine, RoundLine, Rules, VerdictLine, WhyLine } from './lines';
import { canSteer, canVote, hub, mode, moving, online, room, running, scene } from './store';
import { VotePad } from './votepad';

const gamepad = new GamepadHand(hub, watchGamepadVotes(hub));

/** The drawing leaves room for the pad below it on a phone, and takes the height on a desk. */
const drawingHeight = signal(400);
const wide = matchMedia('(min-width: 700px) and (orientation: landscape)'); // as in audience.css
function measure(): void {
  drawingHeight.value = wide.matches ? Math.max(220, innerHeight - 136) : Math.max(250, Math.min(430, innerHeight - 404));
}
measure();
addEventListener('resize', measure);

function Header(): JSX.Element {
  const s = scene.value;
  const state = s?.state ?? 'stopped';
  return (
    <header class="titleblock">
      <div class={`state ${online.value ? state : 'unknown'}`}>
        <StateShape state={state} />
        <span class="stateword">{online.value ? STATE_WORD[state] : 'Not connected'}</span>
      </div>
      <div class="about">
        <h1>{room.value?.name ?? 'Steadyhand'}</h1>
        <LinkLine />
      </div>
    </header>
  );
}

/** Viewers cannot do anything about it; but nothing that the page shows is then to be relied on. */
function Unconfirmed(): JSX.Element | null {
  if (!online.value || scene.value?.unconfirmed !== true) return null;
  return <p class="unconfirmed" role="alert">STOP NOT CONFIRMED – the people at the camera are being warned</p>;
}

function Closed(): JSX.Element {
  return (
    <div class="closed">
      <p><strong>The audience part is closed.</strong> Watch for now; the operator opens it.</p>
    </div>
  );
}

function Pad(): JSX.Element {
  const blend = useComputed(() => scene.value?.crowd.blend ?? ([0, 0, 0] as const));
  if (mode.value === 'closed') return <Closed />;
  if (mode.value === 'poll') return <div class={canVote.value ? 'pad' : 'pad off'}><RoundLine /><VotePad /></div>;
  const sticks = scene.value?.crowd.sticks ?? 0;
  return (
    <div class={canSteer.value ? 'pad' : 'pad off'}>
      <div class="roundwords">
        <span>Hold the stick: the camera follows the middle of all.</span>
        <span><b>{count(sticks, 'stick')}</b> held <span class="key-crowd" aria-hidden="true" /> all together</span>
      </div>
      <StickPad hub={hub} enabled={canSteer.value} crowd={blend} label="Your stick" />
    </div>
  );
}

function GamepadLine(): JSX.Element | null {
  const state = gamepad.state.value;
  if (state === 'none') return null;
  return <p class="hint">{state === 'claimed' ? 'Gamepad in use.' : 'Gamepad found: press any of its buttons to use it.'}</p>;
}

/** Said aloud once per change, not with every scene. */
function Announcer(): JSX.Element {
  const text = useComputed(() => !online.value ? 'Not connected.'
    : `${STATE_WORD[scene.value!.state]}. ${running.value ? '' : STATE_MEANS[scene.value!.state]} Audience: ${mode.value}.`);
  return <p class="unseen" aria-live="polite">{text}</p>;
}

function Page(): JSX.Element {
  return (
    <div class="audience">
      <Header />
      <Unconfirmed />
      <main>
        <section class="sheet" aria-label="Where the camera is">
          {room.value
            ? <Drawing room={room.value} scene={scene} moving={moving} maxHeight={drawingHeight.value} stale={!online.value} />
            : <div class="drawing empty" />}
          <WhyLine />
        </section>
        <section class="ask" aria-label="What you ask for">
          <Pad />
          <VerdictLine />
          <GamepadLine />
          <Rules />
        </section>
      </main>
      <Announcer />
    </div>
  );
}

effect(() => {
  const s = scene.value;
  document.title = `${online.value && s ? STATE_WORD[s.state] : 'Not connected'} · ${room.value?.name ?? 'Steadyhand'}`;
});
const mount = document.getElementById('page')!;
mount.textContent = '';
render(<Page />, mount);
