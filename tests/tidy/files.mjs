// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The project's own files and their text: what git knows or would add, nothing generated.
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { dirname, extname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');

const listed = execFileSync('git', ['ls-files', '-z', '--cached', '--others', '--exclude-standard'], {
  cwd: root,
  encoding: 'utf8',
  maxBuffer: 1 << 24,
});
export const files = [...new Set(listed.split('\0'))].filter((f) => f && existsSync(join(root, f))).sort();

const cache = new Map();
export function text(file) {
  if (!cache.has(file)) cache.set(file, readFileSync(join(root, file), 'utf8'));
  return cache.get(file);
}

export function lines(file) {
  return text(file).split('\n');
}

/** A script without an extension is told by its first line. */
function isScript(file) {
  return extname(file) === '' && /^(deploy|tests|\.ci)\//.test(file) && text(file).startsWith('#!');
}

export const isC = (f) => /\.[ch]$/.test(f);
export const isWeb = (f) => /\.(ts|tsx|mjs|js)$/.test(f);
const isShell = (f) => f.endsWith('.sh') || isScript(f);
export const isSource = (f) => isC(f) || isWeb(f) || /\.(css|html)$/.test(f) || isShell(f);
export const isBinary = (f) => /\/corpus[^/]*\//.test(f) || /\.(png|ico|woff2|bin)$/.test(f);

/** C with comments, strings and characters blanked, line for line. */
export function bareC(file) {
  return text(file).replace(/\/\*[\s\S]*?\*\/|\/\/[^\n]*|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'/g, (m) =>
    m.replace(/[^\n]/g, ' '),
  );
}
