// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// node tests/proof/run.mjs [DRIVER...]: lets Frama-C's Eva analyse every driver of this folder together with the files
// of policy/ that it names, and holds what it could not show against alarms.txt. Prints TAP. What is shown, for which
// inputs, and how to read an alarm: alarms.txt and any.h.
//
// A driver names in its first comment, one a line:   analyse: FILE...     and, if it needs any,   options: ...
import { readFileSync, readdirSync, rmSync } from 'node:fs';
import { basename, join } from 'node:path';
import { find, root, run, sideBySide } from '../lib/tools.mjs';
import { rewrite } from './rewrite.mjs';
import { keyOf, readTriaged } from './triage.mjs';

const folder = join('tests', 'proof');
const scratch = join(root, 'build-proof');
const always = ['-c11', '-eva', '-warn-special-float', 'none', '-no-warn-invalid-bool'];
const HEADERS = '-include tests/proof/words.h -iquote build-proof/copy -I .';
const SECONDS = 300;

const drivers = readdirSync(join(root, folder))
  .filter((f) => f.endsWith('.c') && f !== 'libm.c')
  .map((f) => basename(f, '.c'))
  .sort();

/** The words after `key:` in the lines of a driver's first comments. */
function words(text, key) {
  const lines = [...text.matchAll(new RegExp(`^ \\* ${key}: (.*)$`, 'gm'))];
  return lines.flatMap((m) => m[1].trim().split(/\s+/));
}

const textOf = (name) => readFileSync(join(root, folder, `${name}.c`), 'utf8');

function command(name) {
  const text = textOf(name);
  const files = [join(folder, `${name}.c`), join(folder, 'libm.c'), ...words(text, 'analyse').map((f) => join('build-proof', 'copy', f))];
  const csv = join(scratch, `${name}.csv`);
  return { csv, args: [...always, ...words(text, 'options'), `-cpp-extra-args=${HEADERS}`, ...files, '-then', '-report-csv', csv] };
}

/** What was not shown, or was never looked at although a driver asks for it. */
function openProperties(csv) {
  const rows = readFileSync(csv, 'utf8').trimEnd().split('\n').slice(1);
  return rows
    .map((row) => row.split('\t'))
    .filter(([directory]) => !directory.startsWith('FRAMAC_SHARE'))
    .map(([directory, file, line, where, kind, status, property]) => ({ file: join(directory, file).replace('build-proof/copy/', ''), line: Number(line), where, kind, status, property }))
    .filter((p) => p.kind !== 'precondition') // they count at each call
    .filter((p) => (p.status === 'Dead' ? /must_/.test(p.kind) && p.file.endsWith('.c') : !['Valid', 'Considered valid'].includes(p.status)))
    .map((p) => ({ ...p, key: keyOf(p) }));
}

/** What makes the rest of a report worthless: code without a meaning, or that is never left. */
function complaints(output) {
  const bad = /missing-spec|implicit-function|NON TERMINATING|User Error|aborted|degenerat/;
  const lines = output.split('\n');
  return lines.flatMap((line, i) => (bad.test(line) ? [`${line} ${lines[i + 1] ?? ''}`] : []));
}

async function analyse(name) {
  const { csv, args } = command(name);
  rmSync(csv, { force: true });
  const started = performance.now();
  const r = await run('frama-c', args, { seconds: SECONDS });
  const seconds = ((performance.now() - started) / 1000).toFixed(1);
  const analysed = [...r.output.matchAll(/^\[eva:final-states\] Values at end of function (\w+?)(?:_\d+)?:/gm)].map((m) => m[1]);
  const ended = r.ok && analysed.includes('main');
  return { name, seconds, analysed, troubles: ended ? complaints(r.output) : [r.output.slice(-2000)], open: ended ? openProperties(csv) : [] };
}

const asked = process.argv.slice(2);
const wanted = asked.length > 0 ? asked : drivers;
rewrite([...new Set(wanted.flatMap((name) => words(textOf(name), 'analyse')))], join(scratch, 'copy'));
const results = await sideBySide(wanted.map((name) => () => analyse(name)), 2);
const triaged = readTriaged(join(root, folder, 'alarms.txt'));

let points = 0;
function point(ok, name, notes = []) {
  if (!ok) process.exitCode = 1;
  console.log(`${ok ? 'ok' : 'not ok'} ${++points} - ${name}`);
  for (const note of notes) console.log(`#   ${note}`);
}

const seen = new Set();
for (const r of results) {
  const fresh = r.open.filter((p) => !triaged.has(p.key));
  for (const p of r.open) seen.add(p.key);
  const known = r.open.length - fresh.length;
  point(r.troubles.length + fresh.length === 0, `${r.name}: nothing but ${known} known alarms, ${r.seconds} s`, [
    ...r.troubles,
    ...fresh.map((p) => `${p.file}:${p.line} ${p.status}: ${p.property}\n#     ${p.key}`),
  ]);
}
if (asked.length === 0) {
  const gone = [...triaged.keys()].filter((key) => !seen.has(key));
  point(gone.length === 0, 'every alarm in alarms.txt is still there', gone);
}
const analysed = new Set(drivers.flatMap((name) => words(textOf(name), 'analyse')));
const outside = new Set(readFileSync(join(root, folder, 'outside.txt'), 'utf8').match(/^policy\/.*$/gm).flatMap((line) => line.split(' ')));
const all = find('policy', (f) => f.endsWith('.c'));
const astray = [...all.filter((f) => analysed.has(f) === outside.has(f)), ...[...analysed, ...outside].filter((f) => !all.includes(f))];
point(astray.length === 0, 'every file of policy/ is analysed, or listed in outside.txt', astray);
console.log(`1..${points}`);
