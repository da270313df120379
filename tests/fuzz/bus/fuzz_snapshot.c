/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What core does with the bytes of an edge it does not trust. */
#include <stdlib.h>
#include <string.h>

#include "gateway/bus/crowds.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void counts_once(const struct snapshot *s)
{
    static struct crowds crowds;
    struct crowds_sum sum;
    crowds_init(&crowds, 500);
    int slot = crowds_join(&crowds);
    crowds_put(&crowds, slot, s, 0);
    crowds_put(&crowds, slot, s, 1);
    crowds_total(&crowds, s->round, 1, &sum);
    must(sum.edges == 1 && tally_valid(&sum.tally) && sum.tally.viewers == s->tally.viewers);
    must(s->round == 0 || memcmp(&sum.tally, &s->tally, sizeof sum.tally) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct snapshot s, untouched;
    uint8_t again[BUS_FRAME_MAX];
    memset(&s, 0x5a, sizeof s);
    memset(&untouched, 0x5a, sizeof untouched);
    if (!frames_decode_snapshot(data, size, &s)) {
        must(memcmp(&s, &untouched, sizeof s) == 0);
        return 0;
    }
    must(tally_valid(&s.tally) && s.tally.viewers <= BUS_MAX_VIEWERS);
    must(frames_encode_snapshot(&s, again, sizeof again) == size && memcmp(again, data, size) == 0);
    counts_once(&s);
    return 0;
}
