/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What no caller should send: numbers that are none, and values that an enum does not have. */
#ifndef STEADYHAND_PROPERTY_WILD_H
#define STEADYHAND_PROPERTY_WILD_H

#include <math.h>
#include <string.h>

#include "tests/property/random.h"

static inline double wild_number(struct random *r)
{
    static const double wild[] = {
        (double)NAN, (double)INFINITY, -(double)INFINITY, 1e308, -1e308, 5e-324, 1e6, -0.0, -1, 2};
    return wild[random_below(r, sizeof wild / sizeof *wild)];
}

static inline struct vec3 wild_vector(struct random *r)
{
    struct vec3 v = random_in_ball(r, 1);
    double *axis[3] = {&v.x, &v.y, &v.z};
    *axis[random_below(r, 3)] = wild_number(r);
    return v;
}

/* An enum with a value it does not have, as memory from elsewhere might hold. */
static inline void wild_enum(void *e, size_t size, struct random *r)
{
    int value = random_below(r, 2) ? 97 : -5;
    memcpy(e, &value, size < sizeof value ? size : sizeof value);
}

#endif
