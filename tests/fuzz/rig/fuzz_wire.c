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

/* Finite; nothing where the source is not there. */
static void require_said(const struct wire_telemetry *t, enum wire_source source, double value)
{
    require(isfinite(value) && (t->sources >> source & 1 || (value == 0 && !signbit(value))));
}

static void require_telemetry(const struct wire_telemetry *t)
{
    require(t->flags <= WIRE_RIG_FLAGS && t->sources < 1 << WIRE_SOURCES && t->cords <= WIRE_MAX_CORDS);
    require(isfinite(t->swing_rad) && t->swing_rad >= 0 && t->uncertainty_m >= 0 && t->yaw_off_rad >= 0 &&
            t->subject_age_s >= 0);
    for (int k = 0; k < 3; k++) {
        require_said(t, WIRE_POSE, t->position[k]);
        require_said(t, WIRE_POSE, t->velocity[k]);
        require_said(t, WIRE_SUBJECT, t->subject[k]);
    }
    for (int k = 0; k < WIRE_MAX_CORDS; k++) {
        require_said(t, WIRE_LENGTH, (double)t->cord_length[k]);
        require_said(t, WIRE_TENSION, (double)t->cord_tension[k]);
        require(k < t->cords || (t->cord_length[k] == 0 && t->cord_tension[k] == 0));
    }
    require_said(t, WIRE_POSE, (double)t->uncertainty_m);
    require_said(t, WIRE_RANGE, (double)t->range_m);
    require_said(t, WIRE_TILT, (double)t->tilt_rad[0]);
    require_said(t, WIRE_TILT, (double)t->tilt_rad[1]);
    require_said(t, WIRE_YAW, (double)t->yaw_rad);
    require_said(t, WIRE_YAW, (double)t->yaw_off_rad);
    require_said(t, WIRE_SUBJECT, (double)t->subject_age_s);
    for (int k = 0; k < WIRE_HEAD_AXES; k++)
        require_said(t, WIRE_HEAD, (double)t->head[k]);
}

static void require_ranges(const struct wire_message *m)
{
    const struct wire_telemetry *t = &m->body.telemetry;
    const struct wire_intent *i = &m->body.intent;
    if (m->type == WIRE_INTENT) {
        require(i->motion <= 1 && i->power <= 1 && i->category <= 2 && i->cords <= WIRE_MAX_CORDS);
        require(i->motion == 0 || (i->power == 1 && i->category == 2));
        require(isfinite(i->velocity[0]) && isfinite(i->velocity[1]) && isfinite(i->velocity[2]));
        for (int k = 0; k < WIRE_MAX_CORDS; k++)
            require(isfinite(i->cord_rate[k]) && isfinite(i->cord_tension[k]) &&
                    (k < i->cords || (i->cord_rate[k] == 0 && i->cord_tension[k] == 0)));
        for (int k = 0; k < WIRE_HEAD_AXES; k++)
            require(isfinite(i->head_rate[k]));
    }
    if (m->type == WIRE_STOP)
        require(m->body.stop.category <= 2);
    if (m->type == WIRE_TELEMETRY)
        require_telemetry(t);
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
