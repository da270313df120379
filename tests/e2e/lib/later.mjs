// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Clearing up after a test: last made, first gone, and all of it even where one piece fails. (The runner's own hooks run
// in the order of their making and end at the first that throws, with processes left behind.)
const stacks = new WeakMap();

/** Clears up now what a test has made so far. */
export async function clear(t) {
  const stack = stacks.get(t) ?? [];
  const errors = [];
  while (stack.length > 0) await Promise.resolve().then(stack.pop()).catch((e) => errors.push(e));
  if (errors.length > 0) throw new Error(errors.map((e) => e.message).join('\n'));
}

export function later(t, undo) {
  if (!stacks.has(t)) {
    stacks.set(t, []);
    t.after(() => clear(t));
  }
  stacks.get(t).push(undo);
}
