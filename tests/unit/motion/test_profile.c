/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/profiles.h"

#define DT 0.01

/* Biagiotti & Melchiorri 2008 (form), derived and integrated: tests/reference/profile.json. */
Test(profile, stops_as_published)
{
    json_t *one = reference_case("profile.json", "brake-scurve"), *row;
    const json_t *expect = json_object_get(json_object_get(one, "expect"), "rows");
    size_t i;
    cr_assert_eq(json_array_size(expect), 8);
    json_array_foreach(json_object_get(json_object_get(one, "input"), "rows"), i, row)
    {
        struct profile_limits limits = {10, reference_number(row, "a"), reference_number(row, "j")};
        struct profile now = {reference_number(row, "v"), reference_number(row, "a0")};
        struct profile_stop stop = profile_stop(&limits, now);
        const json_t *want = json_array_get(expect, i);
        cr_assert_float_eq(stop.time, reference_number(want, "time"), 1e-9, "row %zu: %.12g s", i, stop.time);
        cr_assert_float_eq(stop.highest, reference_number(want, "distance"), 1e-9, "row %zu: %.12g", i, stop.highest);
        cr_assert_float_eq(stop.peak, reference_number(want, "peak_decel"), 1e-9, "row %zu: %.12g", i, stop.peak);
        cr_assert_eq(stop.lowest, 0);
    }
    json_decref(one);
}

/* Mechanics, tests/reference/motion.json: with jerk without bound a stop is v^2/2a long and takes v/a. */
Test(profile, stops_as_without_jerk_where_jerk_is_no_limit)
{
    json_t *one = reference_case("motion.json", "brake-constant"), *row;
    const json_t *expect = json_object_get(json_object_get(one, "expect"), "rows");
    size_t i;
    json_array_foreach(json_object_get(json_object_get(one, "input"), "rows"), i, row)
    {
        struct profile_limits limits = {10, reference_number(row, "a"), 1e9};
        struct profile now = {.v = reference_number(row, "v")};
        double reaction = reference_number(row, "t_r");
        struct profile_stop stop = profile_stop(&limits, now);
        const json_t *want = json_array_get(expect, i);
        cr_assert_float_eq(now.v * reaction + stop.highest, reference_number(want, "distance"), 1e-8, "row %zu", i);
        cr_assert_float_eq(reaction + stop.time, reference_number(want, "time"), 1e-8, "row %zu", i);
    }
    json_decref(one);
}

/* The same law integrated in small steps, not knowing of phases: brake as hard as can still be eased off. */
static struct profile_stop integrated(const struct profile_limits *limits, struct profile now, double h)
{
    struct profile_stop stop = {0};
    double x = 0;
    for (long n = 0; n < 20000000 && (fabs(now.v) > 1e-7 || fabs(now.a) > 2 * limits->jerk * h); n++) {
        double best = -copysign(fmin(sqrt(2 * limits->jerk * fabs(now.v)), limits->accel), now.v);
        now.a += fmax(fmin(best - now.a, limits->jerk * h), -limits->jerk * h);
        x += h * (now.v + now.a * h / 2);
        now.v += now.a * h;
        stop.highest = fmax(stop.highest, x);
        stop.lowest = fmin(stop.lowest, x);
        stop.time += h;
    }
    return stop;
}

Test(profile, stops_as_integrated_turning_back_too)
{
    struct random r = {1};
    for (int i = 0; i < 60; i++) {
        struct profile_limits limits = {2, profiles_magnitude(&r, 0.2, 3), profiles_magnitude(&r, 0.5, 20)};
        struct profile now = {.v = random_between(&r, -1, 1) * (i % 3 ? 1 : 0.05)};
        now.a = random_between(&r, -1.5, 1.5) * limits.accel;
        struct profile_stop told = profile_stop(&limits, now), ran = integrated(&limits, now, 2e-6);
        cr_assert_float_eq(told.highest, ran.highest, 2e-4, "%d: %g %g", i, told.highest, ran.highest);
        cr_assert_float_eq(told.lowest, ran.lowest, 2e-4, "%d: %g %g", i, told.lowest, ran.lowest);
        cr_assert_float_eq(told.time, ran.time, 2e-2, "%d: %g %g", i, told.time, ran.time);
    }
}

/* What the step function really runs, and how long it takes. */
static struct profile_stop stepped(const struct profile_limits *limits, struct profile now, double dt)
{
    struct profile_stop stop = {0};
    double x = 0, most = fabs(now.v) + fabs(now.a) * dt, u = limits->jerk * dt;
    for (int n = 0; n < 4000000 && (fabs(now.v) > 1e-13 * most || fabs(now.a) > u); n++) {
        struct profile next = profile_step(limits, now, 0, dt);
        x += (now.v + next.v) * dt / 2;
        now = next;
        stop.highest = fmax(stop.highest, x);
        stop.lowest = fmin(stop.lowest, x);
        stop.time += dt;
    }
    return stop;
}

