// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The keys by which alarms are known from one version of the code to the next, and the list of those that were looked at.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { root } from '../lib/tools.mjs';

const sources = new Map();

function lineOf(file, line) {
  if (!sources.has(file)) sources.set(file, readFileSync(join(root, file), 'utf8').split('\n'));
  return sources.get(file)[line - 1].trim().replace(/\s+/g, ' ');
}

/** File, function, kind and the line as it reads: no line numbers. */
export function keyOf({ file, line, where, kind }) {
  return [file, where.replace(/_\d+$/, ''), kind, lineOf(file, line)].join(' | ');
}

/** Blocks of a key and, indented below it, why it is no danger; several keys in a row share what is said below them. */
export function readTriaged(file) {
  const triaged = new Map();
  let keys = [];
  let said = true;
  for (const line of readFileSync(file, 'utf8').split('\n')) {
    if (line.startsWith('#') || line.trim() === '') continue;
    if (/^\s/.test(line)) {
      said = true;
      for (const key of keys) triaged.set(key, `${triaged.get(key)} ${line.trim()}`.trim());
      continue;
    }
    if (said) keys = [];
    said = false;
    keys.push(line.trim());
    if (triaged.has(line.trim())) throw new Error(`${file}: twice: ${line}`);
    triaged.set(line.trim(), '');
  }
  for (const [key, why] of triaged) if (why === '') throw new Error(`${file}: no reason is given for ${key}`);
  return triaged;
}
