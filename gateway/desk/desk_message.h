/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The words of the subprotocol steadyhand.desk.1 from a page to core: what a message must hold, and who may send it. */
#ifndef STEADYHAND_DESK_DESK_MESSAGE_H
#define STEADYHAND_DESK_DESK_MESSAGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "gateway/pass/pass.h"
#include "policy/crowd/crowd.h"
#include "policy/motion/head.h"
#include "policy/motion/limits.h"

enum { DESK_MESSAGE_MAX = 512 };

enum desk_type {
    DESK_HELLO,
    DESK_BEAT,
    DESK_STOP,
    DESK_ARM,
    DESK_RESET,
    DESK_GO,
    DESK_HOLD,
    DESK_PARK,
    DESK_TAKE,
    DESK_RELEASE,
    DESK_STICK,
    DESK_MODE,
    DESK_SCALE,
    DESK_ENABLE,
    DESK_HEAD,
    DESK_HEAD_HOME,
    DESK_LIMIT,
    DESK_SETUP,
    DESK_TYPE_COUNT
};

/* Limits of the session that are asked for; not a number: as it is. */
struct desk_limit {
    enum lane lane;
    double speed_mps, floor_m, ceiling_m;
};

struct desk_message {
    enum desk_type type;
    char pass[PASS_MAX];     /* hello; NUL-terminated */
    uint64_t n;              /* beat: any number; arm, reset, go: the stop count seen; 0 .. 2^53 - 1; park has none */
    struct vec3 stick;       /* stick; each -1..1 */
    enum crowd_mode mode;    /* mode */
    double value;            /* scale; 0..1 */
    bool on;                 /* enable, setup */
    double head[HEAD_AXES];  /* head; each -1..1 */
    struct desk_limit limit; /* limit */
};

enum desk_parse { DESK_PARSED, DESK_NOT_JSON, DESK_NO_TYPE, DESK_BAD_FIELDS };

/*
 * Strict: UTF-8 JSON (RFC 8259), one object, no duplicate and no unknown keys, every field there and in range, at most
 * DESK_MESSAGE_MAX bytes. *out is filled only on DESK_PARSED; on DESK_BAD_FIELDS *type says which message was meant.
 */
enum desk_parse desk_message_parse(const char *text, size_t len, struct desk_message *out, enum desk_type *type);

/* True for {"type":"stop"}, spaced as JSON allows: no allocation, no parser, first thing tried. A stop spelled in some
 * other way (escapes) is still found by desk_message_parse. */
bool desk_message_is_stop(const char *text, size_t len);

bool desk_message_allowed(enum desk_type type, enum pass_role role);
const char *desk_message_name(enum desk_type type); /* "hello", ... */

#endif
