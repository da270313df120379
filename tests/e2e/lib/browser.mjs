// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// A real Chromium, headless and offline but for this machine.
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import { PATIENCE_MS } from '../../../deploy/lib/clients.mjs';
import { later } from './later.mjs';

const quiet = ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync', '--disable-dev-shm-usage'];

export const phone = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };
export const screen = { viewport: { width: 1440, height: 900 } };

/** Opens a page for one test. What the page complains about is the test's failure. */
export async function pageFor(t, url, device = screen, { mayComplain = /^$/ } = {}) {
  const browser = await chromium.launch({ executablePath: process.env.STEADYHAND_CHROMIUM ?? '/usr/bin/chromium', args: quiet, timeout: 2 * PATIENCE_MS });
  const context = await browser.newContext({ ...device, reducedMotion: 'reduce' });
  const page = await context.newPage();
  const complaints = [];
  page.on('pageerror', (e) => complaints.push(`error: ${e.message}`));
  page.on('console', (m) => m.type() === 'error' && !mayComplain.test(m.text()) && complaints.push(`console: ${m.text()}`));
  page.on('request', (r) => {
    if (!/^(https?|wss?):\/\/127\.0\.0\.1[:/]|^(data|blob):/.test(r.url())) complaints.push(`asks elsewhere: ${r.url()}`);
  });
  page.setDefaultTimeout(PATIENCE_MS);
  later(t, async () => {
    await browser.close();
    if (complaints.length > 0) throw new Error(`the page complained:\n${complaints.join('\n')}`);
  });
  await page.goto(url);
  return page;
}

/** Where STEADYHAND_SHOTS names a folder, a picture for people to look at. */
export async function shot(page, name) {
  const folder = process.env.STEADYHAND_SHOTS;
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `${name}.png`) });
}
