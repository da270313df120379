/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/crowd/tally.h"

#include <math.h>

#include "policy/crowd/saturate.h"

enum { MIDDLE = TALLY_BINS / 2 };

void tally_clear(struct tally *tally)
{
    *tally = (struct tally){0};
}

uint64_t tally_cast(const struct tally *tally)
{
    uint64_t cast = 0;
    for (int c = 0; c < CHOICE_COUNT; c++)
        cast += tally->votes[c];
    return cast;
}

bool tally_valid(const struct tally *tally)
{
    for (int axis = 0; axis < TALLY_AXES; axis++) {
        uint64_t held = 0;
        for (int bin = 0; bin < TALLY_BINS; bin++)
            held += tally->stick[axis][bin];
        if (held != tally->sticks)
            return false;
    }
    return tally->sticks <= tally->viewers && tally_cast(tally) <= tally->viewers;
}

void tally_merge(struct tally *into, const struct tally *from)
{
    into->viewers = saturate_add32(into->viewers, from->viewers);
    into->sticks = saturate_add32(into->sticks, from->sticks);
    for (int c = 0; c < CHOICE_COUNT; c++)
        into->votes[c] = saturate_add32(into->votes[c], from->votes[c]);
    for (int axis = 0; axis < TALLY_AXES; axis++)
        for (int bin = 0; bin < TALLY_BINS; bin++)
            into->stick[axis][bin] = saturate_add32(into->stick[axis][bin], from->stick[axis][bin]);
}

/* Halves round away from the middle on both sides, so that mirrored sticks fall into mirrored bins. */
int tally_bin(double stick)
{
    if (isnan(stick))
        return MIDDLE;
    return MIDDLE + (int)lround(fmin(fmax(stick, -1.0), 1.0) * MIDDLE);
}

double tally_bin_value(int bin)
{
    return (double)(bin - MIDDLE) / MIDDLE;
}
