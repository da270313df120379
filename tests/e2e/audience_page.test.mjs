// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The audience page in a real browser: vote and steer by pointer, touch and keyboard; see what becomes of it.
import assert from 'node:assert/strict';
import { pageFor, phone, shot } from './lib/browser.mjs';
import { assertMoves, assertUntouched, crowdFor, deskFor, keepHolding, keepVoting, later, restOf, showFor, test, until } from './lib/show.mjs';

const TIME_TO_VOTE_MS = 2000;
const open = (s) => s.state === 'running' && s.round.phase === 'open';
const button = (page, name) => page.getByRole('group', { name: 'Vote for the next step' }).getByRole('button', { name });

/** Votes by `act` early in a round until core has counted it: a page on a busy machine may miss a round or two. */
async function vote(desk, act, counted) {
  await until('a vote counted', async () => {
    const { round } = await desk.sceneWhere('a round with time left', (s) => open(s) && s.round.left_ms > TIME_TO_VOTE_MS);
    await act();
    return desk.sceneWhere('the vote', (s) => open(s) && s.round.id === round.id && counted(s.round.votes), TIME_TO_VOTE_MS).catch(() => null);
  });
  return desk.scene.round.id;
}

test('a click and a key are votes; the tally shows them; the camera goes', async (t) => {
  const show = await showFor(t, (file) => (file.audience.poll.round_s = 4));
  const desk = await deskFor(t, show);
  const page = await pageFor(t, show.audience);
  await page.getByText('Parked', { exact: true }).waitFor();
  await page.getByText('No round is open', { exact: false }).waitFor();
  await shot(page, 'audience-stopped');
  await desk.start();
  await page.getByText('Live', { exact: true }).waitFor();
  const before = (await show.judge.where('the camera', () => true)).pos;
  const round = await vote(desk, () => button(page, /^Left/).click(), (votes) => votes[1] === 1);
  await page.getByText('Your vote counts.').waitFor();
  await page.getByText(/^1 of 1 voted/).waitFor();
  assert.equal(await button(page, /^Left/).getAttribute('aria-pressed'), 'true');
  await shot(page, 'audience-voted');
  await desk.sceneWhere('the outcome', (s) => s.round.last.choice === 'truck-left' && s.round.id > round);
  await show.judge.where('the step to the left', (l) => l.pos[0] < before[0] - 0.2);

  await vote(desk, async () => {
    await button(page, /^Stay/).focus();
    await page.keyboard.press('ArrowUp');
  }, (votes) => votes[4] === 1);
  await assertUntouched(show);
});

test('on a phone: the stick by touch-sized button and by key; the reason for being held is said', async (t) => {
  const show = await showFor(t, (file) => {
    file.audience.mode = 'blend';
    file.room.home_m = [1.5, 2.2, 2.0];
  });
  const desk = await deskFor(t, show);
  const page = await pageFor(t, show.audience, phone);
  await desk.start();
  await page.getByText('Live', { exact: true }).waitFor();
  const stick = page.getByRole('application', { name: /stick/i });
  const box = await stick.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.9, box.y + box.height / 2, { steps: 4 });
  await desk.sceneWhere('the stick held to the right', (s) => s.crowd.sticks === 1 && s.crowd.blend[0] > 0.5);
  await assertMoves(show, 0.1);
  await shot(page, 'audience-phone-stick');
  await page.mouse.up();
  await desk.sceneWhere('let go', (s) => s.crowd.sticks === 0);
  await restOf(show);

  await stick.focus();
  await page.keyboard.down('KeyA');
  await desk.sceneWhere('the stick held to the left', (s) => s.crowd.blend[0] === -1);
  const scene = await desk.sceneWhere('held at the edge', (s) => s.reason.code === 'stage-edge' && s.at_rest);
  await page.getByText(/edge/i).first().waitFor();
  assert.ok(scene.reason.text.length > 5);
  await shot(page, 'audience-phone-held');
  await page.keyboard.up('KeyA');
  await assertUntouched(show);
});

test('a killed edge: the page says so, comes back by itself, and votes again', async (t) => {
  const show = await showFor(t, (file) => (file.audience.poll.round_s = 4));
  const desk = await deskFor(t, show);
  const page = await pageFor(t, show.audience, undefined, { mayComplain: /WebSocket connection|ERR_CONNECTION/ });
  await desk.start();
  await page.getByText('Live', { exact: true }).waitFor();
  process.kill((await show.processes()).edges[0], 'SIGKILL');
  await page.getByText('Not connected', { exact: true }).first().waitFor();
  await page.getByText('Live', { exact: true }).waitFor();
  await desk.sceneWhere('the viewer counted again', (s) => s.crowd.viewers === 1);
  await vote(desk, () => button(page, /^Up/).click(), (votes) => votes[6] === 1);
});

test('the page shows a crowd: tallies, the operator taking over, a stop and its reason', async (t) => {
  const show = await showFor(t, (file) => (file.audience.poll.round_s = 4));
  const desk = await deskFor(t, show);
  const page = await pageFor(t, show.audience);
  const viewers = await crowdFor(t, show, 50);
  await desk.start();
  const done = keepVoting(viewers, (_, i) => (i % 3 ? 'dolly-out' : 'truck-right'));
  await until('33 votes on the button', async () => (await button(page, /^Back/).locator('.count').innerText()) === '33');
  await shot(page, 'audience-crowd');
  done();
  await desk.take();
  desk.hold(0, -0.5, 0);
  await page.getByText('The operator is steering', { exact: false }).first().waitFor();
  await desk.stop();
  await page.getByText('Stopped', { exact: true }).waitFor();
  const reason = desk.scene.reason;
  assert.equal(reason.code, 'stop-operator');
  await shot(page, 'audience-after-stop');
  desk.mode('blend');
  await page.getByText('Hold the stick', { exact: false }).waitFor();
  later(t, keepHolding(viewers.slice(0, 7), 0, 0, 1));
  await desk.release();
  await desk.start();
  await page.getByText('7 sticks held', { exact: false }).waitFor();
});
