/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Rooms to survey: a plain one, and one with something of everything. */
#ifndef STEADYHAND_TESTS_UNIT_SURVEY_ROOMS_H
#define STEADYHAND_TESTS_UNIT_SURVEY_ROOMS_H

#include "gateway/show/show.h"

/* A box of 6 x 4 x 2 m, z from 1 m, with one keep-out; four cords from the corners of a square room around it. */
void rooms_plain(struct show *show);

/* Six cords, two of them from below; a concave stage, a keep-out of every shape, a tether, limbs that turn, zones of
 * every kind, and names that would break a drawing if it let them. */
void rooms_rich(struct show *show);

#endif
