/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Arbitrary bytes as a desk message: what is accepted is in range, what is refused changes nothing, and the stop that
 * is known at a glance is a stop to the parser too. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/desk/desk_message.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool ok, const char *what)
{
    if (ok)
        return;
    fprintf(stderr, "fuzz_desk_message: %s\n", what);
    abort();
}

static bool in_range(double v, double lo, double hi)
{
    return v >= lo && v <= hi; /* false for NaN */
}

static void check_accepted(const struct desk_message *m)
{
    must((unsigned)m->type < DESK_TYPE_COUNT, "a known type");
    must(in_range(m->stick.x, -1, 1) && in_range(m->stick.y, -1, 1) && in_range(m->stick.z, -1, 1), "stick in range");
    must(in_range(m->value, 0, 1), "scale in range");
    must((unsigned)m->mode < CROWD_MODE_COUNT, "a known mode");
    for (int i = 0; i < HEAD_AXES; i++)
        must(in_range(m->head[i], -1, 1), "head in range");
    const struct desk_limit *l = &m->limit;
    must((unsigned)l->lane < LANE_COUNT, "a known lane");
    must(isnan(l->speed_mps) || in_range(l->speed_mps, 0, 10), "speed in range, or as it is");
    must(isnan(l->floor_m) || in_range(l->floor_m, -100, 100), "floor in range, or as it is");
    must(isnan(l->ceiling_m) || in_range(l->ceiling_m, -100, 100), "ceiling in range, or as it is");
    must(m->n < 1ull << 53, "a beat that a page can hold");
    must(memchr(m->pass, 0, sizeof m->pass) != NULL, "a pass that ends");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct desk_message m, before;
    enum desk_type type = DESK_TYPE_COUNT;
    const char *text = (const char *)data;
    memset(&m, 0x5a, sizeof m);
    before = m;
    enum desk_parse parsed = desk_message_parse(text, size, &m, &type);
    bool glance = desk_message_is_stop(text, size);
    if (parsed == DESK_PARSED) {
        check_accepted(&m);
        must(type == m.type, "the type told is the type read");
    } else {
        must(memcmp(&m, &before, sizeof m) == 0, "unchanged on failure");
    }
    must(!glance || (parsed == DESK_PARSED && type == DESK_STOP), "a stop at a glance is a stop");
    return 0;
}
