/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/cords.h"

static const struct vec3 at_rest = {0, 0, 0};

static void expect_finite(const struct tension_state *s)
{
    cr_assert(isfinite(s->margin_n) && isfinite(s->reserve_n));
    cr_assert(s->cord >= 0 && s->cord < VOLUME_MAX_CORDS);
    cr_assert(s->feasible ? s->margin_n >= 0 && s->reserve_n >= 0 : s->margin_n <= 0 && s->reserve_n <= 0);
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        cr_assert(isfinite(s->least_n[i]) && isfinite(s->most_n[i]) && isfinite(s->middle_n[i]) &&
                  isfinite(s->min_norm_n[i]));
}

static double anything(struct random *r)
{
    static const double odd[] = {NAN, INFINITY, -INFINITY, 0, -0.0, 1e308, -1e308, 5e-324, 1e-160, 1e6, -1e6, 3, 4};
    uint32_t i = random_below(r, 20);
    return i < sizeof odd / sizeof odd[0] ? odd[i] : random_between(r, -10, 10);
}

/* One to three numbers of a sound question replaced by anything at all. */
Test(tension, anything_may_be_asked)
{
    struct random r = {40};
    for (int i = 0; i < 200000; i++) {
        struct tension_rig rig = cords_random_rig(&r, 1 + i % 8);
        struct vec3 p = {4, 3, 1}, a = {0, 0, 0};
        double ref[VOLUME_MAX_CORDS] = {1, 2, 3, 4}, t[VOLUME_MAX_CORDS];
        struct tension_state s;
        double *const place[] = {&p.x,
                                 &p.y,
                                 &p.z,
                                 &a.x,
                                 &a.y,
                                 &a.z,
                                 &rig.mass_kg,
                                 &rig.min_n[0],
                                 &rig.max_n[0],
                                 &rig.anchor[0].x,
                                 &rig.anchor[0].y,
                                 &rig.anchor[0].z,
                                 &ref[0]};
        for (uint32_t n = 1 + random_below(&r, 3); n > 0; n--)
            *place[random_below(&r, sizeof place / sizeof place[0])] = anything(&r);
        tension_solve(&rig, p, a, &s);
        expect_finite(&s);
        bool found = tension_nearest(&rig, p, a, ref, t);
        for (int k = 0; k < VOLUME_MAX_CORDS; k++)
            cr_assert(isfinite(t[k]) && (found || t[k] == 0));
        if (!tension_rig_valid(&rig))
            cr_assert_not(s.feasible || found);
    }
}

Test(tension, rigs_that_make_no_sense_are_not_valid)
{
    struct random r = {41};
    const struct tension_rig good = cords_random_rig(&r, 4);
    struct tension_rig rig = good;
    struct tension_state s;
    cr_assert(tension_rig_valid(&good));
    static const int counts[] = {0, -1, VOLUME_MAX_CORDS + 1, 2000000000};
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        rig.cords = counts[i];
        cr_assert_not(tension_rig_valid(&rig));
        tension_solve(&rig, (struct vec3){4, 3, 1}, at_rest, &s);
        cr_assert_not(s.feasible);
        cr_assert_eq(s.margin_n, TENSION_NO_MARGIN_N);
    }
    rig = good;
    rig.max_n[3] = rig.min_n[3];
    cr_assert_not(tension_rig_valid(&rig));
    rig = good;
    rig.min_n[2] = -0.1;
    cr_assert_not(tension_rig_valid(&rig));
    rig = good;
    rig.mass_kg = 0;
    cr_assert_not(tension_rig_valid(&rig));
    rig = good;
    rig.anchor[3].z = 2 * SHAPE_FAR_M;
    cr_assert_not(tension_rig_valid(&rig));
}

/* What is said to hold does: the middle balances the load to 1e-9 of it, within limits. */
static void expect_holds(const struct tension_rig *rig, struct vec3 p, struct vec3 a, const struct tension_state *s)
{
    struct vec3 sum = vec_scale(tension_load(rig, a), -1);
    double rounding = 0;
    for (int k = 0; k < rig->cords; k++) {
        struct vec3 to = vec_sub(rig->anchor[k], p);
        sum = vec_along(sum, to, s->middle_n[k] / vec_norm(to));
        rounding += 1e-13 * s->middle_n[k];
        cr_assert(s->middle_n[k] >= rig->min_n[k] && s->middle_n[k] <= rig->max_n[k]);
        cr_assert(s->least_n[k] >= rig->min_n[k] && s->most_n[k] <= rig->max_n[k]);
    }
    cr_assert_leq(vec_norm(sum), 1e-9 * vec_norm(tension_load(rig, a)) + 2 * rounding);
}

static void expect_in_range(const struct tension_rig *rig, const struct tension_state *s)
{
    for (int k = 0; k < rig->cords; k++)
        cr_assert(s->middle_n[k] >= s->least_n[k] - 1e-9 && s->middle_n[k] <= s->most_n[k] + 1e-9,
                  "cord %d: %g not in %g..%g", k, s->middle_n[k], s->least_n[k], s->most_n[k]);
}

Test(tension, what_is_feasible_balances_within_limits)
{
    struct random r = {42};
    int feasible = 0;
    for (int i = 0; i < 100000; i++) {
        struct tension_rig rig = cords_random_rig(&r, 3 + i % 6);
        struct vec3 p = cords_random_in(&r, (struct vec3){0, 0, 0}, (struct vec3){8, 6, 3});
        struct vec3 a = cords_random_vec(&r, -1, 1);
        struct tension_state s;
        tension_solve(&rig, p, a, &s);
        expect_finite(&s);
        if (!s.feasible)
            continue;
        expect_holds(&rig, p, a, &s);
        expect_in_range(&rig, &s);
        feasible++;
    }
    cr_assert_gt(feasible, 25000);
}

