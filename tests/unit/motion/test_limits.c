/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/limits.h"

#include <criterion/criterion.h>
#include <string.h>

#include "tests/property/random.h"

static struct limits_table plain(void)
{
    struct limits_table t = {.unseen_m = 0.4};
    for (int l = 0; l < LANE_COUNT; l++) {
        double speed = l == LANE_OPERATOR ? 0.4 : 0.2;
        t.cell[l][LIMITS_SHOW] = (struct limits){speed, 0.3, 1, 1, 2.5, false};
        t.cell[l][LIMITS_SETUP] = (struct limits){0.1, 0.2, 1, 1.5, 2.5, false};
        t.cell[l][LIMITS_LOW] = (struct limits){0.1, 0.3, 1, 0.3, 2, true};
    }
    return t;
}

static bool same(struct limits a, struct limits b)
{
    return memcmp(&a, &b, offsetof(struct limits, yields)) == 0 && a.yields == b.yields;
}

static struct limits random_limits(struct random *r)
{
    double floor = random_between(r, 0, 1.6);
    return (struct limits){random_between(r, 0, 0.6),          random_between(r, 0.01, 0.5),
                           random_between(r, 0.1, 2),          floor,
                           floor + random_between(r, 0.01, 2), random_chance(r, 0.5)};
}

Test(limits, the_stricter_counts_in_every_respect)
{
    struct limits a = {0.4, 0.2, 3, 1, 2.5, true}, b = {0.2, 0.3, 2, 0.5, 2, false};
    struct limits both = limits_tighter(&a, &b);
    cr_assert(same(both, (struct limits){0.2, 0.2, 2, 1, 2, false}));
    cr_assert(same(limits_tighter(&b, &a), both));
    cr_assert(same(limits_tighter(&a, &a), a));
}

Test(limits, without_a_layer_the_table_is_in_force)
{
    struct limits_table t = plain();
    struct limits_layer layer;
    limits_layer_init(&t, &layer);
    for (int l = 0; l < LANE_COUNT; l++)
        for (int m = 0; m < LIMITS_MODES; m++)
            cr_assert(same(limits_in_force(&t, &layer, (enum lane)l, (enum limits_mode)m), t.cell[l][m]), "%d %d", l,
                      m);
    struct limits wild = limits_in_force(&t, &layer, (enum lane)9, (enum limits_mode) - 3);
    cr_assert(same(wild, t.cell[LANE_IDLE][LIMITS_SHOW]));
}

Test(limits, anyone_tightens_and_only_a_disarmed_operator_loosens)
{
    struct limits_table t = plain();
    struct limits_layer layer;
    limits_layer_init(&t, &layer);
    struct limits slow = t.cell[LANE_AUDIENCE][LIMITS_SHOW], fast = slow;
    slow.speed_mps = 0.05;
    cr_assert_eq(limits_layer_set(&t, &layer, LANE_AUDIENCE, &slow, false, true), LIMITS_TAKEN);
    cr_assert_eq(limits_in_force(&t, &layer, LANE_AUDIENCE, LIMITS_SHOW).speed_mps, 0.05);
    cr_assert_eq(limits_in_force(&t, &layer, LANE_AUDIENCE, LIMITS_LOW).speed_mps, 0.05);
    cr_assert_eq(limits_in_force(&t, &layer, LANE_OPERATOR, LIMITS_SHOW).speed_mps, 0.4, "a lane's own");
    fast.speed_mps = 0.15;
    cr_assert_eq(limits_layer_set(&t, &layer, LANE_AUDIENCE, &fast, false, false), LIMITS_NOT_OPERATOR);
    cr_assert_eq(limits_layer_set(&t, &layer, LANE_AUDIENCE, &fast, true, true), LIMITS_IS_ARMED);
    cr_assert_eq(limits_in_force(&t, &layer, LANE_AUDIENCE, LIMITS_SHOW).speed_mps, 0.05, "refused changes nothing");
    cr_assert_eq(limits_layer_set(&t, &layer, LANE_AUDIENCE, &fast, true, false), LIMITS_TAKEN);
    cr_assert_eq(limits_in_force(&t, &layer, LANE_AUDIENCE, LIMITS_SHOW).speed_mps, 0.15);
}

