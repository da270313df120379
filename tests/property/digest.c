/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/property/digest.h"

#include <string.h>

/* FNV-1a, by words instead of bytes; what is shorter than a word is padded with zeros. */
static uint64_t fold(uint64_t digest, const void *bytes, size_t size)
{
    for (size_t i = 0; i < size; i += sizeof digest) {
        uint64_t word = 0;
        memcpy(&word, (const char *)bytes + i, size - i < sizeof word ? size - i : sizeof word);
        digest = (digest ^ word) * 0x100000001b3u;
        digest ^= digest >> 29;
    }
    return digest;
}

#define FOLD(field) digest = fold(digest, &(field), sizeof(field))

uint64_t digest_output(uint64_t digest, const struct policy_output *out)
{
    FOLD(out->intent.velocity);
    FOLD(out->intent.cord_rate_mps);
    FOLD(out->intent.cord_tension_n);
    FOLD(out->intent.head_rate);
    FOLD(out->intent.motion);
    FOLD(out->intent.stop_count);
    FOLD(out->intent.permit);
    FOLD(out->intent.power);
    FOLD(out->intent.category);
    FOLD(out->stop_state);
    FOLD(out->stop_reason);
    FOLD(out->stop_category);
    FOLD(out->stop_answer);
    FOLD(out->at_rest);
    FOLD(out->lane);
    FOLD(out->mode);
    FOLD(out->wanted);
    FOLD(out->reasons);
    FOLD(out->guard.margin_m);
    FOLD(out->guard.nearest.distance_m);
    FOLD(out->guard.braking_m);
    FOLD(out->guard.fallback);
    FOLD(out->guard.keepout);
    FOLD(out->limits_answer);
    FOLD(out->place.position);
    FOLD(out->place.uncertainty_m);
    FOLD(out->tension_margin_n);
    FOLD(out->goal_set);
    FOLD(out->goal);
    return digest;
}
