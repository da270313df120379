// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The suites, in the order in which they run. Each returns { passed, failed, skipped, complaints }.
import { accessSync, constants, mkdirSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { add, build, countNodeTests, countTap, failures, find, keepLog, nothing, readJsonLines, root, run, sideBySide, single, tail } from './tools.mjs';

const WERROR = ['-Dwerror=true'];
const SANITIZED = ['-Dbuildtype=debugoptimized', '-Db_lundef=false', '-Dc_args=-fno-sanitize-recover=undefined'];

const SANITIZER = /(AddressSanitizer|LeakSanitizer|ThreadSanitizer|UndefinedBehaviorSanitizer|runtime error:)/;

/** One program of `meson test`: its points, or one failure if it died without saying which. */
function countProgram(test) {
  const text = `${test.stdout ?? ''}\n${test.stderr ?? ''}`;
  const count = countTap(test.stdout ?? '');
  const sanitizer = SANITIZER.test(text);
  const bad = !['OK', 'EXPECTEDFAIL', 'SKIP'].includes(test.result) || sanitizer;
  if (bad && count.failed === 0) count.failed = 1;
  if (!bad && count.passed + count.skipped === 0) count.passed = 1; // one that speaks by its exit status alone
  if (bad) {
    const file = keepLog(`meson-${test.name.replace(/\W+/g, '-')}`, text);
    const said = sanitizer ? text.slice(Math.max(0, text.search(SANITIZER) - 200)).split('\n').slice(0, 30).join('\n') : failures(text);
    count.complaints.push(`${test.name}: ${test.result}\n${said || tail(text)}\n(whole log: ${file})`);
  }
  return count;
}

async function mesonTest(folder, args, env = {}) {
  const r = await run('meson', ['test', '-C', join(root, folder), '--no-rebuild', '--num-processes', '2', '--timeout-multiplier', '4', ...args], { env });
  const tests = readJsonLines(join(root, folder, 'meson-logs', 'testlog.json'));
  if (tests.length === 0) return single(`meson test in ${folder}`, false, r.output);
  return add(tests.map(countProgram));
}

/**
 * The C tests under sanitizers. A leak fails no test of Criterion, and with --tap it is not even printed: so the reports go
 * to files, and each file is a failure.
 */
async function sanitizedTests() {
  const folder = join(root, 'build-asan', 'reports');
  rmSync(folder, { recursive: true, force: true });
  mkdirSync(folder);
  const env = {
    ASAN_OPTIONS: `detect_leaks=1:log_path=${folder}/asan`,
    UBSAN_OPTIONS: `print_stacktrace=1:log_path=${folder}/ubsan`,
  };
  const result = await mesonTest('build-asan', [], env);
  const reports = readdirSync(folder).map((name) => [join(folder, name), readFileSync(join(folder, name), 'utf8')]);
  return add([result, ...reports.map(([file, text]) => ({ ...nothing(), failed: 1, complaints: [`${file}\n${gist(text)}`] }))]);
}

/** Who, in our own files, and what it came to. */
function gist(report) {
  const frames = report.match(/\(\S*\/build-asan\/\S+?\+|in \w+ \S*\.\.\/(policy|gateway|tests)\/\S+/g) ?? [];
  return [...new Set(frames)].slice(0, 10).concat(report.trimEnd().split('\n').at(-1)).join('\n');
}

async function nodeTest(file, env = {}) {
  const binary = join(root, 'build-gcc', 'gateway', 'steadyhand');
  const r = await run('node', ['--test-reporter=tap', file], { seconds: 600, env: { STEADYHAND_BINARY: binary, ...env } });
  const count = countNodeTests(r.output);
  if (!r.ok && count.failed === 0) count.failed = 1;
  if (r.ok && count.passed + count.skipped === 0) count.failed = 1;
  if (count.failed > 0) {
    const log = keepLog(basename(file), r.output);
    count.complaints.push(`${file}\n${failures(r.output) || tail(r.output)}\n(whole log: ${log})`);
  }
  return count;
}

async function tidy() {
  const r = await run('node', [join('tests', 'tidy', 'run.mjs'), join(root, 'build-gcc')]);
  const count = countTap(r.output);
  if (!r.ok && count.failed === 0) count.failed = 1;
  if (count.failed > 0) count.complaints.push(failures(r.output) || tail(r.output));
  return count;
}

function executable(path) {
  try {
    accessSync(join(root, path), constants.X_OK);
    return true;
  } catch {
    return false;
  }
}

/** Only the fuzz targets: the first step is to set the folder up, the second knows their names. */
async function buildFuzzers() {
  const options = [...SANITIZED, '-Dfuzz=true', '-Db_sanitize=address,undefined'];
  const first = await build('build-fuzz', 'clang', options, 'policy/libpolicy.a');
  if (first.failed > 0) return first;
  const { output } = await run('ninja', ['-C', join(root, 'build-fuzz'), '-t', 'targets', 'all']);
  const targets = [...output.matchAll(/^(tests\/fuzz\/\w+\/fuzz_\w+): /gm)].map((m) => m[1]);
  return build('build-fuzz', 'clang', options, targets.join(' '));
}

/** Each fuzzer for a few seconds, from its committed corpus and from what earlier runs found. */
async function fuzz() {
  const fuzzers = find('build-fuzz/tests/fuzz', (f) => /\/fuzz_\w+$/.test(f) && executable(f));
  if (fuzzers.length === 0) return single('fuzzers', false, 'no fuzzer was built');
  return add(
    await sideBySide(
      fuzzers.map((fuzzer) => async () => {
        const name = basename(fuzzer);
        const part = basename(dirname(fuzzer));
        const found = join(root, 'build-fuzz', 'found', name);
        mkdirSync(found, { recursive: true });
        const corpus = join(root, 'tests', 'fuzz', part, name.replace('fuzz_', 'corpus_'));
        const args = ['-max_total_time=6', '-timeout=5', '-rss_limit_mb=1024', `-artifact_prefix=${found}-`, found, corpus];
        const r = await run(join(root, fuzzer), args, { seconds: 120 });
        return single(`fuzz ${name}`, r.ok && /Done \d+ runs/.test(r.output), r.output);
      }),
      2,
    ),
  );
}

const rigThreads = 'tests/unit/rig/test_link_threads';

/** Core's threads under ThreadSanitizer: a small crowd plays while an operator stops, starts and steers; the rig link alone. */
async function threads() {
  const link = await run(join(root, 'build-tsan', rigThreads), [], { seconds: 120 });
  const show = await nodeTest(join('tests', 'e2e', 'threads.mjs'), { STEADYHAND_BINARY: join(root, 'build-tsan', gateway) });
  return add([single(rigThreads, link.ok && !SANITIZER.test(link.output), link.output), show]);
}

/** What the analyser can show of policy/, whatever comes in; see tests/proof/run.mjs. */
async function proof() {
  const r = await run('node', [join('tests', 'proof', 'run.mjs')], { seconds: 900 });
  const count = countTap(r.output);
  if (!r.ok && count.failed === 0) count.failed = 1;
  if (count.failed > 0) count.complaints.push(failures(r.output) || tail(r.output));
  return count;
}

async function types() {
  const r = await run('node', [join('node_modules', 'typescript', 'bin', 'tsc'), '--noEmit', '-p', '.']);
  return single('tsc', r.ok, r.output);
}

async function web() {
  const r = await run('node', [join('web', 'build.mjs')]);
  return single('web/build.mjs', r.ok, r.output);
}

const isNodeTest = (f) => f.endsWith('.test.mjs');

async function nodeUnit() {
  const tests = [...find('web', isNodeTest), ...find('tests', (f) => isNodeTest(f) && !f.startsWith(join('tests', 'e2e')))];
  return tests.length === 0 ? nothing() : add(await sideBySide(tests.map((f) => () => nodeTest(f)), 2));
}

/** They are about what happens within so many milliseconds: those that bring hundreds of viewers run alone, others, which mostly wait, three at a time. */
async function endToEnd() {
  const all = find(join('tests', 'e2e'), isNodeTest);
  const alone = all.filter((f) => /flood|hostile/.test(f));
  const runAll = (files, width) => sideBySide(files.map((f) => () => nodeTest(f)), width);
  return add([...(await runAll(alone, 1)), ...(await runAll(all.filter((f) => !alone.includes(f)), 3))]);
}

const gateway = 'gateway/steadyhand';

export const suites = [
  { name: 'gcc', what: 'everything, warnings are errors', run: () => build('build-gcc', 'gcc', WERROR) },
  { name: 'web', what: 'the pages bundle', run: web },
  { name: 'types', what: 'tsc --noEmit', run: types },
  { name: 'tidy', what: 'sizes, banned calls, names, symbols, words', needs: ['gcc'], run: tidy },
  { name: 'c', what: 'unit and property tests and mutants, as released', needs: ['gcc'], run: () => mesonTest('build-gcc', ['--no-suite', 'sim']) },
  { name: 'sim', what: 'ten million ticks of the policy against a physical rig with faults', needs: ['gcc'], run: () => mesonTest('build-gcc', ['--suite', 'sim']) },
  { name: 'proof', what: 'policy/ under an abstract interpreter: no undefined behaviour, no number that is none', run: proof },
  { name: 'node', what: 'tests of the pages, the schema and the protocol description', needs: ['gcc', 'web'], run: nodeUnit },
  { name: 'e2e', what: 'real processes, sockets and pages', needs: ['gcc', 'web'], run: endToEnd },
  {
    name: 'clang',
    what: 'everything with ASan and UBSan, warnings are errors',
    run: () => build('build-asan', 'clang', [...WERROR, ...SANITIZED, '-Db_sanitize=address,undefined']),
  },
  {
    name: 'c-sanitized',
    what: 'unit and property tests and fuzz corpora under ASan and UBSan',
    needs: ['clang'],
    run: sanitizedTests,
  },
  {
    name: 'tsan',
    what: 'the executable with TSan',
    run: () => build('build-tsan', 'clang', [...WERROR, ...SANITIZED, '-Db_sanitize=thread'], `${gateway} ${rigThreads}`),
  },
  { name: 'threads', what: 'core under load with TSan', needs: ['tsan', 'web'], run: threads },
  {
    name: 'fuzzers',
    what: 'the fuzz targets with libFuzzer, ASan and UBSan',
    run: buildFuzzers,
  },
  { name: 'fuzz', what: 'each of them for a few seconds', needs: ['fuzzers'], run: fuzz },
];
