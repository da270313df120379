/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Blend: everyone holds a stick, the camera follows the coordinate-wise lower median of the held sticks.
 * Breakdown point 1/2 (Huber & Ronchetti, Robust Statistics): fewer than half of the sticks, however they collude,
 * cannot push an axis beyond what some honest stick asks. Resolution is one bin (1/16); cost O(bins), whatever the
 * audience.
 */
#ifndef STEADYHAND_CROWD_BLEND_H
#define STEADYHAND_CROWD_BLEND_H

#include "policy/crowd/tally.h"

/* Writes -1..1 for each axis; all 0 if fewer sticks than quorum are held. */
void blend_median(const struct tally *tally, uint32_t quorum, double axis[TALLY_AXES]);

#endif
