// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// node tests/sim/long.mjs BUILD/tests/sim/sim [--ticks 1e9] [--chunk 1e7] [--processes 2] [--seed 1] [--out FILE]
//
// The simulation by hand, for as long as there is time: chunks of ticks side by side, each with seeds of its own, and the
// figures of all of them together. What was done so far is kept in FILE after each chunk; run again, it goes on from there.
import { spawn } from 'node:child_process';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';

const args = process.argv.slice(2);
const binary = args[0];
const option = (name, otherwise) => (args.includes(name) ? args[args.indexOf(name) + 1] : otherwise);
const ticks = Number(option('--ticks', '1e9'));
const chunk = Number(option('--chunk', '1e7'));
const processes = Number(option('--processes', '2'));
const file = option('--out', 'sim-long.json');
if (!binary || binary.startsWith('--')) {
  console.error('long.mjs: which sim? Usage: node tests/sim/long.mjs BUILD/tests/sim/sim [--ticks N] [--processes N] [--out FILE]');
  process.exit(2);
}

const so_far = existsSync(file) ? JSON.parse(readFileSync(file, 'utf8')) : { seed: Number(option('--seed', '1')), chunks: 0, failures: [], all: {} };

/** Adds up, but for what is a most or a least. */
function merge(into, from) {
  for (const [key, value] of Object.entries(from)) {
    if (typeof value === 'object') into[key] = merge(into[key] ?? {}, value);
    else if (key === 'least_m') into[key] = Math.min(into[key] ?? Infinity, value);
    else if (key === 'slowest_s') into[key] = Math.max(into[key] ?? 0, value);
    else into[key] = (into[key] ?? 0) + value;
  }
  return into;
}

/** One chunk: its seeds are far from those of the others, as a run is at least 2500 ticks. */
function run(seed) {
  return new Promise((done) => {
    let text = '';
    const child = spawn('nice', ['-n', '19', binary, '--seed', String(seed), '--ticks', String(chunk), '--keep-going']);
    child.stdout.on('data', (data) => (text += data));
    child.on('close', (status) => done({ text, status }));
  });
}

function keep({ text, status }, seed) {
  const figures = /^# figures (\{.*\})$/m.exec(text);
  if (!figures) so_far.failures.push(`seed ${seed}: ended with ${status}, no figures`);
  else merge(so_far.all, JSON.parse(figures[1]));
  so_far.failures.push(...[...text.matchAll(/^# (?:again \d+: )?(--seed .*)$/gm)].map((m) => m[1]));
  so_far.chunks++;
  writeFileSync(file, JSON.stringify(so_far, null, 1));
}

function report() {
  const of = so_far.all;
  const million = (n) => (n / 1e6).toFixed(1).padStart(9);
  console.log(`${million(of.ticks)} M ticks: motion permitted ${million(of.running)}, moving ${million(of.moving)}, slowed by a boundary ${million(of.blocked)}, fallback ${million(of.fallback)}`);
  console.log('fault            M ticks  M moving  M with it on      runs   noticed  slowest s  least left m   stopped for');
  for (const [name, f] of Object.entries(of.faults ?? {})) {
    const stops = Object.entries(f.stops).sort((a, b) => b[1] - a[1]);
    const why = stops.map(([code, n]) => `${code} ${n}`).join(', ');
    console.log(`${name.padEnd(14)} ${million(f.ticks)} ${million(f.moving)}     ${million(f.active)} ${String(f.runs).padStart(9)} ${String(f.noticed).padStart(9)} ${f.slowest_s.toFixed(3).padStart(10)} ${f.least_m.toFixed(4).padStart(13)}   ${why}`);
  }
  const reasons = Object.entries(of.reasons ?? {}).filter(([, n]) => n > 0);
  console.log(`ticks by reason, M: ${reasons.map(([code, n]) => `${code} ${(n / 1e6).toFixed(2)}`).join(', ')}`);
  const met = (counts) => Object.entries(counts ?? {}).map(([name, n]) => `${name} ${(n / 1e6).toFixed(2)}`).join(', ');
  console.log(`with motion permitted, M: lane ${met(of.lanes)}; mode ${met(of.modes)}`);
  console.log(`least between the picture and what it must not show: ${of.unseen?.least_m} m`);
  const never = Object.entries({ ...of.reasons, ...of.lanes, ...of.modes }).filter(([, n]) => n === 0).map(([name]) => name);
  console.log(`never met: ${never.join(', ') || 'nothing'}`);
  console.log(`${so_far.failures.length} failures`);
  for (const failure of so_far.failures.slice(0, 50)) console.log(`  ${failure}`);
}

async function worker() {
  while (so_far.begun * chunk < ticks) {
    const seed = so_far.seed + so_far.begun++ * Math.ceil(chunk / 1000);
    keep(await run(seed), seed);
    console.error(`${(so_far.all.ticks / 1e6).toFixed(0)} M ticks, ${so_far.failures.length} failures`);
  }
}

so_far.begun = so_far.chunks;
await Promise.all(Array.from({ length: processes }, worker));
report();
process.exitCode = so_far.failures.length > 0 ? 1 : 0;
