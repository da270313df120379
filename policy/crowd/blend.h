/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Blend: everyone holds a stick, the camera follows the coordinate-wise median of the held sticks.
 *
 * Where the sticks leave an interval of medians (an even number of them), the one nearest to rest is taken. The lower
 * median would favour one direction: two viewers who pull apart would drive the camera to the left.
 *
 * Breakdown point 1/2 (Huber & Ronchetti, Robust Statistics): fewer than half of the sticks, however they collude,
 * cannot push an axis beyond what some honest stick asks; exactly half can at most bring it to rest. Resolution is
 * one bin (1/16); cost O(bins), whatever the audience.
 */
#ifndef STEADYHAND_CROWD_BLEND_H
#define STEADYHAND_CROWD_BLEND_H

#include "policy/crowd/tally.h"

/* Writes -1..1 for each axis; all 0 if fewer sticks than quorum are held. */
void blend_median(const struct tally *tally, uint32_t quorum, double axis[TALLY_AXES]);

/* The lower and the upper median of one axis: the least bin with at least half of the sticks at or below it, and the
 * greatest with at least half at or above. The middle bin if there are none. */
int blend_lower(const uint32_t bins[TALLY_BINS]);
int blend_upper(const uint32_t bins[TALLY_BINS]);

#endif
