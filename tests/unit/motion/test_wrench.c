/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/spread.h"
#include "tests/unit/motion/cords.h"

enum { RIGS = 3000 };

struct held {
    struct wrench_cords cords;
    struct vec3 force;
    struct wrench_survey seen;
};

static struct held random_held(struct random *r, int cords)
{
    struct tension_rig rig = cords_random_rig(r, cords);
    struct held h;
    struct vec3 p = cords_random_in(r, (struct vec3){0.5, 0.5, 0.3}, (struct vec3){7.5, 5.5, 2.7});
    h.force = tension_load(&rig, cords_random_vec(r, -1, 1));
    cr_assert(tension_cords(&rig, p, &h.cords));
    wrench_look(&h.cords, h.force, &h.seen);
    return h;
}

static bool can(const struct wrench_cords *c, struct vec3 force)
{
    struct wrench_survey seen;
    wrench_look(c, force, &seen);
    return seen.feasible;
}

/* Where the cords can make a force they can make any other less than the reserve away from it, and not all of those a
 * little further: seen by trying. */
Test(wrench, the_reserve_is_the_distance_to_what_cannot_be_made)
{
    struct random r = {30};
    int tried = 0;
    for (int i = 0; i < RIGS; i++) {
        struct held h = random_held(&r, 3 + i % 6);
        struct vec3 normal;
        double reserve = wrench_reserve(&h.cords, h.force, &normal);
        cr_assert_float_eq(reserve, h.seen.reserve_n, 1e-9 * (1 + fabs(reserve)));
        cr_assert_eq(reserve >= 0, h.seen.feasible);
        cr_assert_float_eq(vec_norm(normal), 1, 1e-12);
        cr_assert_not(can(&h.cords, vec_along(h.force, normal, reserve + 1e-6)), "rig %d", i);
        if (!h.seen.feasible)
            continue;
        tried++;
        cr_assert(can(&h.cords, vec_along(h.force, normal, reserve - 1e-6)), "rig %d", i);
        for (int n = 0; n < 20; n++)
            cr_assert(can(&h.cords, vec_along(h.force, cords_random_unit(&r), reserve * (1 - 1e-9) - 1e-9)), "rig %d",
                      i);
    }
    cr_assert_gt(tried, RIGS / 4);
}

/* Forces made from tensions within limits are among those that can be made; a solid holds nothing but those. */
Test(wrench, what_was_made_can_be_made)
{
    struct random r = {31};
    for (int i = 0; i < RIGS; i++) {
        struct held h = random_held(&r, 1 + i % 8);
        double t[VOLUME_MAX_CORDS], inside[VOLUME_MAX_CORDS];
        struct wrench_survey seen;
        for (int k = 0; k < h.cords.cords; k++)
            t[k] = random_between(&r, h.cords.min_n[k], h.cords.max_n[k]);
        struct vec3 made = wrench_rest(&h.cords, t, (struct vec3){0, 0, 0});
        made = vec_scale(made, -1);
        wrench_look(&h.cords, made, &seen);
        cr_assert(seen.feasible, "rig %d: %g", i, seen.margin_n);
        for (int k = 0; k < h.cords.cords; k++)
            cr_assert(t[k] >= seen.least_n[k] - 1e-9 * (1 + t[k]) && t[k] <= seen.most_n[k] + 1e-9 * (1 + t[k]),
                      "rig %d cord %d", i, k);
        cr_assert(spread_within(&h.cords, made, t, inside), "rig %d", i);
        for (int k = 0; k < h.cords.cords; k++)
            cr_assert_float_eq(inside[k], t[k], 1e-6 * (1 + t[k]), "rig %d: t itself is nearest to t", i);
    }
}

