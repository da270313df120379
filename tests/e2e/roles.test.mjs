// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Who may do what, and one holder at a time.
import assert from 'node:assert/strict';
import { assertMoves, assertStaysPut, crowdFor, Desk, deskFor, keepHolding, later, mint, refused, restOf, showFor, test, Viewer } from './lib/show.mjs';

async function closedWith(show, pass) {
  const desk = new Desk(show.desk, pass);
  await desk.opened;
  const gone = await desk.next('closed', (m) => m.type === 'closed');
  return gone.code;
}

test('a spotter can stop and hold, and nothing else', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const operator = await deskFor(t, show);
  const spotter = await deskFor(t, show, show.spotter_pass);
  await operator.start();
  for (const message of [{ type: 'take' }, { type: 'mode', mode: 'closed' }, { type: 'scale', value: 0.5 }, { type: 'stick', x: 1, y: 0, z: 0 }]) {
    const { code, text } = await refused(spotter, message);
    assert.ok(code && text.length > 5, JSON.stringify({ message, code, text }));
  }
  for (const type of ['reset', 'go', 'arm']) await refused(spotter, { type, stop: operator.scene.desk.stop.count });
  await refused(spotter, { type: 'park' });
  assert.equal(operator.scene.mode, 'blend');
  spotter.still();
  const held = await operator.sceneWhere('held by the spotter', (s) => s.state === 'holding');
  assert.equal(held.reason.code, 'hold-spotter');
  await refused(spotter, { type: 'go', stop: held.desk.stop.count });
  operator.go();
  await operator.sceneWhere('going on', (s) => s.state === 'running');
  await spotter.stop();
  const scene = await operator.sceneWhere('stopped by the spotter', (s) => s.state === 'stopped');
  assert.equal(scene.reason.code, 'stop-spotter');
  await refused(spotter, { type: 'reset', stop: scene.desk.stop.count });
  assert.equal(operator.scene.state, 'stopped');
  await operator.ready();
  await refused(spotter, { type: 'go', stop: scene.desk.stop.count });
  assert.equal(operator.scene.state, 'armed');
});

test('a reset and a go of somebody who has not seen the newest stop do nothing, and say so', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'closed'));
  const operator = await deskFor(t, show);
  const spotter = await deskFor(t, show, show.spotter_pass);
  await operator.start();
  const seen = operator.scene.desk.stop.count;
  await spotter.stop();
  await operator.sceneWhere('stopped', (s) => s.state === 'stopped');
  assert.equal((await refused(operator, { type: 'reset', stop: seen })).code, 'overtaken');
  assert.equal((await refused(operator, { type: 'go', stop: seen })).code, 'overtaken');
  assert.equal(operator.scene.state, 'stopped');
  await operator.start();
});

test('a moderator closes and slows the audience, and can neither open it nor make it faster', async (t) => {
  const show = await showFor(t);
  const operator = await deskFor(t, show);
  const moderator = await deskFor(t, show, mint(show, 'moderator', 'mo'));
  moderator.mode('closed');
  await operator.sceneWhere('closed', (s) => s.mode === 'closed');
  assert.equal((await refused(moderator, { type: 'mode', mode: 'blend' })).code, 'only-close');
  operator.mode('blend');
  await operator.sceneWhere('open', (s) => s.mode === 'blend');
  moderator.scale(0.4);
  await operator.sceneWhere('slower', (s) => Math.abs(s.scale - 0.4) < 1e-6);
  await refused(moderator, { type: 'scale', value: 0.8 });
  operator.scale(0.7);
  await operator.sceneWhere('faster again by the operator', (s) => Math.abs(s.scale - 0.7) < 1e-6);
  assert.equal((await refused(operator, { type: 'scale', value: 1.5 })).of, 'scale');
  await refused(moderator, { type: 'take' });
});

test('passes: forged, changed, for viewers, of another show, or none in time', async (t) => {
  const show = await showFor(t);
  const good = show.operator_pass;
  const parts = good.split('.');
  const changed = [...parts];
  changed[1] = 'spotter';
  const bad = {
    forged: good.slice(0, -2) + (good.endsWith('A') ? 'BB' : 'AA'),
    'another role': changed.join('.'),
    'a longer life': parts.map((p, i) => (i === 3 ? String(Number(p) + 1000) : p)).join('.'),
    viewer: mint(show, 'viewer', 'vi'),
    empty: '',
    nonsense: 'sh1.operator.dana',
  };
  for (const [what, pass] of Object.entries(bad)) assert.equal(await closedWith(show, pass), 4003, what);
  const other = await showFor(t);
  assert.equal(await closedWith(other, good), 4003, 'of another show');
  const since = performance.now();
  const silent = new Viewer(show.desk, { path: '/desk', subprotocol: 'steadyhand.desk.1' });
  await silent.opened;
  await silent.next('closed', (m) => m.type === 'closed');
  assert.ok(performance.now() - since > 1500, 'a stranger who says nothing has 2 s');
});

test('one holder at a time; the operator overrides the audience and gives back', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const first = await deskFor(t, show);
  const second = await deskFor(t, show, mint(show, 'operator', 'robin'));
  const viewers = await crowdFor(t, show, 10);
  later(t, keepHolding(viewers, -1, 0, 0));
  await first.start();
  await assertMoves(show, 0.1);
  await first.take();
  assert.equal((await refused(second, { type: 'take' })).code, 'held');
  await refused(second, { type: 'stick', x: 0, y: 1, z: 0 });
  await first.sceneWhere('the operator\'s lane', (s) => s.lane === 'operator');
  await restOf(show);
  await assertStaysPut(show, 1000);
  const before = (await show.judge.now()).pos;
  first.hold(0.8, 0, 0);
  await assertMoves(show, 0.3);
  assert.ok((await show.judge.now()).pos[0] > before[0] + 0.25, 'it goes where the operator holds, against the crowd');
  await first.release();
  const scene = await first.sceneWhere('the audience\'s lane again', (s) => s.lane === 'audience');
  assert.equal(scene.desk.holder, null);
  await second.take();
  assert.equal(second.scene.desk.holder, 'robin');
});

test('control whose holder dies or goes silent is lost, not handed on: the camera is held until somebody releases it', async (t) => {
  const show = await showFor(t, (file) => (file.audience.mode = 'blend'));
  const holder = await deskFor(t, show, mint(show, 'operator', 'robin'));
  const other = await deskFor(t, show);
  const viewers = await crowdFor(t, show, 10);
  later(t, keepHolding(viewers, 0, -1, 0));
  await other.start();
  for (const lose of ['stick', 'socket']) {
    await other.sceneWhere('nobody holds', (s) => s.desk.holder === null);
    const desk = lose === 'stick' ? holder : await deskFor(t, show, mint(show, 'operator', 'kim'));
    await desk.take();
    desk.hold(lose === 'stick' ? 0.5 : -0.5);
    await assertMoves(show, 0.1);
    if (lose === 'stick') desk.fallSilent();
    else desk.kill();
    await restOf(show);
    await other.sceneWhere('control is lost', (s) => s.desk.holder === null && s.desk.lost && s.lane === 'operator');
    await assertStaysPut(show, 1000);
  }
  other.send({ type: 'release' });
  await other.sceneWhere('the audience\'s lane', (s) => s.lane === 'audience' && !s.desk.lost);
  await assertMoves(show, 0.1);
});