/* Tighter in one respect does not buy looser in another. */
Test(limits, every_respect_is_judged_by_itself)
{
    struct limits_table t = plain();
    for (int which = 0; which < 5; which++) {
        struct limits_layer layer;
        limits_layer_init(&t, &layer);
        struct limits tight = {0.1, 0.1, 0.5, 1.6, 1.9, true}, wish = tight;
        cr_assert_eq(limits_layer_set(&t, &layer, LANE_OPERATOR, &tight, false, true), LIMITS_TAKEN);
        wish.speed_mps = which ? 0.01 : 0.11;
        double *field[] = {&wish.speed_mps, &wish.accel_mps2, &wish.jerk_mps3, &wish.floor_m, &wish.ceiling_m};
        *field[which] = which == 3 ? 1.55 : *field[which] * 1.01;
        cr_assert_eq(limits_layer_set(&t, &layer, LANE_OPERATOR, &wish, true, true), LIMITS_IS_ARMED, "%d", which);
        cr_assert_eq(limits_layer_set(&t, &layer, LANE_OPERATOR, &wish, true, false), LIMITS_TAKEN, "%d", which);
    }
}

/* Whatever is asked by whomever, what is in force is never looser than the table. */
Test(limits, nothing_is_ever_above_the_commissioned_table)
{
    struct limits_table t = plain();
    struct limits_layer layer;
    struct random r = {4};
    limits_layer_init(&t, &layer);
    for (int i = 0; i < 20000; i++) {
        struct limits wish = random_limits(&r);
        enum lane lane = (enum lane)random_below(&r, LANE_COUNT);
        struct limits before = layer.lane[lane];
        bool by = random_chance(&r, 0.5), armed = random_chance(&r, 0.5);
        enum limits_answer answer = limits_layer_set(&t, &layer, lane, &wish, by, armed);
        struct limits after = layer.lane[lane], both = limits_tighter(&before, &after);
        cr_assert(answer == LIMITS_TAKEN || same(before, after));
        cr_assert(same(both, after) || (by && !armed), "loosened in round %d", i);
        for (int m = 0; m < LIMITS_MODES; m++) {
            struct limits now = limits_in_force(&t, &layer, lane, (enum limits_mode)m), cell = t.cell[lane][m];
            cr_assert(now.speed_mps <= cell.speed_mps && now.accel_mps2 <= cell.accel_mps2 &&
                      now.jerk_mps3 <= cell.jerk_mps3 && now.floor_m >= cell.floor_m &&
                      now.ceiling_m <= cell.ceiling_m && now.floor_m < now.ceiling_m);
            cr_assert_eq(now.yields, m == LIMITS_LOW, "what yields is the spotter's alone");
        }
    }
}

Test(limits, what_is_no_limit_is_refused)
{
    static const double bad[] = {(double)NAN, -1, -(double)INFINITY};
    struct limits_table t = plain();
    struct limits_layer layer;
    limits_layer_init(&t, &layer);
    for (int which = 0; which < 5; which++)
        for (int i = 0; i < 3; i++) {
            struct limits wish = t.cell[LANE_OPERATOR][LIMITS_SHOW];
            double *field[] = {&wish.speed_mps, &wish.accel_mps2, &wish.jerk_mps3, &wish.ceiling_m, &wish.floor_m};
            *field[which] = bad[i];
            enum limits_answer wanted = which == 4 && i > 0 ? LIMITS_TAKEN : LIMITS_BAD; /* no floor of its own */
            cr_assert_eq(limits_layer_set(&t, &layer, LANE_OPERATOR, &wish, true, false), wanted, "%d %d", which, i);
        }
    struct limits nowhere = {1, 1, 1, 2.1, 2.2, false}; /* above the ceiling of low flight */
    cr_assert_eq(limits_layer_set(&t, &layer, LANE_OPERATOR, &nowhere, true, false), LIMITS_BAD);
    struct limits any = {INFINITY, INFINITY, INFINITY, -(double)INFINITY, INFINITY, true};
    cr_assert_eq(limits_layer_set(&t, &layer, LANE_OPERATOR, &any, true, false), LIMITS_TAKEN);
    cr_assert(same(limits_in_force(&t, &layer, LANE_OPERATOR, LIMITS_SHOW), t.cell[LANE_OPERATOR][LIMITS_SHOW]));
    cr_assert_eq(limits_layer_set(&t, &layer, LANE_COUNT, &any, true, false), LIMITS_BAD);
}

