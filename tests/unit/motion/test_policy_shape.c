/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Jerk limits and the shaper in the tick: hand-over between lanes, arrival at goals, stops, walls. */
#include "tests/unit/motion/ticks.h"

static struct ticks t;

static void be(enum lane lane, struct vec3 wish)
{
    t.in.lanes.audience_open = lane != LANE_IDLE;
    if (lane == LANE_OPERATOR)
        ticks_operator(&t, wish.x, wish.y, wish.z);
    else
        ticks_audience(&t, wish.x, wish.y, wish.z);
}

/* From any lane to any other, at full speed or while it speeds up, with whatever both wish: what is sent changes by no
 * more than acceleration and jerk allow. */
static void hand_over(bool shaper)
{
    const double accel = 0.3, jerk = 1.5; /* the loosest lane's */
    for (int from = 0; from < LANE_COUNT; from++)
        for (int to = 0; to < LANE_COUNT; to++)
            for (int after = 20; after < 260; after += 60) {
                ticks_make(&t, rooms_middle);
                ticks_shape(&t, shaper);
                ticks_go(&t);
                struct vec3 last = t.out.intent.velocity, last_a = {0, 0, 0};
                for (int i = 0; i < 400; i++) {
                    be(i < after ? (enum lane)from : (enum lane)to,
                       i < after ? (struct vec3){0.6, 0.3, 0.1} : (struct vec3){-0.2, 0.5, 0});
                    ticks_step(&t);
                    cr_assert_eq(t.out.lane, (enum lane)(i < after ? from : to));
                    cr_assert_not(t.out.guard.braked);
                    struct vec3 a = vec_scale(vec_sub(t.out.intent.velocity, last), 100);
                    double j = vec_norm(vec_sub(a, last_a)) * 100;
                    cr_assert_leq(vec_norm(a), accel + 1e-6, "%d to %d after %d, tick %d", from, to, after, i);
                    cr_assert_leq(j, jerk + 1e-4, "%d to %d after %d, tick %d: %.3f", from, to, after, i, j);
                    last = t.out.intent.velocity;
                    last_a = a;
                }
            }
}

Test(policy_shape, hand_over_has_no_step_in_velocity_or_acceleration)
{
    hand_over(false);
}

Test(policy_shape, nor_has_it_behind_a_shaper)
{
    hand_over(true);
}

/* Within the centimetre that counts as there, not past it, and in the time that goals have. */
Test(policy_shape, a_nudge_arrives_and_does_not_overshoot)
{
    for (int shaper = 0; shaper < 2; shaper++)
        for (double way = 0.1; way <= 0.4; way += 0.1) {
            ticks_make(&t, rooms_middle);
            ticks_shape(&t, shaper);
            ticks_go(&t);
            t.in.lanes.audience_wish = (struct wish){WISH_NUDGE, 1, {way, 0, 0}};
            double furthest = 0;
            for (int i = 0; i < 700; i++) {
                ticks_step(&t);
                furthest = fmax(furthest, t.truth.x - rooms_middle.x);
            }
            cr_assert_not(t.out.goal_set);
            cr_assert_float_eq(t.truth.x, rooms_middle.x + way, 0.0105, "shaper %d, %.1f: %.4f", shaper, way,
                               t.truth.x);
            cr_assert_leq(furthest, way + 0.001, "shaper %d, %.1f: %.4f", shaper, way, furthest);
        }
}

Test(policy_shape, a_stop_is_not_delayed)
{
    ticks_make(&t, rooms_middle);
    ticks_shape(&t, true);
    ticks_go(&t);
    ticks_operator(&t, 1, 0, 0);
    ticks_run(&t, 4);
    double before = ticks_speed(&t);
    t.in.stop.asked = 1;
    for (int i = 1; i <= 80; i++) {
        ticks_step(&t);
        cr_assert_float_eq(ticks_speed(&t), fmax(before - 0.006 * i, 0), 1e-9, "tick %d", i);
        cr_assert_not(t.out.intent.motion);
    }
    ticks_run(&t, 1);
    t.in.stop.event = STOP_EVENT_RESET;
    ticks_step(&t);
    t.in.stop.event = STOP_EVENT_GO;
    ticks_step(&t);
    cr_assert_leq(ticks_speed(&t), 1.5 * 1e-4 + 1e-9, "nothing old comes out of the shaper: it begins from rest");
}

/* Ordinary motion at walls stays shaped: a proof hardly ever fails, but where a way into a wall is turned along it in a
 * hurry: the path of a mixture is longer than that of either. */
Test(policy_shape, walls_are_met_without_braking)
{
    static const struct vec3 ways[] = {{-1, 0, 0},       {0, 1, 0}, {-0.7, -0.7, 0},
                                       {0.7, 0.5, -0.4}, {0, 0, 1}, {0.2, -1, 0}};
    for (int shaper = 0; shaper < 2; shaper++) {
        int braked = 0, ticks = 0;
        ticks_make(&t, rooms_middle);
        ticks_shape(&t, shaper);
        ticks_go(&t);
        for (int i = 0; i < 24; i++) {
            struct vec3 way = ways[i % 6];
            ticks_operator(&t, way.x, way.y, way.z);
            for (int k = 0; k < 700; k++, ticks++) {
                ticks_step(&t);
                braked += t.out.guard.braked;
            }
        }
        cr_assert_leq(braked, ticks / 60, "shaper %d: %d of %d", shaper, braked, ticks);
    }
}

/* The body hangs stiller after a shaped step than after one that is not: a pendulum of the boom's length, pushed by
 * what is sent. */
static double swing_left(bool shaper)
{
    double q = 0, w = 0, peak = 0, last = 0, boom = 0.3, omega = sqrt(9.80665 / boom);
    ticks_make(&t, rooms_middle);
    ticks_shape(&t, shaper);
    for (int m = 0; m < LIMITS_MODES && !shaper; m++)
        t.cfg.limits.cell[LANE_OPERATOR][m].jerk_mps3 = LIMITS_JERK_FREE;
    ticks_go(&t);
    ticks_operator(&t, 0.6, 0, 0);
    for (int i = 0; i < 400; i++) {
        ticks_step(&t);
        double a = (t.out.intent.velocity.x - last) * 100;
        last = t.out.intent.velocity.x;
        for (int k = 0; k < 10; k++) {
            w += (-omega * omega * sin(q) - a / boom * cos(q) - 2 * 0.01 * omega * w) * 1e-3;
            q += w * 1e-3;
        }
        if (i > 250) /* the step is over, what it left is not yet damped */
            peak = fmax(peak, fabs(q));
    }
    return peak;
}

Test(policy_shape, a_shaper_leaves_it_hanging_still)
{
    double with = swing_left(true), without = swing_left(false);
    cr_assert_leq(with, 0.1 * without, "%.6f and %.6f", with, without);
}
