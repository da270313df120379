/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* wish_parse() against a general JSON parser: the same verdict and the same values for every text; nothing written
 * unless it is fine; what is fine is within its ranges. */
#include <stdint.h>
#include <stdlib.h>

#include "tests/unit/edge/wish_oracle.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct wish_message untouched = {.type = WISH_TYPE_COUNT, .round = 99, .axis = {7, 7, 7}};
    struct wish_message ours = untouched, theirs;
    bool fine = wish_parse((const char *)data, size, &ours) == WISH_FINE;
    must(fine == oracle_parse((const char *)data, size, &theirs));
    must(oracle_same(&ours, fine ? &theirs : &untouched));
    if (!fine)
        return 0;
    must(ours.type > WISH_NOTHING && ours.type < WISH_TYPE_COUNT && (unsigned)ours.choice < CHOICE_COUNT);
    for (int i = 0; i < TALLY_AXES; i++)
        must(ours.axis[i] >= -1 && ours.axis[i] <= 1);
    return 0;
}
