// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The schema that editors use, held against the loader: what the loader takes the schema takes, and of every file in the
// table of bad ones both say the same, unless the table says that only the loader can know.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { Ajv } from 'ajv';
import { root } from './lib/show.mjs';

const binary = process.env.STEADYHAND ?? process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');
const folder = mkdtempSync(join(tmpdir(), 'steadyhand-schema-'));
after(() => rmSync(folder, { recursive: true }));

const tables = join(root, 'tests', 'unit', 'show');
const readJson = (...path) => JSON.parse(readFileSync(join(...path), 'utf8'));
const good = readFileSync(join(tables, 'good.json'), 'utf8');
const valid = new Ajv({ strict: true, allErrors: true }).compile(readJson(root, 'deploy', 'schema', 'show.schema.json'));

function check(text) {
  const file = join(folder, 'show.json');
  writeFileSync(file, text);
  return spawnSync(binary, ['check', file], { encoding: 'utf8', timeout: 60000 });
}

function edited(row) {
  assert.ok(good.includes(row.replace), `${row.fault}: good.json has no ${row.replace}`);
  return good.replace(row.replace, () => row.by);
}

/** The schema's word on a text; null if it is not JSON at all. */
function schemaTakes(text) {
  try {
    return valid(JSON.parse(text));
  } catch {
    return null;
  }
}

const shows = readdirSync(join(root, 'deploy', 'shows')).filter((f) => f.endsWith('.json'));
for (const name of shows) {
  test(`${name} passes the schema and the loader, without a warning`, () => {
    const text = readFileSync(join(root, 'deploy', 'shows', name), 'utf8');
    assert.equal(schemaTakes(text), true, JSON.stringify(valid.errors, null, 2));
    const r = check(text);
    assert.equal(r.status, 0, r.stderr);
    assert.equal(r.stderr, '');
    assert.match(r.stdout, /0 errors, 0 warnings/);
  });
}

test('every bad file is refused by the loader, and by the schema where it can know', () => {
  const rows = readJson(tables, 'bad.json');
  assert.ok(rows.length >= 25 && shows.length > 0);
  for (const row of rows) {
    const text = edited(row);
    const r = check(text);
    assert.equal(r.status, 1, `${row.fault}: status ${r.status}\n${r.stderr}`);
    assert.ok(r.stderr.includes(`:${row.line}: ${row.pointer}: expected `), `${row.fault}\n${r.stderr}`);
    assert.match(r.stdout, new RegExp(`${row.errors} errors?, `), row.fault);
    const expected = { refused: false, 'loader only': true, 'not JSON': null }[row.schema];
    assert.notEqual(expected, undefined, row.fault);
    assert.equal(schemaTakes(text), expected, `${row.fault}: the schema says otherwise\n${JSON.stringify(valid.errors)}`);
  }
});

test('odd files pass both, with a warning', () => {
  for (const row of readJson(tables, 'odd.json')) {
    const r = check(edited(row));
    assert.equal(r.status, 0, `${row.fault}\n${r.stderr}`);
    assert.match(r.stdout, /0 errors, 1 warning:/);
    assert.ok(r.stderr.includes(`:${row.line}: warning: ${row.pointer}: `), `${row.fault}\n${r.stderr}`);
    assert.equal(schemaTakes(edited(row)), true, row.fault);
  }
});

test('every property of the schema has a description, and objects take no other keys', () => {
  let properties = 0;
  const walk = (schema, path) => {
    if (schema.type === 'object') assert.equal(schema.additionalProperties, false, path);
    for (const [key, property] of Object.entries(schema.properties ?? {})) {
      properties++;
      assert.ok(property.description?.length > 10, `${path}/${key}`);
      walk(property, `${path}/${key}`);
    }
    if (schema.items) walk(schema.items, `${path}/items`);
    (schema.oneOf ?? []).forEach((one, i) => walk(one, `${path}/${i}`)); // the shapes of a solid, the kinds of a tether
  };
  walk(valid.schema, '');
  assert.ok(properties > 250, `${properties} properties`);
});