/* With the limits drawn in by the margin it can still just be done, and the cord it names is at the limit it names. */
Test(wrench, the_margin_is_how_far_limits_can_be_drawn_in)
{
    struct random r = {32};
    int named = 0, high = 0;
    for (int i = 0; i < RIGS; i++) {
        struct held h = random_held(&r, 3 + i % 6);
        struct wrench_survey seen;
        double half = INFINITY;
        for (int k = 0; k < h.cords.cords; k++)
            half = lesser(half, (h.cords.max_n[k] - h.cords.min_n[k]) / 2);
        if (h.seen.margin_n >= half) /* so much that one cord is held to the middle of its limits */
            continue;
        for (int k = 0; k < h.cords.cords; k++) {
            h.cords.min_n[k] += h.seen.margin_n - 1e-7;
            h.cords.max_n[k] -= h.seen.margin_n - 1e-7;
        }
        wrench_look(&h.cords, h.force, &seen);
        cr_assert(seen.feasible, "rig %d: %g", i, seen.margin_n);
        cr_assert_float_eq(seen.margin_n, 1e-7, 1e-9, "rig %d: %g", i, seen.margin_n);
        int k = h.seen.cord;
        double away = h.seen.at_max ? h.cords.max_n[k] - seen.least_n[k] : seen.most_n[k] - h.cords.min_n[k];
        cr_assert_lt(away, 1e-4, "rig %d cord %d can stay %g N away", i, k, away);
        named++;
        high += h.seen.at_max;
    }
    cr_assert_gt(named, RIGS / 2);
    cr_assert_gt(high, named / 20);
    cr_assert_lt(high, named * 19 / 20);
}

/* Every range is reached, and not one step more: solved again with that cord held there. */
Test(wrench, ranges_are_reached)
{
    struct random r = {33};
    int tried = 0;
    for (int i = 0; i < RIGS; i++) {
        struct held h = random_held(&r, 4 + i % 5);
        if (!h.seen.feasible)
            continue;
        for (int k = 0; k < h.cords.cords; k++) {
            double least, most;
            wrench_range(&h.cords, (1u << h.cords.cords) - 1, k, h.force, &least, &most);
            cr_assert_float_eq(least, h.seen.least_n[k], 1e-9 * (1 + least), "rig %d", i);
            cr_assert_float_eq(most, h.seen.most_n[k], 1e-9 * (1 + most), "rig %d", i);
            struct wrench_cords rest = h.cords;
            rest.cords--;
            rest.unit[k] = rest.unit[rest.cords];
            rest.min_n[k] = rest.min_n[rest.cords];
            rest.max_n[k] = rest.max_n[rest.cords];
            double step = 1e-6 * (1 + most);
            cr_assert_not(can(&rest, vec_along(h.force, h.cords.unit[k], -(most + step))) && most < h.cords.max_n[k]);
            cr_assert_not(can(&rest, vec_along(h.force, h.cords.unit[k], -(least - step))) && least > h.cords.min_n[k]);
            if (most - least > 3 * step && rest.cords > 3) {
                cr_assert(can(&rest, vec_along(h.force, h.cords.unit[k], -(most - step))), "rig %d cord %d", i, k);
                cr_assert(can(&rest, vec_along(h.force, h.cords.unit[k], -(least + step))), "rig %d cord %d", i, k);
            }
        }
        tried++;
    }
    cr_assert_gt(tried, RIGS / 4);
}

Test(wrench, balance_is_told_from_none)
{
    struct wrench_cords c = {.cords = 1, .unit = {{0, 0, 1}}, .length_m = {1}, .min_n = {0}, .max_n = {10}};
    const double pull[VOLUME_MAX_CORDS] = {5}, off[VOLUME_MAX_CORDS] = {5.0001}, no[VOLUME_MAX_CORDS] = {NAN};
    cr_assert(wrench_balances(&c, pull, (struct vec3){0, 0, 5}));
    cr_assert_not(wrench_balances(&c, off, (struct vec3){0, 0, 5}));
    cr_assert_not(wrench_balances(&c, pull, (struct vec3){0, 0.001, 5}));
    cr_assert_not(wrench_balances(&c, no, (struct vec3){0, 0, 5}));
}
