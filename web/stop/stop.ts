// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * The stop page: one control and its own few lines of socket code, so that nothing else of ours can break it. Alive
 * means that core echoed a beat within the last second, and nothing less. A stop is sent on touch-down, never kept
 * for later, and reported as done only when the rig has confirmed it.
 *
 * A spotter has a second surface, an enabling device: held, it lets the camera fly low. Whatever ends the touch ends the hold, and so does
 * a lost connection, a page that is not in front, a stop, and core if it hears nothing of it for a second.
 */
import { onNewPass, takePass } from '../common/pass';

const BEAT_MS = 250;
const LOST_MS = 1000;
const RETRY_MS = 700;
const REFUSED_RETRY_MS = 10_000;
const OVERDUE_MS = 1500;
const PASS_REFUSED = 4003;

const STATES: Readonly<Record<string, readonly [word: string, shape: string]>> = {
  parked: ['Parked', 'M2 10H22V15H2Z'],
  stopped: ['Stopped', 'M4 4H20V20H4Z'],
  armed: ['Armed', 'M12 2L22 12L12 22L2 12Z'],
  running: ['Live', 'M12 3A9 9 0 1 1 12 21A9 9 0 1 1 12 3Z'],
  holding: ['Held', 'M5 4H10V20H5ZM14 4H19V20H14Z'],
};

/** A stop pressed here: where it stands. */
type Pressed = 'none' | 'sent' | 'confirmed' | 'not sent' | 'unknown';

const el = (id: string): HTMLElement => document.getElementById(id)!;
const button = el('stop');
const surface = el('enable');

let pass = takePass('stop');
let socket: WebSocket | null = null;
let triedAt = -Infinity;
let retryAt = 0;
let closedAs = 0;
let beat = 0;
let answered = 0; // newest beat echoed
let sentAt: number[] = []; // by beat number, the last few
let aliveAt = -Infinity; // when the newest answered beat was sent
let signedIn = '';
let signedInAt = 0;
let state = '';
let atRest = false;
let unconfirmed = false;
let spotter = ''; // who holds, by core's word
let holding = false;
let mayHold = false;
let pressed: Pressed = 'none';
let pressedAt = 0;

function alive(): boolean { return performance.now() - aliveAt < LOST_MS; }

function connect(): void {
  drop();
  if (!pass) return;
  closedAs = 0;
  const url = new URL('desk', location.href);
  url.protocol = location.protocol === 'https:' ? 'wss:' : 'ws:';
  url.hash = '';
  const mine = new WebSocket(url.href, 'steadyhand.desk.1');
  socket = mine;
  triedAt = performance.now();
  retryAt = triedAt + 5000; // a handshake that hangs
  mine.onopen = () => { mine.send(JSON.stringify({ type: 'hello', pass })); };
  mine.onmessage = (event) => receive(String(event.data));
  mine.onclose = (event) => {
    drop();
    closedAs = event.code;
    if (closedAs === PASS_REFUSED) retryAt = performance.now() + REFUSED_RETRY_MS;
    show();
  };
}

/** Forgets the socket and all that it proved. */
function drop(): void {
  if (socket) {
    socket.onopen = socket.onmessage = socket.onclose = null;
    socket.close();
  }
  socket = null;
  holding = false;
  aliveAt = -Infinity;
  signedIn = '';
  sentAt = [];
  retryAt = performance.now() + RETRY_MS * (0.5 + Math.random());
  if (pressed === 'sent') pressed = 'unknown';
}

function receive(text: string): void {
  const m = JSON.parse(text) as Record<string, unknown>;
  if (m.type === 'welcome') {
    signedIn = `${m.name}, ${m.role}`;
    mayHold = m.role === 'spotter';
    signedInAt = performance.now();
    sendBeat();
  }
  if (m.type === 'beat') echo(Number(m.n));
  if (m.type === 'stopped' && pressed === 'sent') confirm();
  if (m.type === 'refused' && m.of === 'enable') holding = false;
  if (m.type === 'scene') {
    spotter = (m.desk as { spotter: string | null }).spotter ?? '';
    state = String(m.state);
    atRest = m.at_rest === true;
    unconfirmed = m.unconfirmed === true;
    if (state !== 'stopped' && pressed === 'confirmed') pressed = 'none';
  }
  show();
}

function echo(n: number): void {
  const at = sentAt[n];
  if (at === undefined) return;
  answered = n;
  aliveAt = Math.max(aliveAt, at);
}

function confirm(): void {
  pressed = 'confirmed';
  buzz([40, 60, 40]);
}

function sendBeat(): void {
  if (socket?.readyState !== WebSocket.OPEN || !signedIn) return;
  sentAt[++beat] = performance.now();
  delete sentAt[beat - 20];
  socket.send(JSON.stringify({ type: 'beat', n: beat }));
}

/** Said again with every beat while it lasts; let go is said once, and needs no answer: core forgets it by itself. */
function hold(on: boolean): void {
  if (on === holding || (on && !(alive() && mayHold))) return;
  holding = on;
  sayHold();
  show();
}

function sayHold(): void {
  if (socket?.readyState === WebSocket.OPEN && signedIn) socket.send(`{"type":"enable","on":${holding}}`);
}

/** Tried whenever there is a socket: at worst it does nothing, and the page says so. */
function stop(): void {
  const open = socket?.readyState === WebSocket.OPEN && signedIn !== '';
  if (open) socket!.send('{"type":"stop"}');
  pressed = open && alive() ? 'sent' : 'not sent';
  pressedAt = performance.now();
  hold(false);
  button.className = 'pressed';
  buzz(60);
  show();
  void keepAwake();
}

