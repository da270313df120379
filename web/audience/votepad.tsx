// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/*
 * The poll: seven buttons laid out as the camera moves in the drawing, each with its live tally. A bar is a share of
 * all votes; the tick on it is what a change needs. Arrow keys and WASD vote while the pad has the focus.
 */
import { useComputed } from '@preact/signals';
import type { JSX } from 'preact';
import { Bar } from '../common/bar';
import { Arrow } from '../common/icons';
import { CHOICES, type Choice } from '../common/messages';
import { fromKeys, isStickKey } from '../common/stick';
import { CHOICE_WORD } from '../common/words';
import { canVote, myVote, scene, vote, type MyVote } from './store';

const PLACES: readonly [Choice, string][] = [
  ['dolly-in', 'in'], ['pedestal-up', 'up'], ['truck-left', 'left'], ['stay', 'stay'], ['truck-right', 'right'],
  ['dolly-out', 'back'], ['pedestal-down', 'down'],
];

/** The choice a direction stands for: its longest axis. */
export function choiceOf(v: readonly [number, number, number]): Choice {
  const [x, y, z] = v;
  if (Math.abs(z) > Math.max(Math.abs(x), Math.abs(y))) return z > 0 ? 'pedestal-up' : 'pedestal-down';
  if (Math.abs(y) > Math.abs(x)) return y > 0 ? 'dolly-in' : 'dolly-out';
  if (x === 0) return 'stay';
  return x > 0 ? 'truck-right' : 'truck-left';
}

function onKey(event: KeyboardEvent): void {
  if (!isStickKey(event.code) || event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
  event.preventDefault();
  vote(choiceOf(fromKeys([event.code])));
}

export function VotePad(): JSX.Element {
  return (
    <div class="votes" role="group" aria-label="Vote for the next step" onKeyDown={onKey}>
      {PLACES.map(([choice, place]) => <VoteButton key={choice} choice={choice} place={place} />)}
    </div>
  );
}

function VoteButton({ choice, place }: { choice: Choice; place: string }): JSX.Element {
  const count = useComputed(() => scene.value?.round.votes[CHOICES.indexOf(choice)] ?? 0);
  const cast = useComputed(() => (scene.value?.round.votes ?? []).reduce((a, b) => a + b, 0));
  const mine = useComputed(() => (myVote.value?.choice === choice ? myVote.value.standing : null));
  const standing = mine.value;
  return (
    <button type="button" class={`vote at-${place}${standing ? ' mine' : ''}`} aria-pressed={standing !== null}
      aria-disabled={!canVote.value} onClick={() => vote(choice)}>
      <Arrow to={choice} />
      <span class="word">{CHOICE_WORD[choice]}{standing && <Mark standing={standing} />}</span>
      <span class="count" aria-label={`${count.value} votes`}>{count}</span>
      <Bar votes={count.value} cast={cast.value} needed={choice === 'stay' ? 0 : scene.value?.round.needed ?? 0} />
    </button>
  );
}

const MARK: Readonly<Record<MyVote['standing'], [string, string]>> = {
  'sent': ['your vote, being sent', 'M5 12H6M11.5 12H12.5M18 12H19'],
  'counted': ['your vote, counted', 'M4 13L10 19L20 5'],
  'not counted': ['your vote, not counted', 'M5 5L19 19M19 5L5 19'],
};

function Mark({ standing }: { standing: MyVote['standing'] }): JSX.Element {
  const [words, d] = MARK[standing];
  return <svg class="mark" viewBox="0 0 24 24" role="img" aria-label={words}><path d={d} /></svg>;
}
