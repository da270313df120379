/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/spread.h"
#include "tests/unit/motion/cords.h"

enum { RIGS = 4000 };

/* Is the slope towards ref what balance and limits hold back, and nothing else? t - ref = A^T y + m, m >= 0 at lower
 * limits, <= 0 at upper ones, 0 elsewhere (Karush, Kuhn and Tucker). y is found by relaxation over the cords off their
 * limits: another way than the one under test. */
static void expect_nearest(const struct wrench_cords *c, const double ref[], const double t[], const char *where)
{
    struct vec3 y = {0, 0, 0};
    for (int round = 0; round < 20000; round++)
        for (int k = 0; k < c->cords; k++) {
            double gap = t[k] - ref[k] - vec_dot(c->unit[k], y);
            bool low = t[k] - c->min_n[k] < 1e-9, high = c->max_n[k] - t[k] < 1e-9;
            if (!(low && gap > 0) && !(high && gap < 0)) /* a limit that pushes the right way accounts for any gap */
                y = vec_along(y, c->unit[k], gap * 0.7);
        }
    for (int k = 0; k < c->cords; k++) {
        double gap = t[k] - ref[k] - vec_dot(c->unit[k], y);
        bool low = t[k] - c->min_n[k] < 1e-9, high = c->max_n[k] - t[k] < 1e-9;
        cr_assert((low && gap > 0) || (high && gap < 0) || fabs(gap) < 1e-4, "%s: cord %d is off by %g N", where, k,
                  gap);
    }
}

static void expect_within(const struct wrench_cords *c, struct vec3 force, const double t[], const char *where)
{
    cr_assert_leq(vec_norm(wrench_rest(c, t, force)), 1e-9 * vec_norm(force), "%s", where);
    for (int k = 0; k < c->cords; k++)
        cr_assert(t[k] >= c->min_n[k] && t[k] <= c->max_n[k], "%s: cord %d has %g of %g..%g N", where, k, t[k],
                  c->min_n[k], c->max_n[k]);
}

static bool at_a_limit(const struct wrench_cords *c, const double t[])
{
    for (int k = 0; k < c->cords; k++)
        if (t[k] == c->min_n[k] || t[k] == c->max_n[k])
            return true;
    return false;
}

Test(spread, is_in_balance_within_limits_and_nearest)
{
    struct random r = {20};
    int spread = 0, limited = 0;
    for (int i = 0; i < RIGS; i++) {
        struct tension_rig rig = cords_random_rig(&r, 3 + i % 6);
        struct vec3 p = cords_random_in(&r, (struct vec3){1, 1, 0.5}, (struct vec3){7, 5, 2.5});
        struct vec3 force = tension_load(&rig, cords_random_vec(&r, -1, 1));
        struct wrench_cords c;
        struct wrench_survey seen;
        double ref[VOLUME_MAX_CORDS], t[VOLUME_MAX_CORDS];
        char where[40];
        snprintf(where, sizeof where, "rig %d, %d cords", i, rig.cords);
        cr_assert(tension_cords(&rig, p, &c));
        for (int k = 0; k < VOLUME_MAX_CORDS; k++)
            ref[k] = random_between(&r, -0.5, 4) * rig.mass_kg * UNITS_GRAVITY_MPS2;
        wrench_look(&c, force, &seen);
        if (!seen.feasible)
            continue;
        cr_assert(spread_within(&c, force, ref, t), "%s", where);
        expect_within(&c, force, t, where);
        if (i % 10 < 3)
            expect_nearest(&c, ref, t, where);
        spread++;
        limited += at_a_limit(&c, t);
    }
    cr_assert_gt(spread, RIGS / 4);
    cr_assert_gt(limited, spread / 4, "the limits hardly mattered: %d of %d", limited, spread);
}

/* Without limits, the sum of squares can only be made larger by any change that keeps the balance. */
Test(spread, without_limits_has_the_least_squares)
{
    struct random r = {21};
    for (int i = 0; i < RIGS; i++) {
        struct tension_rig rig = cords_random_rig(&r, 4 + i % 5);
        struct vec3 p = cords_random_in(&r, (struct vec3){1, 1, 0.5}, (struct vec3){7, 5, 2.5});
        struct vec3 force = tension_load(&rig, cords_random_vec(&r, -1, 1));
        struct wrench_cords c;
        const double none[VOLUME_MAX_CORDS] = {0};
        double t[VOLUME_MAX_CORDS], other[VOLUME_MAX_CORDS], change[VOLUME_MAX_CORDS], along = 0, size = 0;
        cr_assert(tension_cords(&rig, p, &c));
        cr_assert(spread_free(&c, force, none, t));
        for (int k = 0; k < c.cords; k++)
            change[k] = t[k] + random_between(&r, -1, 1);
        cr_assert(spread_free(&c, force, change, other));
        for (int k = 0; k < c.cords; k++) {
            along += t[k] * (other[k] - t[k]);
            size += t[k] * t[k] + other[k] * other[k];
        }
        cr_assert_leq(fabs(along), 1e-9 * size, "rig %d: not square to what can be changed", i);
    }
}

/* A plane of cords carries what lies in it; the rest is said to be left. */
Test(spread, cords_in_a_plane)
{
    struct wrench_cords c = {.cords = 4};
    const double angle[] = {0.4, 1.1, 1.9, 2.8}, none[VOLUME_MAX_CORDS] = {0};
    double t[VOLUME_MAX_CORDS];
    for (int k = 0; k < 4; k++) {
        c.unit[k] = (struct vec3){cos(angle[k]), 0, sin(angle[k])};
        c.length_m[k] = 1;
        c.min_n[k] = 2;
        c.max_n[k] = 6;
    }
    const double ref[VOLUME_MAX_CORDS] = {9, 0, 0, 9};
    cr_assert(spread_within(&c, (struct vec3){0.5, 0, 10}, ref, t));
    expect_within(&c, (struct vec3){0.5, 0, 10}, t, "in the plane");
    expect_nearest(&c, ref, t, "in the plane");
    cr_assert_not(spread_free(&c, (struct vec3){0.5, 0.01, 10}, none, t));
    struct vec3 rest = wrench_rest(&c, t, (struct vec3){0.5, 0.01, 10});
    cr_assert_lt(vec_norm(vec_sub(rest, (struct vec3){0, 0.01, 0})), 1e-12);
    cr_assert_not(spread_within(&c, (struct vec3){0.5, 0.01, 10}, ref, t));
    for (int k = 0; k < 4; k++)
        cr_assert_eq(t[k], 0);
}
