/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Any bytes at all into the codec: either they are refused and the message is untouched, or the message says exactly
 * those bytes again. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/rig/wire.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void require(int holds)
{
    if (!holds)
        abort();
}

static void require_ranges(const struct wire_message *m)
{
    const struct wire_telemetry *t = &m->body.telemetry;
    const struct wire_intent *i = &m->body.intent;
    if (m->type == WIRE_INTENT) {
        require(i->motion <= 1 && i->cords <= WIRE_MAX_CORDS);
        require(isfinite(i->velocity[0]) && isfinite(i->velocity[1]) && isfinite(i->velocity[2]));
        for (int k = 0; k < WIRE_MAX_CORDS; k++)
            require(isfinite(i->cord_rate[k]) && (k < i->cords || i->cord_rate[k] == 0));
    }
    if (m->type == WIRE_TELEMETRY) {
        require(t->cords <= WIRE_MAX_CORDS && t->flags <= WIRE_RIG_FLAGS);
        require(isfinite(t->position[0]) && isfinite(t->position[1]) && isfinite(t->position[2]));
        require(isfinite(t->uncertainty_m) && t->uncertainty_m >= 0 && isfinite(t->swing_rad) && t->swing_rad >= 0);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct wire_message m, before;
    uint8_t again[WIRE_MAX];
    memset(&m, 0x5a, sizeof m);
    memcpy(&before, &m, sizeof m);
    if (!wire_decode(data, size, &m)) {
        require(memcmp(&m, &before, sizeof m) == 0);
        return 0;
    }
    require_ranges(&m);
    require(wire_encode(&m, again, sizeof again) == size);
    require(memcmp(again, data, size - WIRE_TAG) == 0);
    for (size_t cut = 0; cut < size; cut++)
        require(wire_encode(&m, again, cut) == 0);
    return 0;
}
