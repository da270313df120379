/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The published cases that tests are held against: tests/reference/crowd.json. Each names its source there. */
#ifndef STEADYHAND_TESTS_REFERENCE_H
#define STEADYHAND_TESTS_REFERENCE_H

#include <criterion/criterion.h>
#include <jansson.h>
#include <string.h>

/* A new reference to one case. */
static inline json_t *reference_case(const char *id)
{
    json_error_t error;
    json_t *file = json_load_file(REFERENCE, JSON_REJECT_DUPLICATES, &error), *found = NULL;
    cr_assert(file, "%s:%d: %s", REFERENCE, error.line, error.text);
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(file, "cases"), i, one)
    {
        if (strcmp(json_string_value(json_object_get(one, "id")), id) == 0)
            found = json_incref(one);
    }
    cr_assert(found, "no case %s in %s", id, REFERENCE);
    json_decref(file);
    return found;
}

static inline json_t *reference_input(const json_t *one, const char *key)
{
    return json_object_get(json_object_get(one, "input"), key);
}

static inline json_t *reference_expect(const json_t *one, const char *key)
{
    return json_object_get(json_object_get(one, "expect"), key);
}

#endif
