// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The pages against the described protocol: their types are made from it, what they say is valid in it.
import Ajv from 'ajv/dist/2020.js';
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { protocolTypes, readProtocol } from '../../web/types.mjs';
import { load, root, seeded } from './lib/bundle.mjs';

const api = readProtocol();
const { CHOICES, parse, say } = await load('common/messages.ts');
const ajv = new Ajv({ strict: false });
ajv.addSchema({ $id: 'api', components: api.components });
const validator = (name) => ajv.compile({ $ref: `api#/components/messages/${name}/payload` });

test('web/common/protocol.ts is what web/types.mjs makes of web/asyncapi.json (run: node web/types.mjs)', () => {
  assert.equal(readFileSync(join(root, 'web/common/protocol.ts'), 'utf8'), protocolTypes(api));
});

const random = seeded(21);
const odd = [NaN, Infinity, -Infinity, -0, 1e-300, 5, -5, undefined];
const any = () => (random() < 0.4 ? odd[Math.floor(random() * odd.length)] : random() * 3 - 1.5);
const SAID = {
  'audience-vote': () => say.vote(Math.floor(random() * 4294967296), CHOICES[Math.floor(random() * CHOICES.length)]),
  'audience-stick': () => say.stick([any(), any(), any()]),
  'audience-release': say.release,
  'desk-hello': () => say.hello('sh1.operator.dana.1.AAAAAAAAAAA.AAAA'),
  'desk-beat': () => say.beat(Math.floor(random() * 1e6)),
  'desk-stop': say.stop,
  'desk-reset': () => say.reset(3),
  'desk-go': () => say.go(3),
  'desk-take': say.take,
  'desk-release': say.release,
  'desk-stick': () => say.stick([any(), any(), any()]),
  'desk-mode': () => say.mode(['closed', 'poll', 'blend'][Math.floor(random() * 3)]),
  'desk-scale': () => say.scale(any()),
  'desk-arm': () => say.arm(3),
  'desk-hold': say.hold,
  'desk-park': say.park,
  'desk-enable': () => ({ type: 'enable', on: random() < 0.5 }), // the stop page's own, below
  'desk-head': () => say.head([any(), any(), any(), any()]),
  'desk-head-home': say.headHome,
  'desk-limit': () => say.limitSpeed(random() < 0.5 ? 'audience' : 'operator', any()),
  'desk-setup': () => say.setup(random() < 0.5),
};

test('everything a page may say is said, and valid whatever hands and gamepads give', () => {
  const heard = ['hear-audience', 'hear-desk'].flatMap((o) => api.operations[o].messages.map((m) => m.$ref.split('/').pop()));
  assert.deepEqual(Object.keys(SAID).sort(), heard.sort());
  for (const [name, make] of Object.entries(SAID)) {
    const valid = validator(name);
    for (let i = 0; i < 300; i++) {
      const text = JSON.stringify(make());
      assert.ok(valid(JSON.parse(text)), `${name}: ${text}: ${ajv.errorsText(valid.errors)}`);
      assert.ok(text.length <= 256, 'longer than the demo show allows');
    }
  }
});

test('the check is no formality: a wrong word, a number out of range and a stray field are refused', () => {
  assert.equal(validator('audience-vote')({ ...say.vote(1, 'stay'), choice: 'up' }), false);
  assert.equal(validator('desk-stick')({ ...say.stick([0, 0, 0]), x: 1.01 }), false);
  assert.equal(validator('desk-stop')({ ...say.stop(), why: 'x' }), false);
});

test('the choices are in the order of the described tallies; every example parses', () => {
  assert.deepEqual(CHOICES, api.components.schemas.choice.enum);
  for (const [name, m] of Object.entries(api.components.messages)) {
    for (const { payload } of m.examples ?? []) assert.deepEqual(parse(JSON.stringify(payload)), payload, name);
  }
});

test('the stop page, which writes its few messages itself, writes them as described', async () => {
  const source = readFileSync(join(root, 'web/stop/stop.ts'), 'utf8');
  const said = [...source.matchAll(/type: '(\w+)'|"type":"(\w+)"/g)].map((m) => m[1] ?? m[2]);
  assert.deepEqual([...new Set(said)].sort(), ['beat', 'enable', 'hello', 'stop']);
  assert.match(source, /`\{"type":"enable","on":\$\{holding\}\}`/);
  assert.match(source, /let holding = (true|false);/);
});