/* States on and beside the corners between phases, where a count of ticks could be out by one. */
static struct profile random_state(struct random *r, const struct profile_limits *limits, double dt)
{
    double u = limits->jerk * dt;
    struct profile now;
    now.v = random_between(r, -1, 1) * limits->speed;
    now.a = random_between(r, -1, 1) * limits->accel * (random_below(r, 8) ? 1 : 3);
    if (random_below(r, 3) == 0)
        now.a = u * floor(now.a / u);
    if (random_below(r, 4) == 0)
        now.v = now.a * fabs(now.a) / (2 * limits->jerk) * random_between(r, -1.5, 1.5);
    if (random_below(r, 6) == 0)
        now.v = 0;
    if (random_below(r, 4) == 0)
        now.v = u * dt * floor(now.v / (u * dt) * 2) / 2;
    return now;
}

Test(profile, never_runs_further_than_told)
{
    struct random r = {2};
    for (int i = 0; i < 100000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        double dt = profiles_magnitude(&r, 0.005, 0.1);
        struct profile now = random_state(&r, &limits, dt);
        struct profile_stop told = profile_stop_in_ticks(&limits, now, dt), ran = stepped(&limits, now, dt);
        double slack = (fabs(now.v) + fabs(now.a) * dt) * dt;
        cr_assert_geq(told.highest, ran.highest, "%d: %.17g %.17g", i, told.highest, ran.highest);
        cr_assert_leq(told.lowest, ran.lowest, "%d: %.17g %.17g", i, told.lowest, ran.lowest);
        cr_assert_leq(told.highest - ran.highest + ran.lowest - told.lowest, slack + 1e-8 * ran.highest, "%d", i);
        /* Where it all but rests in between, the one may see it turn back by a rounding and the other not. */
        cr_assert_gt(told.time, ran.time - 1.5 * dt, "%d: %g %g", i, told.time, ran.time);
        cr_assert_lt(told.time, ran.time + 3.5 * dt, "%d: %g %g", i, told.time, ran.time);
    }
}

/* Every state on a lattice of whole ticks and halves of them, all combinations: each phase ends on a corner. */
Test(profile, never_runs_further_than_told_on_every_corner)
{
    for (int cap = 1; cap <= 7; cap++) {
        struct profile_limits limits = {100, cap / 2.0, 1};
        for (int v = -60; v <= 60; v++) {
            for (int a = -24; a <= 24; a++) {
                struct profile now = {v / 4.0, a / 4.0};
                struct profile_stop told = profile_stop_in_ticks(&limits, now, 1), ran = stepped(&limits, now, 1);
                cr_assert_geq(told.highest, ran.highest, "cap %d v %d a %d: %g %g", cap, v, a, told.highest,
                              ran.highest);
                cr_assert_leq(told.lowest, ran.lowest, "cap %d v %d a %d: %g %g", cap, v, a, told.lowest, ran.lowest);
            }
        }
    }
}

/* 1e5 states, hostile ones among them: no limit is ever passed, and what comes out is finite. */
static double maybe_hostile(struct random *r, double x)
{
    return random_below(r, 10) == 0 ? profiles_hostile(r) : x;
}

static void expect_within(const struct profile_limits *limits, struct profile before, struct profile now, double dt,
                          int i)
{
    double near = 1 + 1e-9;
    cr_assert(isfinite(now.v) && isfinite(now.a), "%d", i);
    cr_assert_leq(fabs(now.v), limits->speed * near, "%d: %.17g", i, now.v);
    cr_assert_leq(fabs(now.a), limits->accel * near, "%d: %.17g", i, now.a);
    cr_assert_leq(fabs(now.a - before.a), limits->jerk * dt * near, "%d", i);
    cr_assert_float_eq(now.v - before.v, now.a * dt, 1e-12 * limits->speed, "%d: the velocity stepped", i);
}

Test(profile, keeps_every_limit_whatever_is_wanted)
{
    struct random r = {3};
    for (int i = 0; i < 2000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile now = {0};
        double wanted = 0;
        for (int n = 0; n < 100; n++) {
            if (random_below(&r, 8) == 0)
                wanted = maybe_hostile(&r, random_between(&r, -1.5, 1.5) * limits.speed);
            struct profile next = profile_step(&limits, now, wanted, DT);
            expect_within(&limits, now, next, DT, i);
            now = next;
        }
    }
}

