/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What a viewer says: one small JSON object, read by hand without allocating anything, because a crowd says it
 * thousands of times a second. Strict: RFC 8259 to the letter (white space, escapes and number forms included), exactly
 * the fields of the message's type, each once, each of its type and within its range. Anything else is refused whole.
 *
 *   {"type":"vote","round":12,"choice":"truck-left"}    round: 0..4294967295, written as an integer
 *   {"type":"stick","x":0.5,"y":0,"z":-1}               each -1..1
 *   {"type":"release"}
 */
#ifndef STEADYHAND_EDGE_WISH_H
#define STEADYHAND_EDGE_WISH_H

#include <stddef.h>
#include <stdint.h>

#include "policy/crowd/tally.h"

enum { WISH_TEXT_MAX = 512 }; /* bytes; a show may set a lower limit */

enum wish_type { WISH_NOTHING, WISH_VOTE, WISH_STICK, WISH_RELEASE, WISH_TYPE_COUNT };

struct wish_message {
    enum wish_type type;
    uint32_t round;
    enum choice choice;
    double axis[TALLY_AXES]; /* x, y, z */
};

enum wish_fault {
    WISH_FINE,
    WISH_TOO_BIG,
    WISH_NOT_JSON,      /* not one JSON object, or broken in the middle */
    WISH_UNKNOWN_TYPE,  /* "type" is missing, or none of ours */
    WISH_UNKNOWN_FIELD, /* a field the type does not have */
    WISH_TWICE,         /* a field given twice */
    WISH_MISSING_FIELD,
    WISH_BAD_ROUND,
    WISH_BAD_CHOICE,
    WISH_BAD_AXIS,
    WISH_FAULT_COUNT
};

/* text need not be NUL-terminated. *out is written only if the result is WISH_FINE. */
enum wish_fault wish_parse(const char *text, size_t len, struct wish_message *out);

/* A sentence for the viewer: what was wrong and what is expected. */
const char *wish_fault_text(enum wish_fault fault);

/* "vote", "stick", "release"; "message" for WISH_NOTHING. */
const char *wish_type_name(enum wish_type type);

#endif
