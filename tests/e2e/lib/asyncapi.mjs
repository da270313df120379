// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The protocol description as tests use it: its messages with compiled payload schemas, and ways to spoil an example.
import Ajv from 'ajv';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { root } from './show.mjs';

export const document = JSON.parse(readFileSync(join(root, 'web', 'asyncapi.json'), 'utf8'));

/** What a local reference points at. */
export function resolve(ref) {
  const found = ref.replace(/^#\//, '').split('/').reduce((at, key) => at?.[key], document);
  if (found === undefined) throw new Error(`${ref} points at nothing`);
  return found.$ref ? resolve(found.$ref) : found;
}

const ajv = new Ajv({ strict: true, allErrors: true, strictTypes: false, strictRequired: false });

function compile(payload) {
  const whole = { ...payload, definitions: document.components.schemas };
  return ajv.compile(JSON.parse(JSON.stringify(whole).replaceAll('"#/components/schemas/', '"#/definitions/')));
}

/** { name, direction, type, examples, valid(payload), complaint() } of every message of a channel. */
export function messagesOf(channel) {
  const list = Object.values(document.operations).filter((o) => o.channel.$ref === `#/channels/${channel}`);
  return list.flatMap((operation) =>
    operation.messages.map(({ $ref }) => {
      const message = resolve($ref);
      const valid = compile(message.payload);
      return {
        name: $ref.split('/').at(-1),
        direction: operation.action,
        type: message.name,
        roles: message['x-roles'],
        examples: message.examples.map((e) => e.payload),
        valid,
        complaint: () => JSON.stringify(valid.errors),
      };
    }));
}

const WRONG = [null, true, [], {}, [0], 'nonsense', -2, 1.5, 1e300];

/** Copies of an example with one thing wrong each: something missing, something more, something else. */
export function spoiled(message, example) {
  const keys = Object.keys(example);
  const copies = [{ ...example, extra: 1 }];
  for (const key of keys) {
    const rest = { ...example };
    delete rest[key];
    copies.push(rest);
    for (const value of WRONG) copies.push({ ...example, [key]: value });
  }
  return copies.filter((copy) => !message.valid(copy));
}

/** Holds every message heard against the description; remembers which were. */
export class Listener {
  constructor(channel) {
    this.known = messagesOf(channel).filter((m) => m.direction === 'send');
    this.heard = new Map();
    this.complaints = [];
  }

  take(message) {
    const { at, ...payload } = message; // `at` is when the client heard it
    if (payload.type === 'closed') return;
    const like = this.known.filter((m) => m.type === payload.type);
    const fits = like.find((m) => m.valid(payload));
    if (fits) this.heard.set(fits.name, (this.heard.get(fits.name) ?? 0) + 1);
    else if (this.complaints.length < 10) this.complaints.push(`${JSON.stringify(payload).slice(0, 400)}: ${like.map((m) => m.complaint())}`);
  }
}
