// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// What the compiled objects of a plain gcc build export and need.
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { basename, join, relative, resolve } from 'node:path';
import { root } from './files.mjs';

const build = resolve(process.argv[2] ?? join(root, 'build'));

function run(tool, ...args) {
  return execFileSync(tool, args, { encoding: 'utf8', maxBuffer: 1 << 26, stdio: ['ignore', 'pipe', 'pipe'] });
}

/** Every object of the project's own code: { source: 'policy/motion/guard.c', object: path }. */
function objects() {
  const database = join(build, 'compile_commands.json');
  const commands = existsSync(database) ? JSON.parse(readFileSync(database, 'utf8')) : [];
  return commands
    .map((c) => ({ source: relative(root, resolve(c.directory, c.file)), object: resolve(c.directory, c.output) }))
    .filter(({ source, object }) => /^(policy|gateway)\//.test(source) && existsSync(object) && !/[/\\]tests[/\\]/.test(object.slice(build.length)));
}

function symbols(object, ...flags) {
  return run('nm', ...flags, object).split('\n').map((l) => /^([0-9a-f]+)?\s*([A-Za-z])\s+(\S+)$/.exec(l)).filter(Boolean)
    .map(([, , kind, name]) => ({ kind, name }));
}

/** `foo.c` exports only `foo_*`; a program's main.c exports main. */
function strangers({ source, object }) {
  const module = basename(source, '.c').replaceAll('-', '_');
  return symbols(object, '--defined-only', '-g')
    .filter(({ name }) => !(name === module || name.startsWith(`${module}_`)))
    .map(({ name }) => `${source} exports ${name}, not ${module}_*`);
}

/** libm, the four memory functions a compiler may call by itself, and what it puts in on its own. */
const PURE = new Set(`memcpy memmove memset memcmp
  acos acosf asin asinf atan atanf atan2 atan2f cbrt ceil ceilf copysign cos cosf exp expf fabs fabsf floor floorf fma
  fmax fmaxf fmin fminf fmod fmodf hypot hypotf ldexp llround log logf log1p lround nearbyint nextafter pow powf remainder
  rint round roundf sin sincos sinf sqrt sqrtf tan tanf tanh trunc
  _GLOBAL_OFFSET_TABLE_ __stack_chk_fail`.split(/\s+/));

function impure(all) {
  const policy = all.filter(({ source }) => source.startsWith('policy/'));
  const own = new Set(policy.flatMap(({ object }) => symbols(object, '--defined-only', '-g').map((s) => s.name)));
  return policy.flatMap(({ source, object }) =>
    symbols(object, '-u').filter(({ name }) => !own.has(name) && !PURE.has(name)).map(({ name }) => `${source} needs ${name}`));
}

/** Sections that a running program could write to. Constant tables of pointers (.data.rel.ro) are not. */
function writable({ source, object }) {
  return run('readelf', '-SW', object).split('\n')
    .map((l) => /\]\s+(\.\S+)\s+(\S+)\s+[0-9a-f]+\s+[0-9a-f]+\s+([0-9a-f]+)/.exec(l)).filter(Boolean)
    .filter(([, name, , size]) => /^\.(data|bss|tdata|tbss)/.test(name) && !name.startsWith('.data.rel.ro') && parseInt(size, 16) > 0)
    .map(([, name, , size]) => `${source} has ${parseInt(size, 16)} bytes of state in ${name}`);
}

const all = objects();
const policy = all.filter(({ source }) => source.startsWith('policy/'));
const found = policy.length > 0 && all.length > policy.length ? [] : [`no objects found in ${build}`];

export const objectRules = [
  { name: 'foo.c exports only foo_*', offences: () => [...found, ...all.flatMap(strangers)] },
  { name: 'policy/ needs nothing but libm and mem*', offences: () => [...found, ...impure(all)] },
  { name: 'policy/ keeps no state of its own', offences: () => [...found, ...policy.flatMap(writable)] },
];
