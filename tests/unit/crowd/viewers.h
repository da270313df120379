/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Viewers one by one, as an edge knows them, and how each adds to its tally. */
#ifndef STEADYHAND_TESTS_VIEWERS_H
#define STEADYHAND_TESTS_VIEWERS_H

#include "policy/crowd/tally.h"
#include "tests/unit/crowd/random.h"

struct viewer {
    int choice; /* -1: has not voted */
    bool holds;
    double stick[TALLY_AXES];
};

static inline struct viewer viewer_random(struct random *r)
{
    struct viewer v = {.choice = (int)random_below(r, CHOICE_COUNT + 1) - 1, .holds = random_below(r, 2)};
    for (int a = 0; a < TALLY_AXES; a++)
        v.stick[a] = random_between(r, -1.2, 1.2);
    return v;
}

static inline void viewer_speaks(const struct viewer *v, struct tally *tally)
{
    tally->viewers++;
    if (v->choice >= 0)
        tally->votes[v->choice]++;
    if (!v->holds)
        return;
    tally->sticks++;
    for (int a = 0; a < TALLY_AXES; a++)
        tally->stick[a][tally_bin(v->stick[a])]++;
}

#endif
