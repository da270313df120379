// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// What the suites are made of: run a command with a time limit, count TAP, build a folder.
import { spawn } from 'node:child_process';
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { root } from '../../deploy/lib/show_process.mjs';

export { root };

/** Runs a command to its end; the whole process group is ended when the time is up. */
export function run(command, args, { env = {}, cwd = root, seconds = 1800 } = {}) {
  return new Promise((resolve) => {
    const child = spawn(command, args, {
      cwd,
      env: { ...process.env, ...env },
      stdio: ['ignore', 'pipe', 'pipe'],
      detached: true,
    });
    let output = '';
    let late = false;
    const timer = setTimeout(() => {
      late = true;
      process.kill(-child.pid, 'SIGKILL');
    }, seconds * 1000);
    for (const stream of [child.stdout, child.stderr]) stream.on('data', (data) => (output += data));
    child.once('error', (e) => (output += e.message));
    child.once('close', (code, signal) => {
      clearTimeout(timer);
      if (late) output += `\nended after ${seconds} s, the limit\n`;
      resolve({ code: code ?? 1, signal, output, ok: code === 0 });
    });
  });
}

/** At most `width` jobs at a time; the results in the order of the jobs. */
export async function sideBySide(jobs, width) {
  const results = new Array(jobs.length);
  let next = 0;
  const worker = async () => {
    while (next < jobs.length) {
      const mine = next++;
      results[mine] = await jobs[mine]();
    }
  };
  await Promise.all(Array.from({ length: Math.min(width, jobs.length) }, worker));
  return results;
}

export function tail(text, count = 30) {
  return text.trimEnd().split('\n').slice(-count).join('\n');
}

/** Keeps a log under build-gcc/logs, and says where in a complaint. */
export function keepLog(name, text) {
  const folder = join(root, 'build-gcc', 'logs');
  mkdirSync(folder, { recursive: true });
  const file = join(folder, `${name}.log`);
  writeFileSync(file, text);
  return file;
}

export const nothing = () => ({ passed: 0, failed: 0, skipped: 0, complaints: [] });

export function add(results) {
  const sum = nothing();
  for (const r of results) {
    for (const key of ['passed', 'failed', 'skipped']) sum[key] += r[key];
    sum.complaints.push(...r.complaints);
  }
  return sum;
}

/** One check that passed or not. */
export function single(name, ok, log) {
  if (ok) return { ...nothing(), passed: 1 };
  return { ...nothing(), failed: 1, complaints: [`${name}\n${tail(log)}\n(whole log: ${keepLog(name.replace(/\W+/g, '-'), log)})`] };
}

/** Counts the points of a flat TAP stream, as Criterion and our plain mains write it. */
export function countTap(text) {
  const count = nothing();
  for (const line of text.split('\n')) {
    const point = /^(not )?ok\b(.*)$/.exec(line);
    if (!point) continue;
    if (/#\s*skip/i.test(point[2])) count.skipped++;
    else if (point[1]) count.failed++;
    else count.passed++;
  }
  return count;
}

/** Counts node's own test runner by the closing figures of its TAP. */
export function countNodeTests(text) {
  const figure = (word) => Number(new RegExp(`^# ${word} (\\d+)$`, 'm').exec(text)?.[1] ?? 0);
  return { ...nothing(), passed: figure('pass'), failed: figure('fail') + figure('cancelled'), skipped: figure('skipped') };
}

/** Only the failing points of a TAP text and what was said about them. */
export function failures(text) {
  const all = text.split('\n');
  const shown = new Set();
  all.forEach((line, i) => {
    if (!/^\s*not ok\b/.test(line)) return;
    for (let k = i; k < Math.min(all.length, i + 25); k++) {
      if (k > i && /^\s*(not )?ok\b/.test(all[k])) break;
      shown.add(k);
    }
  });
  return [...shown].map((i) => all[i]).slice(0, 80).join('\n');
}

export async function build(folder, cc, options, targets = '') {
  const script = '. "$0/deploy/lib/ensure.sh" && ensure_build "$0" "$@"';
  const r = await run('sh', ['-c', script, root, join(root, folder), ...options], { env: { CC: cc, TARGETS: targets } });
  return single(`build ${folder} (${cc})`, r.ok, r.output);
}

/** All files below `folder` (relative to the root) that `wanted` accepts. */
export function find(folder, wanted) {
  let entries;
  try {
    entries = readdirSync(join(root, folder), { withFileTypes: true });
  } catch {
    return [];
  }
  return entries
    .flatMap((e) => {
      const path = join(folder, e.name);
      if (e.isDirectory()) return e.name === 'node_modules' || e.name === 'dist' ? [] : find(path, wanted);
      return wanted(path) ? [path] : [];
    })
    .sort();
}

export function readJsonLines(file) {
  return readFileSync(file, 'utf8').split('\n').filter(Boolean).map((line) => JSON.parse(line));
}
