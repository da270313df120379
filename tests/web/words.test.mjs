// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { load } from './lib/bundle.mjs';

const { codeWords, reasonSentence, STATE_WORD, verdictSentence } = await load('common/words.ts');
const { changes } = await load('desk/events.ts');

test('a keep-out is called by its name', () => {
  assert.equal(reasonSentence({ code: 'keepout', text: 'x', zone: 'signal box' }), 'The signal box is in the way.');
  assert.equal(reasonSentence({ code: 'none', text: '', zone: null }), '');
  assert.equal(reasonSentence({ code: 'swing', text: 'the camera swings', zone: null }), 'The camera swings.');
  assert.equal(reasonSentence({ code: 'a-new-one', text: '', zone: null }), 'A new one.');
});

test('the state has the same word everywhere', () => {
  assert.deepEqual(STATE_WORD, { parked: 'Parked', stopped: 'Stopped', armed: 'Armed', running: 'Live', holding: 'Held' });
  assert.equal(codeWords('keepout'), 'keep-out');
  assert.equal(codeWords('rig-lost'), 'rig lost');
});

test('each verdict says what became of the wish', () => {
  const of = 'vote';
  assert.equal(verdictSentence({ of, verdict: 'counted' }), 'Your vote counts.');
  assert.equal(verdictSentence({ of, verdict: 'limited', wait_ms: 1234 }), 'Too fast. Wait 1.2 s, then try again.');
  assert.equal(verdictSentence({ of, verdict: 'refused', code: 'closed', text: 'The audience part is closed' }),
    'Your vote was not counted. The audience part is closed.');
  assert.match(verdictSentence({ of, verdict: 'overtaken' }), /next one/);
});

const scene = (over = {}) => ({
  state: 'running', lane: 'audience', mode: 'poll', rig: 'ok', scale: 1, reason: { code: 'none', text: '', zone: null },
  round: { id: 4, phase: 'open', last: { choice: 'stay', voices: 0 } },
  desk: { holder: null, stop: { confirmed: true } }, ...over,
});

test('nothing changed, nothing is said', () => assert.deepEqual(changes(scene(), scene()), []));

test('a stop, its reason and its confirmation are said in order', () => {
  const stopped = scene({
    state: 'stopped', lane: 'idle', reason: { code: 'stop-spotter', text: 'Stopped by the spotter', zone: null },
    desk: { holder: null, stop: { confirmed: false } },
  });
  assert.deepEqual(changes(scene(), stopped), ['Stopped: Stopped by the spotter.', 'Nobody is steering.']);
  assert.deepEqual(changes(stopped, { ...stopped, desk: { holder: null, stop: { confirmed: true } } }), ['The rig confirmed the stop.']);
});

test('a stop that the rig does not confirm is a line of its own, once', () => {
  const before = scene({ state: 'stopped', unconfirmed: false });
  const loud = scene({ state: 'stopped', unconfirmed: true });
  assert.match(changes(before, loud).join(), /STOP NOT CONFIRMED/);
  assert.deepEqual(changes(loud, loud), []);
});

test('control, modes, speed, rounds and limits each have their line', () => {
  const held = scene({ desk: { holder: 'dana', stop: { confirmed: true } } });
  assert.deepEqual(changes(scene(), held), ['dana took control.']);
  assert.deepEqual(changes(held, scene()), ['dana released control.']);
  assert.deepEqual(changes(scene(), scene({ mode: 'closed', scale: 0.5 })), ['Audience: Closed.', 'Audience speed: 50 %.']);
  const next = scene({ round: { id: 5, phase: 'open', last: { choice: 'dolly-in', voices: 20 } } });
  assert.deepEqual(changes(scene(), next), ['Round: In (20 voices).']);
  const held2 = scene({ reason: { code: 'keepout', text: '', zone: 'signal box' } });
  assert.deepEqual(changes(scene(), held2), ['keep-out (signal box) limits the motion.']);
  assert.deepEqual(changes(held2, held2), []);
  assert.deepEqual(changes(scene(), scene({ rig: 'lost' })), ['The rig does not answer.']);
});