function buzz(pattern: number | number[]): void {
  if ('vibrate' in navigator) navigator.vibrate(pattern);
}

/* ---- what is shown ---- */

function write(id: string, text: string): void {
  if (el(id).textContent !== text) el(id).textContent = text;
}

function show(): void {
  const up = alive();
  document.body.className = up ? '' : 'dead';
  document.title = `${up ? STATES[state]?.[0] ?? '' : 'NOT CONNECTED'} · Stop`;
  write('linkwords', up ? 'Connected: the stop answers' : 'NOT CONNECTED – STOP HERE DOES NOTHING');
  // Each answered beat turns the mark: it moves only while core answers.
  el('pulse').setAttribute('d', up && answered % 2 ? 'M4 7L12 17L20 7' : up ? 'M4 17L12 7L20 17' : 'M4 12H20');
  const known = up ? STATES[state] : undefined;
  el('camera').className = known ? state : '';
  write('stateword', known ? known[0] : 'Unknown');
  el('shape').setAttribute('d', known ? known[1] : 'M10 4H14V14H10ZM10 17H14V21H10Z');
  write('answer', answer(up));
  const loud = up && unconfirmed;
  if (el('unconfirmed').hidden === loud) el('unconfirmed').hidden = !loud;
  write('note', note(up));
  write('caption', up ? 'software stop' : 'not connected');
  if (surface.hidden === mayHold) surface.hidden = !mayHold;
  const said = String(holding);
  if (surface.getAttribute('aria-pressed') !== said) surface.setAttribute('aria-pressed', said);
  write('enableword', holdWords(up));
}

function holdWords(up: boolean): string {
  if (!up) return 'Low flight: not connected';
  if (holding) return spotter ? 'LOW FLIGHT ALLOWED. Let go to end it.' : 'Asking…';
  return spotter ? `${spotter} holds: low flight allowed` : 'Hold to allow low flight';
}

function answer(up: boolean): string {
  const overdue = performance.now() - pressedAt > OVERDUE_MS;
  switch (pressed) {
    case 'sent': return overdue ? 'Not confirmed yet. Use the wired emergency stop.' : 'Stopping…';
    case 'confirmed':
      if (!up) return 'The rig had confirmed the stop before the connection broke.';
      return atRest ? 'Camera has stopped (confirmed by the rig).' : 'Stop confirmed by the rig. Coming to rest…';
    case 'not sent': return up ? '' : 'Not sent. Use the wired emergency stop.';
    case 'unknown': return 'Connection lost: not known whether the stop arrived. Use the wired emergency stop.';
    case 'none': return up && state === 'stopped' ? 'The camera is stopped.' : '';
  }
}

function note(up: boolean): string {
  if (up) return `Signed in as ${signedIn}. Keep this page in front and the phone awake.`;
  if (!pass) return 'This page has no pass: scan the code or open the stop address that the show prints when it starts.';
  if (closedAs === PASS_REFUSED) return 'The pass was not accepted. Ask for a new one.';
  return 'Trying to connect. Are you on the network of the show?';
}

/* ---- keeping the phone awake; beats decide all the same ---- */

async function keepAwake(): Promise<void> {
  try {
    if ('wakeLock' in navigator && !document.hidden) await navigator.wakeLock.request('screen');
  } catch {
    // Refused (low power, no gesture yet): the note asks the holder to keep the phone awake.
  }
}

/** Back in front: whatever the browser believes of the old socket, it must prove itself anew. */
function wake(): void {
  if (document.hidden) {
    hold(false);
    return;
  }
  void keepAwake();
  if (!alive() && performance.now() - triedAt > LOST_MS) connect();
}

let touched = false;
button.addEventListener('pointerdown', (event) => { event.preventDefault(); touched = true; stop(); });
// A click without a touch comes from an assistive tool, and counts as well.
button.addEventListener('click', () => { if (!touched) stop(); touched = false; });
surface.addEventListener('pointerdown', (event) => {
  event.preventDefault();
  surface.setPointerCapture(event.pointerId);
  hold(true);
});
for (const over of ['pointerup', 'pointercancel', 'lostpointercapture']) surface.addEventListener(over, () => hold(false));
for (const over of ['blur', 'pagehide']) addEventListener(over, () => hold(false));
// Keys work wherever the focus is: Enter and Space stop, even on the other control; E held enables.
addEventListener('keydown', (event) => {
  if (event.code === 'KeyE' && !event.repeat) hold(true);
  if ((event.key === 'Enter' || event.key === ' ') && !event.repeat) { event.preventDefault(); stop(); }
});
addEventListener('keyup', (event) => {
  if (event.key === ' ') event.preventDefault(); // else some browsers click as well
  if (event.code === 'KeyE') hold(false);
});
for (const over of ['pointerup', 'pointercancel', 'keyup', 'blur']) addEventListener(over, () => { button.className = ''; });
document.addEventListener('contextmenu', (event) => event.preventDefault());
document.addEventListener('visibilitychange', wake);
addEventListener('pageshow', wake);
addEventListener('online', wake);
onNewPass('stop', (next) => { pass = next; connect(); });

setInterval(() => {
  sendBeat();
  if (holding && !alive()) hold(false);
  if (holding) sayHold();
  const now = performance.now();
  const silent = now - Math.max(aliveAt, signedInAt) > 2 * LOST_MS;
  if (signedIn ? silent : now > retryAt) connect();
  show();
}, BEAT_MS);
connect();
void keepAwake();
