/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Modes, limits and what slows a wish, in the tick. */
#include "tests/unit/motion/ticks.h"

static struct ticks t;

static void limit(enum limits_mode mode, double speed, double floor, bool yields)
{
    for (int l = 0; l < LANE_COUNT; l++) {
        struct limits *cell = &t.cfg.limits.cell[l][mode];
        cell->speed_mps = fmin(cell->speed_mps, speed);
        cell->floor_m = floor;
        cell->yields = yields;
    }
}

static void make_modes(struct vec3 at)
{
    ticks_make(&t, at);
    limit(LIMITS_SETUP, 0.1, 1, false);
    limit(LIMITS_SHOW, 0.4, 1, false);
    limit(LIMITS_LOW, 0.15, 0.5, true);
    t.cfg.spotter_timeout_ns = 500000000;
}

static void hold(double seconds)
{
    for (int i = 0; i < (int)lround(seconds * 100); i++) {
        t.in.spotter_ns = t.in.now_ns + TICKS_NS;
        ticks_step(&t);
    }
}

Test(policy_mode, setup_is_slow_and_the_operators_alone)
{
    make_modes(rooms_middle);
    ticks_go(&t);
    t.in.setup = true;
    ticks_audience(&t, 1, 0, 0);
    ticks_run(&t, 2);
    cr_assert(t.out.mode == LIMITS_SETUP && t.out.lane == LANE_IDLE && ticks_speed(&t) <= 0);
    cr_assert(ticks_has(&t, REASON_AUDIENCE_CLOSED));
    ticks_operator(&t, 1, 0, 0);
    ticks_run(&t, 2);
    cr_assert_float_eq(ticks_speed(&t), 0.1, 1e-9);
    t.in.setup = false;
    ticks_run(&t, 2);
    cr_assert(t.out.mode == LIMITS_SHOW);
    cr_assert_float_eq(ticks_speed(&t), 0.4, 1e-9);
}

/* Down to the floor of the show; lower while a spotter holds; and when the hold lapses it stays, and only goes up. */
Test(policy_mode, low_flight_takes_a_spotter)
{
    make_modes((struct vec3){2, 2, 2});
    ticks_go(&t);
    ticks_operator(&t, 0, 0, -1);
    ticks_run(&t, 20);
    double body = t.truth.z - 0.3 - 0.15;
    cr_assert(body > 1 && body < 1.2, "%.3f", body);
    cr_assert(ticks_has(&t, REASON_SPOTTER_NEEDED) && !ticks_has(&t, REASON_STAGE_EDGE));
    cr_assert_float_eq(t.out.detail[REASON_SPOTTER_NEEDED].limit, t.out.guard.margin_m, 1e-12);
    hold(20);
    cr_assert(t.out.mode == LIMITS_LOW);
    body = t.truth.z - 0.3 - 0.15;
    cr_assert(body > 0.5 && body < 0.8, "%.3f", body);
    cr_assert_not(ticks_has(&t, REASON_SPOTTER_NEEDED));

    ticks_operator(&t, 1, 0, 0);
    hold(1);
    cr_assert_gt(ticks_speed(&t), 0.1);
    ticks_run(&t, 0.5);
    cr_assert(t.out.mode == LIMITS_LOW, "it lapses after half a second");
    ticks_operator(&t, 1, 0, -1);
    ticks_run(&t, 2);
    double held = t.truth.z;
    cr_assert(t.out.mode == LIMITS_SHOW && ticks_has(&t, REASON_SPOTTER_NEEDED));
    ticks_run(&t, 3);
    cr_assert_geq(t.truth.z, held - 1e-6, "no further down");
    ticks_operator(&t, 0, 0, 1);
    ticks_run(&t, 6);
    cr_assert_gt(t.truth.z, held + 0.4, "up is open");
}

Test(policy_mode, a_keepout_yields_to_a_spotter)
{
    make_modes((struct vec3){4, 3.5, 2});
    t.cfg.guard.volume.keepout[0].yields = true;
    ticks_go(&t);
    ticks_operator(&t, 0.7, 0, -0.7);
    ticks_run(&t, 15);
    cr_assert(ticks_has(&t, REASON_SPOTTER_NEEDED) && !ticks_has(&t, REASON_KEEPOUT));
    double before = t.truth.x;
    hold(15);
    cr_assert_gt(t.truth.x, before + 0.3);
}

