/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <stdint.h>

#include "policy/motion/vec.h"

/* -1..1, of very different sizes. */
static double part(uint64_t *state)
{
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    double x = (double)(int64_t)*state / 9223372036854775808.0;
    return ldexp(x, -(int)(*state >> 20 & 31));
}

static struct vec3 any(uint64_t *state)
{
    return (struct vec3){part(state), part(state), part(state)};
}

static bool inside(double x, double a, double b)
{
    return x >= fmin(a, b) && x <= fmax(a, b);
}

Test(vec, what_is_capped_is_no_longer_and_points_the_same_way)
{
    uint64_t state = 1;
    for (int n = 0; n < 100000; n++) {
        struct vec3 a = any(&state), c;
        double most = fabs(part(&state));
        c = vec_capped(a, most);
        cr_assert(fabs(c.x) <= most && fabs(c.y) <= most && fabs(c.z) <= most);
        cr_assert(vec_norm(c) <= most * (1 + 1e-15));
        cr_assert(vec_norm(vec_cross(a, c)) <= 1e-15 * vec_norm(a) * vec_norm(c) && vec_dot(a, c) >= 0);
        cr_assert_float_eq(vec_norm(c), fmin(most, vec_norm(a)), 1e-15);
    }
}

Test(vec, what_approaches_never_leaves_the_span_on_any_axis)
{
    uint64_t state = 2;
    for (int n = 0; n < 100000; n++) {
        struct vec3 a = any(&state), b = any(&state), c;
        double most = fabs(part(&state));
        c = vec_approached(a, b, most);
        cr_assert(inside(c.x, a.x, b.x) && inside(c.y, a.y, b.y) && inside(c.z, a.z, b.z));
        cr_assert(vec_norm(vec_sub(c, a)) <= most + 1e-15);
        cr_assert_float_eq(vec_norm(vec_sub(b, c)), fmax(vec_norm(vec_sub(b, a)) - most, 0), 1e-15);
    }
}
