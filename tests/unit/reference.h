/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The published cases that tests are held against. Each names its source in its file in tests/reference, the folder
 * that the build calls REFERENCE. */
#ifndef STEADYHAND_TESTS_REFERENCE_H
#define STEADYHAND_TESTS_REFERENCE_H

#include <criterion/criterion.h>
#include <jansson.h>
#include <stdio.h>
#include <string.h>

/* A whole file of tests/reference, new. */
static inline json_t *reference_file(const char *name)
{
    char path[512];
    json_error_t error;
    snprintf(path, sizeof path, "%s/%s", REFERENCE, name);
    json_t *file = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
    cr_assert(file, "%s:%d: %s", path, error.line, error.text);
    return file;
}

/* A new reference to one case of a file. */
static inline json_t *reference_case(const char *name, const char *id)
{
    json_t *file = reference_file(name), *one, *found = NULL;
    size_t i;
    json_array_foreach(json_object_get(file, "cases"), i, one)
    {
        if (strcmp(json_string_value(json_object_get(one, "id")), id) == 0)
            found = json_incref(one);
    }
    cr_assert(found, "no case %s in %s", id, name);
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

static inline double reference_number(const json_t *from, const char *key)
{
    const json_t *value = json_object_get(from, key);
    cr_assert(json_is_number(value), "no number %s", key);
    return json_number_value(value);
}

#endif
