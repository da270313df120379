// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Loads a page's TypeScript module into Node: bundled into a temporary folder, then imported.
import { build } from 'esbuild';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

export const root = join(dirname(fileURLToPath(import.meta.url)), '../../..');

/** The exports of web/<module>. */
export async function load(module) {
  const folder = await mkdtemp(join(tmpdir(), 'steadyhand-web-'));
  const outfile = join(folder, 'module.mjs');
  try {
    await build({
      entryPoints: [join(root, 'web', module)], outfile, bundle: true, format: 'esm', target: 'es2020',
      jsx: 'automatic', jsxImportSource: 'preact', logLevel: 'warning',
    });
    return await import(pathToFileURL(outfile).href);
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

/** A small seeded generator (mulberry32), so that a failing case can be run again. */
export function seeded(seed) {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}
