// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// What may not stand in a source file.
import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { bareC, files, isBinary, isC, isSource, isWeb, lines, root, text } from './files.mjs';

/** Every match of `pattern` as "file:line: what". */
function grep(list, pattern, read = text) {
  return list.flatMap((file) =>
    read(file).split('\n').flatMap((line, i) => (pattern.test(line) ? [`${file}:${i + 1}: ${line.trim().slice(0, 100)}`] : [])));
}

const readable = files.filter((f) => !isBinary(f));
const pages = files.filter((f) => f.startsWith('web/') && /\.(tsx?|html|css|json|yaml)$/.test(f));

/** Unbounded copies, a second parser of numbers with no errors, a shell, the stack as a heap, a locale for strtod. */
const BANNED = /\b(strcpy|strcat|sprintf|vsprintf|gets|atoi|atol|atof|strtok|system|popen|alloca|setlocale)\s*\(/;

/** A screen control must never look or read like an emergency stop device; the cautions say that it is none. */
function emergencyWords() {
  const caution = /(not|never|is no) (an )?emergency.stop|wired emergency stop|ISO 13850/i;
  const spoken = (f) => text(f).replace(/\s+/g, ' ').split(/(?<=[.!?])\s/);
  return pages.flatMap((f) =>
    spoken(f).filter((s) => /\be-?stop\b/i.test(s) || (/emergency/i.test(s) && !caution.test(s))).map((s) => `${f}: ${s.slice(0, 120)}`));
}

/** What the documents name is there: files and folders, and functions by their name(). */
function namedButMissing() {
  const code = files.filter((f) => isC(f) || isWeb(f)).map(text).join('\n');
  return files.filter((f) => f.endsWith('.md')).flatMap((doc) => {
    const said = text(doc);
    const links = [...said.matchAll(/\]\(([^)#:]+)\)/g)].map((m) => join(dirname(doc), m[1]));
    const paths = [...said.matchAll(/`((?:policy|gateway|web|tests|deploy)\/[\w./-]+)`/g)].map((m) => m[1]);
    const missing = [...links, ...paths].filter((p) => !/^(web\/dist|build)/.test(p) && !existsSync(join(root, p)));
    const calls = [...said.matchAll(/`(\w+)\(\)`/g)].map((m) => m[1]).filter((name) => !new RegExp(`\\b${name}\\(`).test(code));
    return [...missing, ...calls].map((what) => `${doc} names ${what}, which is not there`);
  });
}

function unformatted() {
  const list = files.filter(isC);
  try {
    execFileSync('clang-format', ['--dry-run', '-Werror', ...list], { cwd: root, stdio: 'pipe' });
    return [];
  } catch (e) {
    return e.stderr.toString().split('\n').filter((l) => /error:/.test(l)).slice(0, 20);
  }
}

/** Its setting must not matter to a show under way: a pass is good until a time of day, and that is all. */
const WALL_CLOCK = ['gateway/core/core.c', 'gateway/core/desk_thread.c', 'gateway/run/addresses.c', 'gateway/run/pass_main.c'];

export const wordRules = [
  { name: 'C is formatted as .clang-format says', offences: unformatted },
  {
    name: 'every source file says its licence in its first lines',
    offences: () => files.filter(isSource).filter((f) => !/SPDX-License-Identifier: Apache-2\.0/.test(lines(f).slice(0, 4).join('\n'))),
  },
  { name: 'no banned call in C', offences: () => grep(files.filter(isC), BANNED, bareC) },
  {
    name: 'policy/ has no conditional compilation but include guards',
    offences: () =>
      grep(files.filter((f) => isC(f) && f.startsWith('policy/')), /^\s*#\s*(ifdef|if|elif|else)\b|^\s*#\s*ifndef (?!STEADYHAND_\w+_H$)/),
  },
  {
    name: 'policy/ includes only itself and headers without I/O, clock or allocation',
    offences: () =>
      grep(files.filter((f) => isC(f) && f.startsWith('policy/')),
        /^\s*#\s*include\s+(?!"policy\/|<(assert|float|limits|math|stdbool|stddef|stdint|string|tgmath)\.h>)/),
  },
  {
    name: 'policy/motion and policy/crowd do not know each other',
    offences: () => [
      ...grep(files.filter((f) => isC(f) && f.startsWith('policy/motion/')), /^\s*#\s*include\s+"policy\/crowd\//),
      ...grep(files.filter((f) => isC(f) && f.startsWith('policy/crowd/')), /^\s*#\s*include\s+"policy\/motion\//),
    ],
  },
  {
    name: 'the wall clock is read for passes, and for where rounds are numbered from, and for nothing else',
    offences: () =>
      grep(files.filter((f) => isC(f) && /^(gateway|policy)\//.test(f) && !WALL_CLOCK.includes(f)), /\btime\(NULL\)|CLOCK_REALTIME|gettimeofday|timespec_get/, bareC),
  },
  {
    name: 'edge and core meet only at the bus',
    offences: () => [
      ...grep(files.filter((f) => isC(f) && f.startsWith('gateway/core/')), /^\s*#\s*include\s+"gateway\/edge\//),
      ...grep(files.filter((f) => isC(f) && f.startsWith('gateway/edge/')), /^\s*#\s*include\s+"gateway\/(core|desk|rig)\//),
    ],
  },
  { name: 'the pages speak of an emergency stop only to say that they have none', offences: emergencyWords },
  {
    name: 'no path of somebody\'s machine',
    offences: () => grep(readable.filter((f) => f !== 'tests/tidy/words.mjs'), /(^|[\s"'`(=:])\/(home|root|work|mnt|srv|Users)\//),
  },
  {
    name: 'no trailing blanks, no tabs, a newline at the end',
    offences: () => [
      ...grep(readable.filter(isSource), /[ \t]$|\t/),
      ...readable.filter((f) => text(f) !== '' && !text(f).endsWith('\n')).map((f) => `${f}: no newline at the end`),
    ],
  },
  { name: 'what the documents name is there', offences: namedButMissing },
  {
    name: 'package-lock.json pins no download address',
    offences: () => grep(['package-lock.json'], /"resolved"/),
  },
];