Test(profile, takes_no_hostile_state_for_motion)
{
    struct random r = {4};
    for (int i = 0; i < 100000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile now = {maybe_hostile(&r, 0.04), profiles_hostile(&r)};
        struct profile next = profile_step(&limits, now, maybe_hostile(&r, 0.04), DT);
        bool garbage = !(fabs(now.v) <= 1e6 * limits.speed && fabs(now.a) <= 1e6 * limits.accel);
        expect_within(&limits, garbage ? (struct profile){0} : now, next, DT, i);
        struct profile_stop smooth = profile_stop(&limits, now), ticks = profile_stop_in_ticks(&limits, now, DT);
        cr_assert(isfinite(smooth.time + smooth.highest + smooth.lowest + smooth.peak), "%d", i);
        cr_assert(isfinite(ticks.time + ticks.highest + ticks.lowest), "%d", i);
        struct profile sent = profile_sent(&limits, now, next, profiles_hostile(&r), DT);
        cr_assert(isfinite(sent.v) && isfinite(sent.a), "%d", i);
    }
}

/*
 * The fewest ticks in which any sequence of accelerations within the limits changes the velocity by `wanting` and ends
 * at nought: what n ticks can gain is all between the sums of the lowest and the highest such sequence.
 */
static double most_gained(double a, double u, double cap, int n)
{
    double sum = 0;
    for (int k = 1; k <= n; k++)
        sum += fmin(fmin(a + k * u, cap), (n - k + 1) * u);
    return sum;
}

static int fewest_ticks(double wanting, double a, double u, double cap)
{
    for (int n = 0; n < 100000; n++) {
        if (fabs(a) <= (n + 1) * u * (1 + 1e-9) && wanting <= most_gained(a, u, cap, n) + 1e-9 &&
            wanting >= -most_gained(-a, u, cap, n) - 1e-9)
            return n;
    }
    return -1;
}

Test(profile, is_there_as_soon_as_any_can_be)
{
    struct random r = {5};
    for (int i = 0; i < 3000; i++) {
        struct profile_limits limits = {1e3, random_between(&r, 0.5, 20), random_between(&r, 1, 8)};
        struct profile now = {random_between(&r, -60, 60), random_between(&r, -1, 1) * limits.accel};
        int n = 0, fewest = fewest_ticks(-now.v, now.a, limits.jerk, limits.accel);
        for (; (fabs(now.v) > 1e-9 || fabs(now.a) > limits.jerk * (1 + 1e-9)) && n < 10000; n++)
            now = profile_step(&limits, now, 0, 1);
        cr_assert_eq(n, fewest, "%d: %d ticks, %d would do", i, n, fewest);
    }
}

/* On the wish itself, to the last bit, with nothing left over. */
Test(profile, lands_on_the_wish)
{
    struct random r = {6};
    for (int i = 0; i < 3000; i++) {
        struct profile_limits limits = profiles_limits(&r);
        struct profile now = {0};
        for (int legs = 0; legs < 3; legs++) {
            double wanted = random_between(&r, -1, 1) * limits.speed;
            for (int n = 0; n < 20000 && (now.v != wanted || now.a != 0); n++)
                now = profile_step(&limits, now, wanted, DT);
            cr_assert(now.v == wanted && now.a == 0, "%d: %.17g %.17g %g", i, now.v, wanted, now.a);
        }
    }
}

/* What was said and sent is no change, in the middle of turning round too. */
Test(profile, goes_on_as_said_if_that_was_sent)
{
    struct profile_limits limits = {0.4, 0.8, 4};
    struct profile now = {0};
    for (int n = 0; n < 10000; n++) {
        struct profile said = profile_step(&limits, now, n / 50 % 2 ? 0.4 : -0.3, DT);
        struct profile sent = profile_sent(&limits, now, said, said.v, DT);
        cr_assert(sent.v == said.v && sent.a == said.a, "%d", n);
        now = sent;
    }
}

Test(profile, knows_which_limits_make_sense)
{
    struct profile_limits good = {0.4, 0.8, 4}, limits;
    double *const each[] = {&limits.speed, &limits.accel, &limits.jerk};
    static const double bad[] = {0, -1, NAN, INFINITY, -INFINITY};
    cr_assert(profile_limits_valid(&good, DT));
    cr_assert_not(profile_limits_valid(&good, 0));
    cr_assert_not(profile_limits_valid(&good, NAN));
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < 5; k++) {
            limits = good;
            *each[i] = bad[k];
            cr_assert_not(profile_limits_valid(&limits, DT));
        }
    }
    limits = (struct profile_limits){1e5, 1, 1}; /* ten million ticks of braking */
    cr_assert_not(profile_limits_valid(&limits, DT));
    limits = (struct profile_limits){1, 1e5, 1};
    cr_assert_not(profile_limits_valid(&limits, DT));
}