/* A hold that lapses over a zone that yields: out is up, not into anything else. */
Test(policy_mode, the_way_out_of_what_no_longer_yields_leads_into_nothing)
{
    make_modes((struct vec3){5.5, 3.5, 2.2});
    limit(LIMITS_LOW, 0.15, -SHAPE_FAR_M, true);
    rooms_box(&t.cfg.guard.volume, 0, (struct vec3){4, 2, 0}, (struct vec3){7, 5, 2}, 0);
    t.cfg.guard.volume.keepout[0].yields = true;
    rooms_box(&t.cfg.guard.volume, 1, (struct vec3){6.2, 3, 0}, (struct vec3){6.4, 4, 3}, 0);
    t.cfg.guard.volume.keepouts = 2;
    cr_assert(volume_prepare(&t.cfg.guard.volume));
    ticks_go(&t);
    ticks_operator(&t, 1, 0, 0); /* out of the first, into the second */
    for (int i = 0; i < 2000; i++) {
        ticks_step(&t);
        struct vec3 body = {t.truth.x, t.truth.y, t.truth.z - 0.3};
        double left = shape_distance(&t.cfg.guard.volume.keepout[1].shape, body) - 0.15;
        cr_assert_gt(left, 0.05, "tick %d: %.3f", i, left);
    }
    cr_assert(ticks_has(&t, REASON_OUT_OF_VOLUME));
    ticks_operator(&t, 0, 0, 1);
    ticks_run(&t, 10);
    cr_assert_gt(t.truth.z - 0.45, 2, "up is open: %.3f", t.truth.z);
}

Test(policy_mode, lag_bounds_the_audience_alone)
{
    ticks_make(&t, rooms_middle);
    t.cfg.limits.unseen_m = 0.4;
    ticks_go(&t);
    t.in.lag_s = 8;
    ticks_audience(&t, 1, 0, 0);
    ticks_run(&t, 2);
    cr_assert_float_eq(ticks_speed(&t), 0.05, 1e-9);
    cr_assert(ticks_has(&t, REASON_LAG_LIMIT));
    cr_assert_float_eq(t.out.detail[REASON_LAG_LIMIT].value, 0.2, 1e-12);
    cr_assert_float_eq(t.out.detail[REASON_LAG_LIMIT].limit, 0.05, 1e-12);
    t.in.lag_s = (double)NAN;
    ticks_run(&t, 2);
    cr_assert_float_eq(ticks_speed(&t), 0.02, 1e-9, "the worst there is");
    ticks_operator(&t, 1, 0, 0);
    ticks_run(&t, 2);
    cr_assert(ticks_speed(&t) > 0.39 && !ticks_has(&t, REASON_LAG_LIMIT));
}

/* Gently before the edge, and at the zone's speed everywhere in it; the body is a ball of 0.15 m. */
Test(policy_mode, a_slow_zone_is_entered_slowly)
{
    for (int shaper = 0; shaper < 2; shaper++) {
        ticks_make(&t, (struct vec3){1.5, 1.5, 2});
        t.cfg.zones = 1;
        struct shape_box box = {{4, 0, 0}, {6, 3, 3}};
        t.cfg.zone[0] = (struct policy_zone){shape_from_box(&box), 0.1};
        if (shaper)
            ticks_shape(&t, true);
        ticks_go(&t);
        ticks_operator(&t, 1, 0, 0);
        double fastest = 0;
        int braked = 0;
        bool told = false;
        for (int i = 0; i < 3500; i++) {
            ticks_step(&t);
            fastest = fmax(fastest, ticks_speed(&t));
            braked += t.out.guard.braked;
            const struct reason_detail *d = &t.out.detail[REASON_SLOW_ZONE];
            told = told || (ticks_has(&t, REASON_SLOW_ZONE) && d->index == 0 && fabs(d->limit - 0.1) < 1e-9);
            double left = 4 - 0.15 - t.truth.x;
            cr_assert(left > 0 || t.truth.x > 6.15 || ticks_speed(&t) <= 0.1 + 1e-6, "at %.3f: %.4f", t.truth.x,
                      ticks_speed(&t));
        }
        cr_assert_gt(fastest, 0.39);
        cr_assert_eq(braked, 0, "shaper %d: gently", shaper);
        cr_assert(t.truth.x > 4.5, "and it goes on: %.3f", t.truth.x);
        cr_assert(told);
    }
}

