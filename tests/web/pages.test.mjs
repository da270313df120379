// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The built pages from outside: what a strict Content Security Policy forbids, what they weigh, and what one can read.
import assert from 'node:assert/strict';
import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { gzipSync } from 'node:zlib';
import { buildPages } from '../../web/build.mjs';
import { root } from './lib/bundle.mjs';

const out = await mkdtemp(join(tmpdir(), 'steadyhand-pages-'));
await buildPages(out);
after(() => rm(out, { recursive: true, force: true }));
const text = (name) => readFile(join(out, name), 'utf8');

test('the folder is flat and holds what the gateway serves', async () => {
  const names = await readdir(out);
  for (const page of ['index.html', 'audience.js', 'audience.css', 'desk.html', 'desk.js', 'desk.css', 'stop.html', 'stop.js', 'stop.css', 'licences.txt']) {
    assert.ok(names.includes(page), page);
  }
});

test('no inline script or style, nothing from elsewhere', async () => {
  for (const page of ['index.html', 'desk.html', 'stop.html']) {
    const html = await text(page);
    assert.doesNotMatch(html, /<script(?![^>]*\ssrc=)[^>]*>/i, page);
    assert.doesNotMatch(html, /<style|\sstyle=|\son\w+=|javascript:/i, page);
    for (const [, url] of html.matchAll(/(?:src|href)="([^"]*)"/g)) assert.match(url, /^[a-z]+\.(js|css|svg)$/, `${page}: ${url}`);
    assert.match(html, /<html lang="en">/);
  }
  for (const sheet of ['audience.css', 'desk.css', 'stop.css']) assert.doesNotMatch(await text(sheet), /@import|url\(/i, sheet);
  for (const script of ['audience.js', 'desk.js', 'stop.js']) {
    const js = await text(script);
    assert.doesNotMatch(js, /\beval\(|new Function\(|importScripts/, script);
    for (const [url] of js.matchAll(/https?:\/\/[^"'`\s]*/g)) assert.match(url, /^http:\/\/www\.w3\.org\//, `${script}: ${url}`);
  }
});

test('the stop page is under 10 KB with everything, the others light enough for a phone', async () => {
  const size = async (...names) => (await Promise.all(names.map(async (n) => (await readFile(join(out, n))).length))).reduce((a, b) => a + b);
  assert.ok((await size('stop.html', 'stop.js', 'stop.css')) < 10_000);
  for (const js of ['audience.js', 'desk.js']) assert.ok(gzipSync(await readFile(join(out, js))).length < 30_000, js);
  assert.doesNotMatch(await text('stop.js'), /__preactattr_|createElementNS/, 'no framework in the stop page');
});

test('the stop page does not borrow the look or the words of an emergency stop device', async () => {
  const css = await text('stop.css');
  const html = await text('stop.html');
  assert.match(html, /software stop/);
  assert.match(html, /Not an emergency stop device\. Keep a wired emergency stop within reach\./);
  assert.doesNotMatch(html, /e-stop/i);
  const rule = /#stop\{[^}]*\}/.exec(css)[0];
  assert.match(rule, /background:#000/);
  assert.match(rule, /border-radius:0/);
  for (const loud of ['#d55e00', '#f0e442', 'red', 'yellow']) assert.ok(!css.toLowerCase().includes(loud), loud);
});

/* ---- contrast, WCAG 2.2 (success criteria 1.4.3 and 1.4.11) ---- */

function luminance(hex) {
  const full = hex.length === 4 ? [...hex.slice(1)].map((c) => c + c).join('') : hex.slice(1);
  const [r, g, b] = [0, 2, 4].map((i) => parseInt(full.slice(i, i + 2), 16) / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(a, b) {
  const [x, y] = [luminance(a), luminance(b)].sort((p, q) => q - p);
  return (x + 0.05) / (y + 0.05);
}

test('the formula agrees with published pairs: black on white 21, #777 on white 4.48, white on #0072b2 5.2', () => {
  assert.equal(contrast('#000', '#fff').toFixed(2), '21.00');
  assert.equal(contrast('#777777', '#ffffff').toFixed(2), '4.48');
  assert.equal(contrast('#ffffff', '#0072b2').toFixed(1), '5.2');
});

const WORDS = [
  ['--ink', '--film'], ['--ink', '--paper'], ['--soft', '--film'], ['--soft', '--paper'], ['--rust', '--film'], ['--rust', '--paper'],
  ['--ink', '--sky'], ['#000', '--green'], ['#fff', '--ink'], ['#fff', '--blue'], ['--ink', '--yellow'], ['--ink', '--off'],
  ['#fff', '#000'], ['--ink', '#aab5bb'], ['--ink', '#c3ced3'], ['--ink', '#b9dcef'],
];
const PARTS = [
  ['--line', '--film'], ['--line', '--paper'], ['--plum', '--paper'], ['--ink', '--purple'], ['--green', '--paper'], ['--blue', '--paper'],
  ['--blue', '--film'], ['--ink', '--yellow'], ['--vermilion', '--paper'], ['#000', '--film'],
];

test('words have 4.5:1, controls and marks 3:1', async () => {
  const css = await readFile(join(root, 'web/common/base.css'), 'utf8');
  const tokens = Object.fromEntries([...css.matchAll(/(--[a-z]+): (#[0-9a-f]{3,6});/g)].map(([, k, v]) => [k, v]));
  const colour = (c) => (c.startsWith('--') ? tokens[c] ?? assert.fail(`no token ${c}`) : c);
  const check = (pairs, least) => {
    for (const [a, b] of pairs) {
      const ratio = contrast(colour(a), colour(b));
      assert.ok(ratio >= least, `${a} on ${b}: ${ratio.toFixed(2)} < ${least}`);
    }
  };
  check(WORDS, 4.5);
  check(PARTS, 3);
});