Test(limits, a_table_is_valid_only_as_documented)
{
    const struct limits_table good = plain();
    cr_assert(limits_table_valid(&good));
    for (int which = 0; which < 16; which++) {
        struct limits_table t = good;
        struct limits *show = &t.cell[LANE_AUDIENCE][LIMITS_SHOW], *setup = &t.cell[LANE_AUDIENCE][LIMITS_SETUP],
                      *low = &t.cell[LANE_AUDIENCE][LIMITS_LOW];
        double *field[] = {&show->speed_mps,  &show->accel_mps2, &show->jerk_mps3, &show->floor_m,
                           &show->ceiling_m,  &t.unseen_m,       &show->speed_mps, &show->accel_mps2,
                           &setup->speed_mps, &setup->floor_m,   &low->speed_mps,  &low->ceiling_m,
                           &low->accel_mps2,  &setup->ceiling_m, &low->jerk_mps3,  &setup->jerk_mps3};
        const double value[] = {0,    0,   0,    9,   -9,   -1,  (double)NAN, (double)INFINITY,
                                0.21, 0.9, 0.21, 2.6, 0.31, 2.6, 2,           2};
        *field[which] = value[which];
        cr_assert_not(limits_table_valid(&t), "%d", which);
    }
    struct limits_table t = good;
    t.cell[LANE_OPERATOR][LIMITS_SHOW].yields = true;
    cr_assert_not(limits_table_valid(&t));
    t = good;
    t.cell[LANE_OPERATOR][LIMITS_SETUP].yields = true;
    cr_assert_not(limits_table_valid(&t));
}

Test(limits, lag_bounds_what_moves_unseen)
{
    struct limits_table t = plain();
    cr_assert_float_eq(limits_unseen_mps(&t, 8), 0.05, 1e-12);
    for (double lag = 0.1; lag < 20; lag += 0.1)
        cr_assert_leq(limits_unseen_mps(&t, lag) * lag, 0.4 + 1e-9);
    cr_assert_geq(limits_unseen_mps(&t, 0), SHAPE_FAR_M, "a picture without lag");
    static const double unknown[] = {(double)NAN, -1, (double)INFINITY, 1e9};
    for (int i = 0; i < 4; i++)
        cr_assert_float_eq(limits_unseen_mps(&t, unknown[i]), 0.4 / LIMITS_LAG_WORST_S, 1e-12);
    t.unseen_m = 0;
    cr_assert_geq(limits_unseen_mps(&t, 8), SHAPE_FAR_M);
}

/* Driven by nothing but the formula: at the edge of the zone, and everywhere in it, the speed is the zone's. A step of
 * 0.1 ms, so that the continuous formula is what is looked at. */
Test(limits, a_camera_is_slow_when_it_comes_to_the_zone)
{
    enum { DELAY_MAX = 20000 };
    static double asked[DELAY_MAX];
    const double step_s = 1e-4;
    struct random r = {9};
    for (int round = 0; round < 60; round++) {
        double zone = random_between(&r, 0.02, 0.3), accel = random_between(&r, 0.05, 0.6), speed = 0.8,
               left = 1 + speed * speed / (2 * accel);
        int delay = random_below(&r, DELAY_MAX - 1) / 2, i = 0;
        for (; i < delay; i++)
            asked[i % DELAY_MAX] = speed;
        double lowest = speed;
        for (; left > -0.2; i++) {
            asked[i % DELAY_MAX] = fmin(0.8, limits_near_zone_mps(left, zone, accel, delay * step_s));
            double target = asked[(i - delay + DELAY_MAX) % DELAY_MAX];
            speed = fmax(target, speed - accel * step_s);
            cr_assert(left > 0 || speed <= zone + 1e-3, "round %d: %.4f in a zone of %.4f", round, speed, zone);
            lowest = fmin(lowest, speed);
            left -= speed * step_s;
        }
        cr_assert_float_eq(lowest, zone, 1e-3, "and not slower than it need be");
    }
}

Test(limits, modes_have_names)
{
    cr_assert_str_eq(limits_mode_name(LIMITS_SETUP), "setup");
    cr_assert_str_eq(limits_mode_name(LIMITS_SHOW), "show");
    cr_assert_str_eq(limits_mode_name(LIMITS_LOW), "low");
    cr_assert_str_eq(limits_mode_name(LIMITS_MODES), "unknown");
    cr_assert_str_eq(limits_mode_name((enum limits_mode) - 1), "unknown");
}
