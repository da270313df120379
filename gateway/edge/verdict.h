/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What becomes of a viewer's wish, as a value; the message is made from it. */
#ifndef STEADYHAND_EDGE_VERDICT_H
#define STEADYHAND_EDGE_VERDICT_H

#include "gateway/bus/frames.h"
#include "gateway/edge/wish.h"

enum { VERDICT_JSON_MAX = 512 };

enum verdict_kind { VERDICT_NONE, VERDICT_COUNTED, VERDICT_LIMITED, VERDICT_REFUSED, VERDICT_OVERTAKEN };

struct verdict {
    enum verdict_kind kind;
    enum wish_type of;
    const char *code, *text; /* static strings; NULL where there is nothing to say */
    uint32_t wait_ms;        /* of a limited wish */
    uint32_t answers;        /* wishes it answers: earlier ones not yet answered are folded into the newest */
};

/* Can this wish count now? now: the newest scene, NULL while core is not heard. */
struct verdict verdict_on(const struct wish_message *wish, const struct scene *now);

struct verdict verdict_malformed(enum wish_fault fault);
struct verdict verdict_limited(enum wish_type of, uint64_t wait_ns);

/* Writes the message; returns its length, 0 if it does not fit. */
size_t verdict_json(const struct verdict *verdict, char *buf, size_t size);

#endif
