// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The verb `survey`: its table, its errors, and its drawings as a browser reads and lays them out.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { createServer } from 'node:http';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { pageFor, phone, screen, shot } from './lib/browser.mjs';
import { later } from './lib/later.mjs';
import { root } from './lib/show.mjs';

const binary = process.env.STEADYHAND ?? process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');
const folder = mkdtempSync(join(tmpdir(), 'steadyhand-survey-'));
after(() => rmSync(folder, { recursive: true }));
const railway = join(root, 'deploy', 'shows', 'model-railway.json');
const sheets = ['room', 'reach', 'heights', 'clearance', 'fall'];

const run = (...args) => spawnSync(binary, args, { encoding: 'utf8', timeout: 200000 });

/** The model railway, changed; drawn into a folder of its own. */
function survey(name, edit) {
  const show = JSON.parse(readFileSync(railway, 'utf8'));
  edit(show);
  const file = join(folder, `${name}.json`);
  writeFileSync(file, JSON.stringify(show));
  return run('survey', file, '--out', folder);
}

const nasty = 'R&D <stage> "two" \u202egnp';

test('the model railway: a table, five drawings, and the cautions', () => {
  const r = run('survey', railway, '--out', folder);
  assert.equal(r.status, 0, r.stderr);
  for (const row of [
    /stage +56\.3 m3, 6\.40 x 4\.40 m, z 0\.60 to 2\.60 m/,
    /reachable +[\d.]+ m3, \d+ % of that: proven/,
    /worst tension margin +[\d.]+ N from the (lower|upper) limit of cord [1-4]/,
    /highest tension wanted +[\d.]+ N of 120 N, \d+ %: cord [1-4] at x/,
    /least clearance at home +0\.\d\d m, .* from /,
    /one cord parts +[\d.]+ m2 .*, up to [\d.]+ m beyond the stage \(cord [1-4]\)/,
    /A planning aid, not a fall zone\. A qualified rigger decides\./,
    /Software stop\. Not an emergency stop device\./,
  ]) assert.match(r.stdout, row);
  assert.deepEqual(readdirSync(folder).filter((f) => f.endsWith('.svg')).sort(),
    sheets.map((s) => `model-railway-${s}.svg`).sort());
  assert.ok(!readdirSync(folder).some((f) => f.endsWith('.part')));
  const before = sheets.map((s) => readFileSync(join(folder, `model-railway-${s}.svg`), 'utf8'));
  assert.equal(run('survey', railway, '--out', folder).stdout, r.stdout);
  sheets.forEach((s, i) => assert.equal(readFileSync(join(folder, `model-railway-${s}.svg`), 'utf8'), before[i], s));
});

test('what is wrong is told: the folder, the show, an option', () => {
  const none = run('survey', railway, '--out', join(folder, 'none'));
  assert.equal(none.status, 2);
  assert.match(none.stderr, /--out: expected a folder that is there, found ".*none" \(No such file or directory\)/);
  const file = run('survey', railway, '--out', railway);
  assert.equal(file.status, 2);
  assert.match(file.stderr, /\(Not a directory\)/);
  assert.match(run('survey', railway, '--state', folder).stderr, /survey does not know the option --state/);
  const bad = survey('bad', (show) => (show.room.stage.ceiling_m = 0.1));
  const check = run('check', join(folder, 'bad.json'));
  assert.equal(bad.status, 1);
  assert.equal(bad.stderr, check.stderr);
  assert.equal(bad.stdout, '');
  assert.equal(run('survey', join(folder, 'gone.json')).status, 2);
});

test('a home at the very edge of reach is told and drawn, as that shows why', () => {
  const r = survey('weak', (show) => Object.assign(show.rig.cords, { min_length_m: 4.42 }));
  assert.equal(r.status, 0, r.stderr);
  assert.match(r.stderr, /home_m: expected a place at least margin_m .* inside where the cords hold/);
  assert.match(r.stdout, /weak-reach\.svg/);
});

/** The drawings on this machine's own port; their address. */
function serve(t) {
  const server = createServer((request, response) => {
    if (!request.url.endsWith('.svg')) return response.writeHead(204).end(); // a browser looks for an icon
    response.setHeader('Content-Type', 'image/svg+xml');
    response.end(readFileSync(join(folder, request.url.replaceAll('/', ''))));
  });
  later(t, () => server.close());
  return new Promise((done) => server.listen(0, '127.0.0.1', () => done(`http://127.0.0.1:${server.address().port}`)));
}

/** Texts that run out of the sheet, and pairs of a legend, note or caution that lie on each other. */
function misplaced() {
  const svg = document.documentElement;
  const { width, height } = svg.viewBox.baseVal;
  const texts = [...document.querySelectorAll('text')].map((t) => ({ said: t.textContent, plain: t.matches('.plain, .caution'), box: t.getBBox() }));
  const out = texts.filter(({ box }) => box.x < 0 || box.y < 0 || box.x + box.width > width || box.y + box.height > height);
  const plain = texts.filter((t) => t.plain);
  const meet = (a, b) => Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x) > 1 &&
    Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y) > 4;
  const on = plain.flatMap((a, i) => plain.slice(i + 1).filter((b) => meet(a.box, b.box)).map((b) => `${a.said} | ${b.said}`));
  return { root: svg.nodeName, broken: document.querySelectorAll('parsererror').length, count: texts.length,
    out: out.map((t) => t.said), on, scripts: document.scripts.length };
}

for (const [name, device] of [['desktop', screen], ['phone', phone]]) {
  test(`a browser reads and lays out every drawing: ${name}`, async (t) => {
    const r = survey('odd', (show) => {
      show.show.name = nasty;
      show.room.keep_outs[0].name = '</text><script>throw 1</script>';
    });
    assert.equal(r.status, 0, r.stderr);
    assert.ok(!r.stdout.includes('\u202e'));
    const address = await serve(t);
    const page = await pageFor(t, `${address}/odd-fall.svg`, device);
    for (const show of ['model-railway', 'odd'])
      for (const sheet of sheets) {
        await page.goto(`${address}/${show}-${sheet}.svg`);
        const seen = await page.evaluate(misplaced);
        assert.deepEqual({ ...seen, count: seen.count > 30 }, { root: 'svg', broken: 0, count: true, out: [], on: [], scripts: 0 },
          `${show}-${sheet}`);
        if (show === 'model-railway') await shot(page, `survey-${sheet}-${name}`);
      }
    const text = await page.evaluate(() => document.documentElement.textContent);
    assert.ok(text.includes('R&D <stage> "two" \ufffdgnp'));
  });
}
