// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * The pass comes in the address's fragment (which no server sees), is taken out of the address bar at once, so that it
 * is not in a photograph or a copied link, and is kept for this tab only.
 */

function keyFor(page: string): string { return `steadyhand.pass.${page}`; }

/** The pass for this page, from the address or from earlier in this tab; null if there is none. */
export function takePass(page: string): string | null {
  const pass = new URLSearchParams(location.hash.slice(1)).get('pass');
  try {
    if (!pass) return sessionStorage.getItem(keyFor(page));
    sessionStorage.setItem(keyFor(page), pass);
  } catch {
    // No storage (private mode, blocked): the pass then lasts as long as the page.
  }
  if (pass) history.replaceState(null, '', location.pathname + location.search);
  return pass;
}

/** Another pass was opened in the same tab: the page does not load again, only its fragment changes. */
export function onNewPass(page: string, use: (pass: string) => void): void {
  addEventListener('hashchange', () => {
    const before = location.hash;
    const pass = before.includes('pass=') ? takePass(page) : null;
    if (pass) use(pass);
  });
}
