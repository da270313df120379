// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// web/asyncapi.json is what the gateway really speaks: what it describes is understood, what it forbids is refused, and
// whatever the gateway says is described.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { document, Listener, messagesOf, resolve, spoiled } from './lib/asyncapi.mjs';
import { Desk, deskFor, later, showFor, sleep, test, until, Viewer } from './lib/show.mjs';

const both = ['audience', 'desk'];
const VERDICTS = ['counted', 'limited', 'overtaken', 'refused'];

/** Answers fast enough not to be the thing under test. */
function hurried(file) {
  file.audience.wishes_per_s = 100;
  file.audience.wish_burst = 100;
}

test('the description holds together', () => {
  assert.equal(document.asyncapi, '3.0.0');
  const refs = JSON.stringify(document).match(/"\$ref": ?"[^"]+"/g);
  assert.ok(refs.length > 50);
  for (const ref of refs) resolve(JSON.parse(`{${ref}}`).$ref);
  const used = new Set(both.flatMap((c) => messagesOf(c).map((m) => m.name)));
  assert.deepEqual([...used].sort(), Object.keys(document.components.messages).sort(), 'every message belongs to an operation');
  for (const channel of both) {
    const listed = Object.keys(document.channels[channel].messages).sort();
    assert.deepEqual(messagesOf(channel).map((m) => m.name).sort(), listed, channel);
  }
});

test('every example is as described, and every spoiled one is not', () => {
  for (const message of both.flatMap(messagesOf)) {
    assert.ok(message.examples.length > 0, `${message.name} has an example`);
    for (const example of message.examples) {
      assert.ok(message.valid(example), `${message.name}: ${message.complaint()}`);
      assert.equal(example.type, message.type);
      if (message.direction === 'receive') assert.ok(spoiled(message, example).length >= 8, `${message.name} is strict`);
    }
  }
});

async function verdictOn(viewer, text) {
  const verdict = viewer.next(`a verdict on ${text}`, (m) => m.type === 'verdict');
  viewer.sendRaw(text);
  return verdict;
}

test('the edge understands what is described and refuses the rest', async (t) => {
  const show = await showFor(t, hurried);
  const viewer = await new Viewer(show.audience).opened;
  later(t, () => viewer.close());
  for (const message of messagesOf('audience').filter((m) => m.direction === 'receive')) {
    for (const example of message.examples) {
      const good = await verdictOn(viewer, JSON.stringify(example));
      assert.equal(good.of, message.type, `${JSON.stringify(example)}: ${JSON.stringify(good)}`);
      for (const bad of spoiled(message, example)) {
        const verdict = await verdictOn(viewer, JSON.stringify(bad));
        assert.deepEqual([verdict.verdict, verdict.of, verdict.code], ['refused', 'message', 'malformed'], JSON.stringify(bad));
        await sleep(10);
      }
    }
  }
});

/** What the desk answers to `text` before it answers the beat sent behind it: refusals, in order. */
async function refusalsOf(desk, text, n) {
  const refusals = [];
  const note = (m) => m.type === 'refused' && refusals.push(m);
  desk.listeners.add(note);
  const beat = desk.next(`the beat behind ${text}`, (m) => m.type === 'beat' && m.n === n);
  desk.sendRaw(text);
  desk.send({ type: 'beat', n });
  await beat;
  desk.listeners.delete(note);
  return refusals;
}

test('the desk understands what is described and refuses the rest', async (t) => {
  const show = await showFor(t);
  const desk = await deskFor(t, show);
  desk.fallSilent(); // its own beats would overtake those counted here: only the newest comes back
  let n = 1000;
  for (const message of messagesOf('desk').filter((m) => m.direction === 'receive')) {
    for (const example of message.examples) {
      if (message.type !== 'hello' && message.type !== 'beat') {
        const said = await refusalsOf(desk, JSON.stringify(example), n++);
        assert.ok(!said.some((r) => ['malformed', 'unknown'].includes(r.code)), `${JSON.stringify(example)}: ${JSON.stringify(said)}`);
      }
      for (const bad of spoiled(message, example)) {
        const said = await refusalsOf(desk, JSON.stringify(bad), n++); // and perhaps the tick's word on one before
        assert.ok(said.some((r) => ['malformed', 'unknown'].includes(r.code)), `${JSON.stringify(bad)}: ${JSON.stringify(said)}`);
        await sleep(12);
      }
    }
  }
});

function passFor(show, role) {
  const args = ['pass', show.files.show, '--role', role, '--name', role, '--state', show.files.state];
  return /sh1\.\S+/.exec(execFileSync(show.child.spawnfile, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] }))[0];
}

test('only the roles described may', async (t) => {
  const show = await showFor(t);
  let n = 1000;
  for (const role of ['operator', 'moderator', 'spotter']) {
    const desk = await deskFor(t, show, passFor(show, role));
    desk.fallSilent();
    for (const message of messagesOf('desk').filter((m) => m.direction === 'receive' && !['hello', 'beat'].includes(m.type))) {
      const said = await refusalsOf(desk, JSON.stringify(message.examples[0]), n++);
      assert.equal(said.some((r) => r.code === 'not-allowed'), !message.roles.includes(role), `${role} ${message.type}: ${JSON.stringify(said)}`);
    }
    await desk.close();
  }
});

/** Whatever the client hears from the start goes to the listener too. */
function overhear(client, listener) {
  client.listeners.add((m) => listener.take(m));
  return client;
}

/** Votes in time, too late, too fast and wrongly. */
async function misbehave(viewer) {
  await viewer.sceneWhere('an open round', (s) => s.round.phase === 'open');
  viewer.vote('truck-left');
  await sleep(200);
  viewer.vote('stay', viewer.scene.round.id - 1);
  await sleep(200);
  viewer.sendRaw('{"type":"vote"}');
  for (let i = 0; i < 30; i++) viewer.stick(0, 0, 0);
  await sleep(500);
}

test('whatever the gateway says is described, and all of it is said', async (t) => {
  const show = await showFor(t);
  const [toViewers, toDesks] = both.map((c) => new Listener(c));
  const viewer = await overhear(new Viewer(show.audience), toViewers).opened;
  later(t, () => viewer.close());
  const desk = overhear(new Desk(show.desk, show.operator_pass), toDesks);
  later(t, () => desk.close());
  await desk.welcomed;
  await desk.sceneWhere('a first scene', () => true);
  await desk.start();
  const verdicts = () => new Set(viewer.messages.filter((m) => m.type === 'verdict').map((m) => m.verdict));
  for (let i = 0; i < 10 && verdicts().size < VERDICTS.length; i++) await misbehave(viewer); // a vote may miss its round
  await desk.take();
  desk.hold(0.5);
  await desk.sceneWhere('the operator steering', (s) => s.lane === 'operator');
  desk.sendRaw('{"type":"go","now":true}');
  await desk.stop();
  const lost = viewer.next('the loss of core', (m) => m.type === 'notice');
  const { core } = await show.processes();
  process.kill(core, 'SIGKILL');
  await lost;
  await until('another core', async () => (await show.processes()).core !== core); // `run` has seen it die before it ends
  for (const listener of [toViewers, toDesks]) {
    assert.deepEqual(listener.complaints, []);
    assert.deepEqual(listener.known.map((m) => m.name).filter((name) => !listener.heard.has(name)), [], 'never heard');
  }
  assert.deepEqual([...verdicts()].sort(), VERDICTS);
});
