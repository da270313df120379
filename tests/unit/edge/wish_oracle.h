/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The same protocol read the slow way: a general JSON parser, then a look at every field. What wish_parse() is held
 * against, by the unit tests and by the fuzzer. */
#ifndef STEADYHAND_TESTS_WISH_ORACLE_H
#define STEADYHAND_TESTS_WISH_ORACLE_H

#include <jansson.h>
#include <stdbool.h>
#include <string.h>

#include "gateway/edge/wish.h"

static inline bool oracle_round(const json_t *value, uint32_t *round)
{
    json_int_t n = json_integer_value(value);
    *round = (uint32_t)n;
    return json_is_integer(value) && n >= 0 && n <= (json_int_t)UINT32_MAX;
}

static inline bool oracle_choice(const json_t *value, enum choice *choice)
{
    for (int c = 0; json_is_string(value) && c < CHOICE_COUNT; c++) {
        *choice = (enum choice)c;
        if (strcmp(json_string_value(value), choice_name(*choice)) == 0)
            return true;
    }
    return false;
}

static inline bool oracle_axis(const json_t *value, double *axis)
{
    *axis = json_number_value(value);
    return json_is_number(value) && *axis >= -1 && *axis <= 1;
}

static inline bool oracle_object(const json_t *root, struct wish_message *out)
{
    const char *type = json_string_value(json_object_get(root, "type"));
    size_t members = json_object_size(root);
    if (!type)
        return false;
    if (strcmp(type, "vote") == 0) {
        out->type = WISH_VOTE;
        return members == 3 && oracle_round(json_object_get(root, "round"), &out->round) &&
               oracle_choice(json_object_get(root, "choice"), &out->choice);
    }
    if (strcmp(type, "stick") == 0) {
        out->type = WISH_STICK;
        return members == 4 && oracle_axis(json_object_get(root, "x"), &out->axis[0]) &&
               oracle_axis(json_object_get(root, "y"), &out->axis[1]) &&
               oracle_axis(json_object_get(root, "z"), &out->axis[2]);
    }
    out->type = WISH_RELEASE;
    return strcmp(type, "release") == 0 && members == 1;
}

/* jansson 2.14 skips a NUL byte that follows a number; RFC 8259 has no NUL anywhere, so none is let through to it. */
static inline bool oracle_parse(const char *text, size_t len, struct wish_message *out)
{
    bool try = len > 0 && len <= WISH_TEXT_MAX && !memchr(text, 0, len);
    json_t *root = try ? json_loadb(text, len, JSON_REJECT_DUPLICATES, NULL) : NULL;
    *out = (struct wish_message){0};
    bool fine = json_is_object(root) && oracle_object(root, out);
    json_decref(root);
    return fine;
}

static inline bool oracle_same(const struct wish_message *a, const struct wish_message *b)
{
    bool same = a->type == b->type && a->round == b->round && a->choice == b->choice;
    for (int i = 0; i < TALLY_AXES; i++)
        same = same && a->axis[i] == b->axis[i];
    return same;
}

#endif