/* Cords that are nearly in one plane, and nearly cannot carry anything across it: either the tensions balance the load,
 * or there are said to be none. */
Test(tension, nearly_in_a_plane_is_no_way_to_cheat)
{
    struct random r = {47};
    int feasible = 0, refused = 0;
    for (int i = 0; i < 50000; i++) {
        struct tension_rig rig = cords_random_rig(&r, 2 + i % 7);
        struct vec3 p = {random_between(&r, 2, 6), 3, 1};
        struct tension_state s;
        for (int k = 0; k < rig.cords; k++) {
            rig.anchor[k].y = 3 + random_between(&r, -1, 1) * pow(10, random_between(&r, -17, -4));
            rig.max_n[k] = random_below(&r, 2) ? TENSION_MAX_N : rig.max_n[k];
        }
        struct vec3 a = {0, pow(10, random_between(&r, -18, -2)), 0};
        tension_solve(&rig, p, a, &s);
        expect_finite(&s);
        refused += !s.feasible;
        if (!s.feasible)
            continue;
        expect_holds(&rig, p, a, &s);
        feasible++;
    }
    cr_assert(feasible > 2000 && refused > 2000, "%d %d", feasible, refused);
}

/* The null vector of four cords and the faces that answer for any number of them are two ways to the same ranges. */
Test(tension, four_cords_and_the_general_way_agree)
{
    struct random r = {43};
    int feasible = 0;
    for (int i = 0; i < 20000; i++) {
        struct tension_rig rig = cords_random_rig(&r, 4);
        struct vec3 p = cords_random_in(&r, (struct vec3){0.5, 0.5, 0.3}, (struct vec3){7.5, 5.5, 2.5});
        struct wrench_cords c;
        struct wrench_survey general;
        struct tension_state s;
        tension_solve(&rig, p, at_rest, &s);
        cr_assert(tension_cords(&rig, p, &c));
        wrench_look(&c, tension_load(&rig, at_rest), &general);
        cr_assert_eq(s.feasible, general.feasible);
        if (!s.feasible)
            continue;
        feasible++;
        for (int k = 0; k < 4; k++) {
            cr_assert_float_eq(s.least_n[k], general.least_n[k], 1e-7 * rig.max_n[k]);
            cr_assert_float_eq(s.most_n[k], general.most_n[k], 1e-7 * rig.max_n[k]);
            cr_assert_float_eq(s.middle_n[k], (general.least_n[k] + general.most_n[k]) / 2, 1e-7 * rig.max_n[k]);
        }
    }
    cr_assert_gt(feasible, 5000);
}

/* Over a step of a tenth of a millimetre no wanted tension jumps: a controller could not follow. */
Test(tension, the_middle_changes_steadily)
{
    struct random r = {44};
    int steps = 0;
    for (int i = 0; i < 3000; i++) {
        struct tension_rig rig = cords_random_rig(&r, 3 + i % 6);
        struct vec3 p = cords_random_in(&r, (struct vec3){1, 1, 0.5}, (struct vec3){7, 5, 2});
        struct tension_state here, there;
        tension_solve(&rig, p, at_rest, &here);
        tension_solve(&rig, vec_along(p, cords_random_unit(&r), 1e-4), at_rest, &there);
        double weight = rig.mass_kg * UNITS_GRAVITY_MPS2;
        if (here.margin_n < 0.02 * weight || !there.feasible)
            continue;
        steps++;
        for (int k = 0; k < rig.cords; k++)
            cr_assert_lt(fabs(here.middle_n[k] - there.middle_n[k]), 0.01 * weight, "rig %d, %d cords: %g of %g N", i,
                         rig.cords, here.middle_n[k] - there.middle_n[k], weight);
    }
    cr_assert_gt(steps, 800);
}

Test(tension, the_margin_of_given_tensions)
{
    struct random r = {45};
    struct tension_rig rig = cords_random_rig(&r, 3);
    for (int k = 0; k < 3; k++) {
        rig.min_n[k] = 1;
        rig.max_n[k] = 20;
    }
    double t[VOLUME_MAX_CORDS] = {10, 3, 16};
    int cord;
    bool high;
    cr_assert_float_eq(tension_margin(&rig, t, &cord, &high), 2, 1e-12);
    cr_assert(cord == 1 && !high);
    t[2] = 21.5;
    cr_assert_float_eq(tension_margin(&rig, t, &cord, &high), -1.5, 1e-12);
    cr_assert(cord == 2 && high);
    t[0] = NAN;
    cr_assert_eq(tension_margin(&rig, t, &cord, NULL), TENSION_NO_MARGIN_N);
    cr_assert_eq(cord, 0);
    cr_assert_eq(tension_margin(&rig, t, NULL, &high), TENSION_NO_MARGIN_N);
}

/* A platform at an anchor has no direction to that anchor. */
Test(tension, at_an_anchor_nothing_can_be_said)
{
    struct random r = {46};
    struct tension_rig rig = cords_random_rig(&r, 4);
    struct tension_state s;
    struct wrench_cords c;
    tension_solve(&rig, rig.anchor[2], at_rest, &s);
    cr_assert_not(s.feasible);
    cr_assert_eq(s.margin_n, TENSION_NO_MARGIN_N);
    cr_assert_not(tension_cords(&rig, rig.anchor[2], &c));
    cr_assert_eq(c.cords, 0);
}
