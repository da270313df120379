// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Runs the suites one after the other (some run their own parts side by side), prints a line for each and counts.
import { suites } from './suites.mjs';

const wanted = process.argv.slice(2);
if (wanted.includes('--list')) {
  for (const suite of suites) console.log(`${suite.name.padEnd(14)} ${suite.what}`);
  process.exit(0);
}
const unknown = wanted.filter((name) => !suites.some((s) => s.name === name));
if (unknown.length > 0) {
  console.error(`No suite is called ${unknown.join(', ')}; ./tests/run --list names them.`);
  process.exit(2);
}

/** A suite wanted by name brings along the builds it needs. */
function needed(names) {
  const all = new Set(names);
  for (const suite of [...suites].reverse()) if (all.has(suite.name)) for (const need of suite.needs ?? []) all.add(need);
  return suites.filter((s) => all.has(s.name));
}

const total = { passed: 0, failed: 0, skipped: 0 };
const broken = new Set();
for (const suite of wanted.length > 0 ? needed(wanted) : suites) {
  const started = performance.now();
  const missing = (suite.needs ?? []).filter((need) => broken.has(need));
  const result =
    missing.length > 0
      ? { passed: 0, failed: 1, skipped: 0, complaints: [`not run: ${missing.join(', ')} failed`] }
      : await suite.run().catch((e) => ({ passed: 0, failed: 1, skipped: 0, complaints: [e.stack] }));
  if (result.failed > 0) broken.add(suite.name);
  for (const key of Object.keys(total)) total[key] += result[key];
  const seconds = ((performance.now() - started) / 1000).toFixed(1);
  const skipped = result.skipped > 0 ? `, ${result.skipped} skipped` : '';
  console.log(`${suite.name.padEnd(14)} ${result.passed} passed, ${result.failed} failed${skipped} in ${seconds} s`);
  for (const complaint of result.complaints) console.log(complaint.replace(/^/gm, '    '));
}
console.log(`${total.passed} passed, ${total.failed} failed`);
process.exit(total.failed === 0 && total.passed > 0 ? 0 : 1);
