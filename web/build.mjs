// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * Builds the pages into one flat folder:  node web/build.mjs [--out DIR]   (default: web/dist)
 * Nothing a page needs is loaded from elsewhere; scripts and styles are files of their own, so that a strict Content
 * Security Policy ("default-src 'self'", no inline anything) holds.
 */
import { build } from 'esbuild';
import { copyFile, mkdir, readFile, writeFile } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';

const web = dirname(fileURLToPath(import.meta.url));

const ENTRIES = [
  { in: join(web, 'audience/index.tsx'), out: 'audience' },
  { in: join(web, 'audience/audience.css'), out: 'audience' },
  { in: join(web, 'desk/index.tsx'), out: 'desk' },
  { in: join(web, 'desk/desk.css'), out: 'desk' },
  { in: join(web, 'stop/stop.ts'), out: 'stop' },
  { in: join(web, 'stop/stop.css'), out: 'stop' },
];

const COPIES = ['audience/index.html', 'desk/desk.html', 'stop/stop.html', 'common/icon.svg'];

function outDir(args) {
  const i = args.indexOf('--out');
  if (i >= 0 && args[i + 1] === undefined) throw new Error('--out needs a folder, for instance: --out /tmp/pages');
  return resolve(i >= 0 ? args[i + 1] : join(web, 'dist'));
}

/** The MIT licence asks that its text goes with the code: the bundles hold Preact and its signals. */
async function licences() {
  const parts = ['preact', '@preact/signals', '@preact/signals-core'].map(async (name) =>
    `${name}\n\n${await readFile(join(web, '../node_modules', name, 'LICENSE'), 'utf8')}`);
  return (await Promise.all(parts)).join('\n----\n\n');
}

export async function buildPages(out) {
  await mkdir(out, { recursive: true });
  const result = await build({
    entryPoints: ENTRIES, outdir: out, bundle: true, minify: true, format: 'iife', metafile: true,
    target: ['es2020', 'safari14', 'chrome90', 'firefox90'], jsx: 'automatic', jsxImportSource: 'preact',
    legalComments: 'none', charset: 'utf8', logLevel: 'warning',
  });
  for (const page of COPIES) await copyFile(join(web, page), join(out, page.split('/').pop()));
  await writeFile(join(out, 'licences.txt'), await licences());
  return Object.keys(result.metafile.outputs).map((file) => resolve(file));
}

if (process.argv[1] && resolve(process.argv[1]) === fileURLToPath(import.meta.url)) {
  try {
    for (const file of await buildPages(outDir(process.argv.slice(2)))) {
      const bytes = await readFile(file);
      console.log(`${file.split('/').pop().padEnd(14)} ${String(bytes.length).padStart(7)} B ${String(gzipSync(bytes).length).padStart(7)} B gzip`);
    }
  } catch (error) {
    console.error(`web/build.mjs: ${error.message}`);
    process.exit(1);
  }
}
