// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * Writes web/common/protocol.ts, the messages as TypeScript, from web/asyncapi.json:  node web/types.mjs
 * A test fails when the two differ, so the pages cannot speak another protocol than the one described.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const web = dirname(fileURLToPath(import.meta.url));
const LINE = 90; // a longer object has one field a line
const SCHEMA = '#/components/schemas/';

const HEAD = `// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* Made by web/types.mjs from web/asyncapi.json, where every field is described. Do not edit. */

`;

/** "scene-desk" -> "SceneDesk" */
const typeName = (name) => name.replace(/(^|-)([a-z0-9])/g, (_all, _dash, c) => c.toUpperCase());
const key = (name) => (/^[A-Za-z_$][\w$]*$/.test(name) ? name : JSON.stringify(name));

function object(schema, indent) {
  if (!schema.properties) return `{ readonly [key: string]: ${type(schema.additionalProperties ?? {}, indent)} }`;
  const inner = `${indent}  `;
  const fields = Object.entries(schema.properties).map(([name, s]) =>
    `readonly ${key(name)}${schema.required?.includes(name) ? '' : '?'}: ${type(s, inner)}`);
  const line = `{ ${fields.join('; ')} }`;
  if (line.length <= LINE && !line.includes('\n')) return line;
  return `{\n${fields.map((field) => `${inner}${field};\n`).join('')}${indent}}`;
}

function array(schema, indent) {
  const item = type(schema.items ?? {}, indent);
  const fixed = schema.minItems !== undefined && schema.minItems === schema.maxItems && schema.minItems <= 3;
  if (fixed) return `readonly [${new Array(schema.minItems).fill(item).join(', ')}]`;
  return `readonly ${/[|{ ]/.test(item) ? `(${item})` : item}[]`;
}

const SIMPLE = { string: 'string', number: 'number', integer: 'number', boolean: 'boolean', null: 'null' };

function type(schema, indent = '') {
  if (schema.$ref) return typeName(schema.$ref.slice(SCHEMA.length));
  if ('const' in schema) return JSON.stringify(schema.const);
  if (schema.enum) return schema.enum.map((v) => JSON.stringify(v)).join(' | ');
  const any = schema.oneOf ?? schema.anyOf;
  if (any) return any.map((s) => type(s, indent)).join(' | ');
  if (Array.isArray(schema.type)) return schema.type.map((t) => type({ ...schema, type: t }, indent)).join(' | ');
  if (schema.type === 'object') return object(schema, indent);
  if (schema.type === 'array') return array(schema, indent);
  return SIMPLE[schema.type] ?? 'unknown';
}

/** The messages of an operation, as one union. */
function union(api, operation) {
  const names = api.operations[operation].messages.map(({ $ref }) => typeName(`${$ref.split('/').pop()}-message`));
  return names.join(' | ');
}

export function protocolTypes(api) {
  const parts = Object.entries(api.components.schemas).map(([name, s]) => `export type ${typeName(name)} = ${type(s)};\n`);
  for (const [name, m] of Object.entries(api.components.messages)) {
    parts.push(`export type ${typeName(`${name}-message`)} = ${type(m.payload)};\n`);
  }
  parts.push(`export type ToEdge = ${union(api, 'hear-audience')};\n`, `export type FromEdge = ${union(api, 'tell-audience')};\n`);
  parts.push(`export type ToCore = ${union(api, 'hear-desk')};\n`, `export type FromCore = ${union(api, 'tell-desk')};\n`);
  return HEAD + parts.join('\n');
}

export const readProtocol = () => JSON.parse(readFileSync(join(web, 'asyncapi.json'), 'utf8'));

if (process.argv[1] && resolve(process.argv[1]) === fileURLToPath(import.meta.url)) {
  writeFileSync(join(web, 'common/protocol.ts'), protocolTypes(readProtocol()));
}
