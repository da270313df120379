/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Limits and states for the tests of profiles and heads: from the reference file, and at random. */
#ifndef STEADYHAND_TESTS_PROFILES_H
#define STEADYHAND_TESTS_PROFILES_H

#include <criterion/criterion.h>
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "policy/motion/profile.h"
#include "tests/unit/crowd/random.h"

/* A new reference to one case of a file in tests/reference. */
static inline json_t *profiles_case(const char *name, const char *id)
{
    json_error_t error;
    char path[512];
    snprintf(path, sizeof path, "%s/%s", REFERENCE, name);
    json_t *file = json_load_file(path, JSON_REJECT_DUPLICATES, &error), *one, *found = NULL;
    size_t i;
    cr_assert(file, "%s:%d: %s", path, error.line, error.text);
    json_array_foreach(json_object_get(file, "cases"), i, one)
    {
        if (strcmp(json_string_value(json_object_get(one, "id")), id) == 0)
            found = json_incref(one);
    }
    cr_assert(found, "no case %s", id);
    json_decref(file);
    return found;
}

static inline double profiles_number(const json_t *from, const char *key)
{
    const json_t *value = json_object_get(from, key);
    cr_assert(json_is_number(value), "no number %s", key);
    return json_number_value(value);
}

/* Evenly over the orders of magnitude. */
static inline double profiles_magnitude(struct random *r, double least, double most)
{
    return least * pow(most / least, random_between(r, 0, 1));
}

/* From a second or two at full jerk down to less than a tick of it. */
static inline struct profile_limits profiles_limits(struct random *r)
{
    struct profile_limits limits;
    limits.speed = profiles_magnitude(r, 0.05, 2);
    limits.accel = profiles_magnitude(r, 0.1, 5);
    limits.jerk = profiles_magnitude(r, 0.5, 2000);
    return limits;
}

static inline double profiles_hostile(struct random *r)
{
    static const double hostile[] = {NAN, -NAN, INFINITY, -INFINITY, 1e308, -1e308, 1e18, -1e18, 5e-324, -0.0, 1e-300};
    return hostile[random_below(r, sizeof hostile / sizeof hostile[0])];
}

#endif
