// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The edge's connector, its only way to core: it ends with the edge, and an edge without one is started anew.
import assert from 'node:assert/strict';
import { existsSync, readFileSync } from 'node:fs';
import { showFor, test, until, Viewer } from './lib/show.mjs';

async function edgeOf(show) {
  const [edge] = (await show.processes()).edges;
  const [connector, ...more] = readFileSync(`/proc/${edge}/task/${edge}/children`, 'utf8').trim().split(' ').map(Number);
  assert.equal(more.length, 0);
  return { edge, connector };
}

const newEdge = (show, old) => until('another edge', async () => {
  const [edge] = (await show.processes()).edges;
  return edge !== 0 && edge !== old;
});

async function assertHearsCore(show) {
  const viewer = await new Viewer(show.audience).opened;
  await viewer.sceneWhere('a scene of core', () => true);
  await viewer.close();
}

test('it ends with its edge, however that ends', async (t) => {
  const show = await showFor(t);
  const { edge, connector } = await edgeOf(show);
  assert.match(readFileSync(`/proc/${connector}/comm`, 'utf8'), /^connector/);
  process.kill(edge, 'SIGKILL');
  await until('the connector to be gone', () => !existsSync(`/proc/${connector}`));
  await newEdge(show, edge);
  await assertHearsCore(show);
});

test('an edge that loses it ends, and another takes its place', async (t) => {
  const show = await showFor(t);
  await assertHearsCore(show);
  const { edge, connector } = await edgeOf(show);
  process.kill(connector, 'SIGKILL');
  await newEdge(show, edge);
  await assertHearsCore(show);
  assert.match(show.output.text, /its connector has died/);
});