static void ask(uint32_t id, double speed, bool by_operator)
{
    t.in.limits =
        (struct policy_limits_request){id, LANE_OPERATOR, t.cfg.limits.cell[LANE_OPERATOR][LIMITS_SHOW], by_operator};
    t.in.limits.limits.speed_mps = speed;
    ticks_step(&t);
    cr_assert_eq(t.out.limits_id, id);
}

Test(policy_mode, a_session_tightens_and_a_stopped_operator_loosens)
{
    ticks_make(&t, rooms_middle);
    ticks_go(&t);
    ticks_operator(&t, 1, 0, 0);
    ask(1, 0.1, false);
    cr_assert_eq(t.out.limits_answer, LIMITS_TAKEN);
    ticks_run(&t, 2);
    cr_assert_float_eq(ticks_speed(&t), 0.1, 1e-9);
    ask(2, 0.3, false);
    cr_assert(t.out.limits_answer == LIMITS_NOT_OPERATOR && ticks_has(&t, REASON_LIMITS_ARMED));
    ask(3, 0.3, true);
    cr_assert(t.out.limits_answer == LIMITS_IS_ARMED && ticks_has(&t, REASON_LIMITS_ARMED));
    ticks_step(&t);
    cr_assert(t.out.limits_answer == LIMITS_IS_ARMED && !ticks_has(&t, REASON_LIMITS_ARMED), "once a request");
    t.in.stop.asked = 1;
    t.in.stop.asked_category = STOP_CATEGORY_2;
    ask(4, 0.9, true);
    cr_assert_eq(t.out.limits_answer, LIMITS_TAKEN);
    cr_assert_float_eq(t.out.limits.speed_mps, 0.4, 1e-12, "never above the table");
    ticks_run(&t, 2);
    t.in.stop.event = STOP_EVENT_RESET;
    ask(5, 0.2, true);
    t.in.stop.event = STOP_EVENT_NONE;
    ask(6, 0.3, true);
    cr_assert_eq(t.out.limits_answer, LIMITS_IS_ARMED, "what was reset is what go starts");
}

/* A lens of 0.6 m beside a pillar, pointing past it. The body turns by itself, so it may point at it before the camera
 * is at rest: 0.1 rad/s for 0.39 s and the braking from 0.2 m/s. */
Test(policy_mode, a_body_that_turns_by_itself_may_point_elsewhere_until_it_is_at_rest)
{
    double apart[2];
    for (int turns = 0; turns < 2; turns++) {
        ticks_make(&t, rooms_middle);
        struct volume *vol = &t.cfg.guard.volume;
        vol->outline.yaw = VOLUME_YAW_REPORTED;
        vol->outline.limbs = 2;
        vol->outline.limb[1] = (struct volume_limb){.a = {0, 0, 0}, .b = {0.6, 0, 0}, .radius_m = 0.05};
        vol->outline.cords = 0;
        rooms_box(vol, 0, (struct vec3){4.5, 2.25, 0}, (struct vec3){4.7, 2.5, 3}, 0);
        t.in.rig.yaw_known = true;
        t.cfg.yaw_radps = turns * 0.1;
        ticks_go(&t);
        ticks_step(&t);
        apart[turns] = t.out.guard.nearest.distance_m;
    }
    double turned = 0.1 * (0.08 + 0.3 + 0.01 + 0.2 / 0.6);
    cr_assert_float_eq(apart[0], 0.25 - 0.05, 1e-4);
    cr_assert(apart[1] <= 0.25 - 0.6 * sin(turned) - 0.05 + 1e-3 && apart[1] > 0.1, "%.4f", apart[1]);
}
