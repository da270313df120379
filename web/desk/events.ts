// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* What changed from one scene to the next, in words for the desk's list of events. Pure. */
import type { SceneDesk } from '../common/messages';
import { CHOICE_WORD, codeWords, count, MODE_WORD, reasonSentence, STATE_WORD, steering, UNCONFIRMED } from '../common/words';

const RIG_SAYS = { ok: 'The rig answers again', lost: 'The rig does not answer', fault: 'The rig reports a fault' } as const;

export function changes(before: SceneDesk, now: SceneDesk): string[] {
  const out: string[] = [];
  if (now.state !== before.state) {
    const why = now.state === 'stopped' || now.state === 'holding' ? reasonSentence(now.reason) : '';
    out.push(`${STATE_WORD[now.state]}${why ? `: ${why}` : '.'}`);
  }
  if (now.rig !== before.rig) out.push(`${RIG_SAYS[now.rig]}.`);
  const { holder } = now.desk;
  if (holder !== before.desk.holder) out.push(holder ? `${holder} took control.` : `${before.desk.holder} released control.`);
  if (steering(now) !== steering(before)) out.push(`${steering(now)}.`);
  if (now.mode !== before.mode) out.push(`Audience: ${MODE_WORD[now.mode]}.`);
  if (now.scale !== before.scale) out.push(`Audience speed: ${Math.round(now.scale * 100)} %.`);
  if (now.round.id === before.round.id + 1 && before.round.phase !== 'off') {
    out.push(`Round: ${CHOICE_WORD[now.round.last.choice]} (${count(now.round.last.voices, 'voice')}).`);
  }
  if (now.state === 'running' && before.state === 'running') out.push(...clamp(before, now));
  if (now.unconfirmed && !before.unconfirmed) out.push(`${UNCONFIRMED}. Power off was asked for.`);
  if (now.desk.stop.confirmed && !before.desk.stop.confirmed) out.push('The rig confirmed the stop.');
  return out;
}

/** A reason that begins; its end is not worth a line. */
function clamp(before: SceneDesk, now: SceneDesk): string[] {
  const same = now.reason.code === before.reason.code && now.reason.zone === before.reason.zone;
  if (same || now.reason.code === 'none' || now.reason.code === 'operator-has-it') return [];
  return [`${codeWords(now.reason.code)}${now.reason.zone ? ` (${now.reason.zone})` : ''} limits the motion.`];
}
