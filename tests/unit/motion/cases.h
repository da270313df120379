/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Points and numbers out of the published cases (tests/reference/motion.json). */
#ifndef STEADYHAND_TESTS_MOTION_CASES_H
#define STEADYHAND_TESTS_MOTION_CASES_H

#include "policy/motion/vec.h"
#include "tests/unit/reference.h"

static inline double cases_number(const json_t *value)
{
    cr_assert(json_is_number(value), "a number is missing");
    return json_number_value(value);
}

static inline struct vec3 cases_point(const json_t *list)
{
    cr_assert_eq(json_array_size(list), 3);
    return (struct vec3){cases_number(json_array_get(list, 0)), cases_number(json_array_get(list, 1)),
                         cases_number(json_array_get(list, 2))};
}

#endif
