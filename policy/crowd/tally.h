/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The whole of a crowd's present wishes, as state: counts and histograms that add. An edge sends its tally again and
 * again (a lost one heals itself); core adds the latest of every edge. tally_merge is commutative and associative, so
 * any split of a crowd over edges gives the same sum.
 */
#ifndef STEADYHAND_CROWD_TALLY_H
#define STEADYHAND_CROWD_TALLY_H

#include <stdbool.h>
#include <stdint.h>

#include "policy/crowd/choice.h"

enum {
    TALLY_AXES = 3,
    TALLY_BINS = 33, /* a held stick in -1..1, bin 16 = 0, bin width 1/16 */
};

struct tally {
    uint32_t viewers;             /* connected */
    uint32_t votes[CHOICE_COUNT]; /* voices for each candidate in this round */
    uint32_t sticks;              /* sticks held now; each is in one bin of every axis */
    uint32_t stick[TALLY_AXES][TALLY_BINS];
};

void tally_clear(struct tally *tally);

/* Coherent: the bins of each axis add up to `sticks`; neither `sticks` nor the votes together exceed `viewers`. */
bool tally_valid(const struct tally *tally);

/* Votes for all candidates together. */
uint64_t tally_cast(const struct tally *tally);

/* into += from, each count saturating at UINT32_MAX. */
void tally_merge(struct tally *into, const struct tally *from);

/* Nearest bin of a stick position; values outside -1..1 saturate, NaN is the middle. */
int tally_bin(double stick);
double tally_bin_value(int bin);

#endif
