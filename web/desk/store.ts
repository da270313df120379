// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* What the desk knows, as signals, and the one place that talks to core. */
import { batch, computed, signal } from '@preact/signals';
import { Beats, BEAT_MS, type Quality } from '../common/beats';
import { HeadHub, STILL, type Rates } from '../common/headhub';
import { Link, type LinkState } from '../common/link';
import {
  say, type DeskWelcome, type FromCore, type Mode, type Refused, type Room, type SceneDesk, type ToCore, type Vec3,
} from '../common/messages';
import { Moving } from '../common/moving';
import { onNewPass, takePass } from '../common/pass';
import { atRest } from '../common/stick';
import { StickHub } from '../common/stickhub';
import { changes } from './events';

interface LogLine { readonly id: number; readonly time: string; readonly text: string }
export type Stopping = 'no' | 'sent' | 'confirmed' | 'not sent' | 'unknown';

const SHOW_DELAY_MS = 90; // scenes come 20 a second
const STICK_MS = 100;
const LOG_LINES = 40;
const PASS_REFUSED = 4003;

export const link = signal<LinkState>({ is: 'connecting' });
export const alive = signal(false);
export const quality = signal<Quality | null>(null);
export const welcome = signal<DeskWelcome | null>(null);
export const room = signal<Room | null>(null);
export const scene = signal<SceneDesk | null>(null);
export const refusal = signal<Refused | null>(null);
export const stopping = signal<Stopping>('no');
export const log = signal<readonly LogLine[]>([]);
export const hub = new StickHub();
export const headHub = new HeadHub();
export const moving = new Moving(SHOW_DELAY_MS);
export const pass = signal(takePass('desk'));

export const role = computed(() => welcome.value?.role ?? null);
/** Everything but STOP needs a living connection and the right role. */
export const isOperator = computed(() => alive.value && role.value === 'operator');
export const controlLost = computed(() => scene.value?.desk.lost === true);
export const mayModerate = computed(() => alive.value && (role.value === 'operator' || role.value === 'moderator'));
export const youHold = computed(() => alive.value && scene.value?.desk.you_hold === true);

const beats = new Beats();
let lines = 0;

export function note(text: string): void {
  const time = new Date().toTimeString().slice(0, 8);
  log.value = [{ id: ++lines, time, text }, ...log.peek()].slice(0, LOG_LINES);
}

const socket = pass.peek() ? new Link<FromCore, ToCore>({
  path: 'desk',
  protocol: 'steadyhand.desk.1',
  backoff: { baseMs: 250, capMs: 2000 },
  silenceMs: 2000,
  finalCodes: [PASS_REFUSED],
  onOpen: () => { beats.reset(); socket!.send(say.hello(pass.peek()!)); },
  onMessage: receive,
  onState: changeLink,
}) : null;

onNewPass('desk', (next) => {
  pass.value = next;
  if (socket) socket.restart();
  else location.reload();
});

function changeLink(state: LinkState): void {
  if (state.is === link.peek().is && state.is === 'open') return;
  if (state.is !== 'open') lose();
  link.value = state;
}

function letGo(): void { hub.drop(); headHub.drop(); }

function lose(): void {
  beats.reset();
  letGo();
  batch(() => {
    welcome.value = null;
    if (stopping.peek() === 'sent') stopping.value = 'unknown';
    checkAlive();
  });
}

function receive(message: FromCore): void {
  switch (message.type) {
    case 'welcome': welcome.value = message; beat(); break;
    case 'room': room.value = message; break;
    case 'scene': takeScene(message); break;
    case 'beat': beats.echo(message.n, performance.now()); checkAlive(); break;
    case 'stopped': stopping.value = 'confirmed'; break;
    case 'refused': refusal.value = message; note(`Refused (${message.of}): ${message.text}`); break;
  }
}

function takeScene(next: SceneDesk): void {
  const last = scene.peek();
  moving.push(next);
  batch(() => {
    if (last) for (const text of changes(last, next)) note(text);
    if (next.state !== 'stopped' && stopping.peek() === 'confirmed') stopping.value = 'no';
    scene.value = next;
  });
}

function checkAlive(): void {
  const now = beats.alive(performance.now());
  if (now === alive.peek()) return;
  batch(() => {
    alive.value = now;
    note(now ? 'Connected.' : 'NOT CONNECTED.');
    if (!now) letGo();
  });
}

function beat(): void {
  if (welcome.peek()) socket?.send(say.beat(beats.next(performance.now())));
  checkAlive();
  quality.value = beats.quality();
}

/* ---- what the desk asks ---- */

/** Tried even when the beats have ceased: it costs nothing, and the page says that it may do nothing. */
export function stop(): void {
  letGo();
  const sent = socket?.send(say.stop()) ?? false;
  stopping.value = sent && alive.peek() ? 'sent' : 'not sent';
  note(sent ? 'STOP pressed here.' : 'STOP pressed here, but NOT SENT.');
}

function ask(message: ToCore): void {
  refusal.value = null;
  if (alive.peek()) socket?.send(message);
}

/** The newest stop that this page shows. */
const stopSeen = (): number => scene.peek()?.desk.stop.count ?? 0;

export const reset = (): void => ask(say.reset(stopSeen()));
export const go = (): void => ask(say.go(stopSeen()));
export const arm = (): void => ask(say.arm(stopSeen()));
export const park = (): void => ask(say.park());
/** The button is there where it leads on; sent without waiting for an answer. */
export const hold = (): void => {
  letGo();
  refusal.value = null;
  const sent = socket?.send(say.hold()) ?? false;
  note(sent ? 'Hold pressed here.' : 'Hold pressed here, but NOT SENT.');
};
export const take = (): void => ask(say.take());
export const release = (): void => { letGo(); ask(say.release()); };
export const headHome = (): void => ask(say.headHome());
export const setSetup = (on: boolean): void => ask(say.setup(on));
export const limitSpeed = (lane: 'audience' | 'operator', speed: number): void => ask(say.limitSpeed(lane, speed));
export const setMode = (mode: Mode): void => ask(say.mode(mode));
export const setScale = (value: number): void => ask(say.scale(value));

/* ---- the stick ---- */

let sentStick: Vec3 = [0, 0, 0];

/** Held: every 100 ms, since core lets an old one lapse. Let go: once, at once. */
function sendStick(): void {
  if (!youHold.peek()) { sentStick = [0, 0, 0]; return; }
  const v = hub.value.peek();
  if (atRest(v) && atRest(sentStick)) return;
  if (socket?.send(say.stick(v))) sentStick = v;
}

/* ---- the head ---- */

let sentHead: Rates = STILL;

/** As the stick. */
function sendHead(): void {
  if (!youHold.peek()) { sentHead = STILL; return; }
  const r = headHub.value.peek();
  if (atRest(r) && atRest(sentHead)) return;
  if (socket?.send(say.head(r))) sentHead = r;
}

if (socket) {
  setInterval(beat, BEAT_MS);
  setInterval(checkAlive, 100);
  setInterval(sendStick, STICK_MS);
  setInterval(sendHead, STICK_MS);
  hub.value.subscribe((v) => { if (atRest(v)) sendStick(); });
  headHub.value.subscribe((r) => { if (atRest(r)) sendHead(); });
  document.addEventListener('visibilitychange', () => { if (!document.hidden) beat(); });
}

export function tryAgain(): void { socket?.restart(); }
