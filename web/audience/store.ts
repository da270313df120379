// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* What the audience page knows, as signals, and the one place that turns messages into it. */
import { batch, computed, signal } from '@preact/signals';
import { Link, type LinkState } from '../common/link';
import { say, type Choice, type FromEdge, type Notice, type Room, type Scene, type ToEdge, type Verdict } from '../common/messages';
import { Moving } from '../common/moving';
import { StickSender } from '../common/sender';
import { StickHub } from '../common/stickhub';
import { atRest } from '../common/stick';

export interface MyVote {
  readonly round: number;
  readonly choice: Choice;
  readonly standing: 'sent' | 'counted' | 'not counted';
}

interface Outcome {
  readonly round: number;
  readonly choice: Choice;
  readonly voices: number;
}

/** Scenes come ten a second; shown a little more than one interval late, so that two are always at hand. */
const SHOW_DELAY_MS = 160;
/** Longest time between two sends of a held stick; the gateway forgets it after 1.5 s. */
const RENEW_MS = 400;

export const link = signal<LinkState>({ is: 'connecting' });
export const room = signal<Room | null>(null);
export const scene = signal<Scene | null>(null);
export const verdict = signal<Verdict | null>(null);
export const myVote = signal<MyVote | null>(null);
export const outcome = signal<Outcome | null>(null);
/** No vote before this local time: the gateway asked for patience. */
export const waitUntil = signal(0);
export const hub = new StickHub();
export const moving = new Moving(SHOW_DELAY_MS);

/** A scene has come over the present connection, and the edge has not said since that core is gone. */
const fresh = signal(false);
export const notice = signal<Notice | null>(null);

export const online = computed(() => link.value.is === 'open' && fresh.value);
export const mode = computed(() => scene.value?.mode ?? 'closed');
export const running = computed(() => scene.value?.state === 'running');
export const canVote = computed(() =>
  online.value && running.value && mode.value === 'poll' && scene.value!.round.phase === 'open');
export const canSteer = computed(() => online.value && running.value && mode.value === 'blend');

const sender = new StickSender({ minGapMs: 250, renewMs: RENEW_MS });

const socket = new Link<FromEdge, ToEdge>({
  path: 'audience',
  protocol: 'steadyhand.audience.1',
  backoff: { baseMs: 800, capMs: 15_000 },
  silenceMs: 3000,
  finalCodes: [],
  onOpen: forget,
  onMessage: receive,
  onState: (state) => {
    if (state.is === link.peek().is && state.is === 'open') return;
    if (state.is !== 'open') forget();
    link.value = state;
  },
});

/** A new connection, or none: no wish of before is repeated, no stick is still held. */
function forget(): void {
  batch(() => {
    myVote.value = null;
    verdict.value = null;
    waitUntil.value = 0;
    fresh.value = false;
    notice.value = null;
  });
  sender.forget();
  hub.drop();
}

function receive(message: FromEdge): void {
  switch (message.type) {
    case 'welcome':
      // A quarter of the rate is left for votes and releases.
      sender.setLimits({ minGapMs: 1250 / Math.max(0.1, message.rate_per_s), renewMs: RENEW_MS });
      break;
    case 'room': room.value = message; break;
    case 'scene': takeScene(message); break;
    case 'verdict': takeVerdict(message); break;
    case 'notice': takeNotice(message); break;
  }
}

/** The edge lives, core does not: nothing that was asked is under way any more. */
function takeNotice(message: Notice): void {
  batch(() => { forget(); notice.value = message; });
}

function takeScene(next: Scene): void {
  const last = scene.peek();
  moving.push(next);
  batch(() => {
    if (last && next.round.id !== last.round.id) {
      if (last.round.phase !== 'off' && next.round.id === last.round.id + 1) {
        outcome.value = { round: last.round.id, choice: next.round.last.choice, voices: next.round.last.voices };
      }
      myVote.value = null;
      if (verdict.peek()?.of === 'vote') verdict.value = null;
    }
    scene.value = next;
    fresh.value = true;
    notice.value = null;
  });
}

function takeVerdict(v: Verdict): void {
  batch(() => {
    verdict.value = v;
    if (v.verdict === 'limited') {
      const until = performance.now() + v.wait_ms;
      sender.holdOff(until);
      if (v.of === 'vote') waitUntil.value = until;
    }
    const mine = myVote.peek();
    if (v.of === 'vote' && mine) myVote.value = { ...mine, standing: v.verdict === 'counted' ? 'counted' : 'not counted' };
  });
}

export function vote(choice: Choice): void {
  if (!canVote.peek() || performance.now() < waitUntil.peek()) return;
  const round = scene.peek()!.round.id;
  if (socket.send(say.vote(round, choice))) myVote.value = { round, choice, standing: 'sent' };
}

/** The held stick: sent when it changes, renewed while held, let go at once. */
function stickStep(): void {
  const v = canSteer.peek() ? hub.value.peek() : ([0, 0, 0] as const);
  const action = sender.step(v, performance.now());
  if (action === 'send') socket.send(say.stick(v));
  if (action === 'release') socket.send(say.release());
}

setInterval(stickStep, 50);
hub.value.subscribe((v) => { if (atRest(v)) stickStep(); });
