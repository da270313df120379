/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The head in the tick: who turns it, its reasons, limbs that turn with it, and what the picture must never show. */
#include "tests/unit/motion/ticks.h"

#define RIGHT 1.57079632679489662

static struct ticks t;

static void make_head(struct vec3 at)
{
    ticks_make(&t, at);
    struct policy_head *h = &t.cfg.head;
    h->there = true;
    h->config = (struct head_config){.axis = {{-2.5, 2.5, 0, {0.6, 1.2, 6}},
                                              {-1, 0.5, 0, {0.4, 0.8, 4}},
                                              {0, 0, 0, {1, 1, 5}},
                                              {1, 4, 1, {0.5, 1, 5}}},
                                     .hfov_wide_rad = 1,
                                     .latency_s = 0.02,
                                     .lease_s = t.cfg.guard.lease_s,
                                     .arrived = 0.01,
                                     .rest_s = 0.5,
                                     .recover_s = 20,
                                     .dt_s = 0.01};
    h->share[LANE_OPERATOR] = 0.5;
    h->aspect = 1.6;
    t.head[HEAD_ZOOM] = 1;
    t.in.rig.head_known = true;
    t.in.rig.head_off = 0.001;
}

static void turn(double pan)
{
    ticks_operator(&t, 0, 0, 0);
    t.in.head_wish[HEAD_PAN] = pan;
}

Test(policy_head, the_operator_turns_it_by_the_share_of_their_lane)
{
    make_head(rooms_middle);
    ticks_go(&t);
    turn(1);
    ticks_run(&t, 1.5);
    cr_assert_float_eq(t.out.intent.head_rate[HEAD_PAN], 0.3, 1e-9);
    ticks_audience(&t, 0, 0, 0);
    ticks_run(&t, 1);
    cr_assert_eq(t.out.intent.head_rate[HEAD_PAN], 0, "nobody else does");
    turn(7);
    ticks_run(&t, 1);
    cr_assert_float_eq(t.out.intent.head_rate[HEAD_PAN], 0.3, 1e-9);
    ticks_run(&t, 12);
    cr_assert(fabs(t.out.intent.head_rate[HEAD_PAN]) < 1e-3 && ticks_has(&t, REASON_HEAD_LIMIT));
    cr_assert(t.head[HEAD_PAN] > 2.4 && t.head[HEAD_PAN] <= 2.5 + 1e-9, "%.4f", t.head[HEAD_PAN]);
    t.in.head_home = true;
    ticks_run(&t, 1);
    cr_assert(t.out.intent.head_rate[HEAD_PAN] < 0 && ticks_has(&t, REASON_HEAD_RECOVERING));
}

/* A body that swings turns the picture: what is far away comes into it though nothing has moved near. And it will swing
 * by being sped up and braked, though it hangs still: at half a field of view of 0.33 rad upwards, what stands at 0.49
 * rad and more comes into the picture by that alone. */
Test(policy_head, a_swing_turns_what_is_seen)
{
    static const struct {
        double above_m, swing_rad;
        bool seen;
    } cases[] = {{21.9, 0, false}, {21.9, 0.2, true}, {16, 0, true}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        make_head(rooms_middle);
        struct shape_box far = {{29, -5, cases[i].above_m}, {29.5, 5, 30}};
        t.cfg.view = (struct view){.boom_m = 0.3, .range_m = 50, .shapes = 1, .shape = {shape_from_box(&far)}};
        cr_assert(view_prepare(&t.cfg.view));
        ticks_go(&t);
        t.in.rig.swing_rad = cases[i].swing_rad;
        ticks_operator(&t, 1, 0, 0);
        ticks_run(&t, 1);
        cr_assert_eq(ticks_has(&t, REASON_VIEW), cases[i].seen, "case %zu", i);
        cr_assert_eq(ticks_speed(&t) > 0.2, !cases[i].seen, "case %zu", i);
    }
}

Test(policy_head, it_is_braked_with_the_rig_and_where_it_is_lost)
{
    make_head(rooms_middle);
    ticks_go(&t);
    turn(1);
    ticks_run(&t, 1.5);
    t.in.stop.asked = 1;
    double before = t.out.intent.head_rate[HEAD_PAN];
    ticks_step(&t);
    cr_assert_lt(t.out.intent.head_rate[HEAD_PAN], before);
    ticks_run(&t, 1);
    cr_assert_eq(t.out.intent.head_rate[HEAD_PAN], 0);

    make_head(rooms_middle);
    ticks_go(&t);
    turn(1);
    ticks_run(&t, 1.5);
    t.in.rig.head_known = false;
    ticks_run(&t, 1);
    cr_assert(t.out.intent.head_rate[HEAD_PAN] == 0 && ticks_has(&t, REASON_HEAD_LOST));
    cr_assert_eq(t.out.detail[REASON_HEAD_LOST].index, HEAD_PAN);
    cr_assert(t.out.intent.motion, "the platform goes on");
}

Test(policy_head, anything_may_be_wished_for)
{
    static const double wild[] = {(double)NAN, (double)INFINITY, -(double)INFINITY, 1e308, -5};
    make_head(rooms_middle);
    ticks_go(&t);
    for (int i = 0; i < 500; i++) {
        turn(wild[i % 5]);
        t.in.rig.head_off = i % 7 == 0 ? wild[i % 5] : 0.001;
        ticks_step(&t);
        for (int k = 0; k < HEAD_AXES; k++)
            cr_assert_leq(fabs(t.out.intent.head_rate[k]), t.cfg.head.config.axis[k].limits.speed + 1e-9);
    }
}

/* ---- Limbs that turn with pan ---- */

static double limb_clearance(void)
{
    const struct volume *vol = &t.cfg.guard.volume;
    double least = INFINITY;
    for (int i = 0; i <= 20; i++) {
        double out = 0.6 * i / 20, yaw = t.head[HEAD_PAN];
        struct vec3 p = {t.truth.x + out * cos(yaw), t.truth.y + out * sin(yaw), t.truth.z - 0.3};
        least = fmin(least, shape_distance(&vol->keepout[0].shape, p) - 0.05);
    }
    return least;
}

/* A lens of 0.6 m beside a pillar: it turns up to the pillar and no further, however long it is pushed; and while it
 * points past the pillar the platform does not carry it into that. */
static void make_lens(struct vec3 at)
{
    make_head(at);
    struct volume *vol = &t.cfg.guard.volume;
    vol->outline.yaw = VOLUME_YAW_PAN;
    vol->outline.limbs = 2;
    vol->outline.limb[1] = (struct volume_limb){.a = {0, 0, 0}, .b = {0.6, 0, 0}, .radius_m = 0.05};
    vol->outline.cords = 0;
    rooms_box(vol, 0, (struct vec3){3.8, 2.5, 0}, (struct vec3){4.2, 2.9, 3}, 0);
}

Test(policy_head, a_limb_is_not_turned_into_anything)
{
    make_lens(rooms_middle);
    ticks_go(&t);
    turn(1); /* from +x towards +y, where the pillar is */
    double least = INFINITY;
    for (int i = 0; i < 3000; i++) {
        ticks_step(&t);
        least = fmin(least, limb_clearance());
    }
    cr_assert(least > 0.02, "%.4f", least);
    cr_assert(t.head[HEAD_PAN] > 0.2 && t.head[HEAD_PAN] < RIGHT, "%.3f", t.head[HEAD_PAN]);
    cr_assert_lt(fabs(t.out.intent.head_rate[HEAD_PAN]), 0.01, "and rests there");
    cr_assert(ticks_has(&t, REASON_HEAD_LIMIT));
    turn(-1);
    ticks_run(&t, 2);
    cr_assert_lt(t.out.intent.head_rate[HEAD_PAN], -0.2, "back is open");
}

Test(policy_head, nor_carried_into_anything)
{
    make_lens((struct vec3){4, 1.2, 2});
    t.head[HEAD_PAN] = RIGHT;
    ticks_go(&t);
    ticks_operator(&t, 0, 1, 0);
    double least = INFINITY;
    for (int i = 0; i < 1500; i++) {
        ticks_step(&t);
        least = fmin(least, limb_clearance());
    }
    cr_assert(least > 0.02 && least < 0.3, "%.4f", least);
    cr_assert(ticks_speed(&t) < 0.01 && ticks_has(&t, REASON_KEEPOUT));

    make_lens((struct vec3){4, 1.2, 2});
    ticks_go(&t);
    ticks_operator(&t, 0, 1, 0);
    ticks_run(&t, 15);
    cr_assert_gt(t.truth.y, 1.9, "with the lens aside it comes nearer: %.3f", t.truth.y);
    t.in.rig.head_known = false;
    turn(0);
    ticks_run(&t, 1);
    cr_assert(t.out.intent.motion, "where it points is not known, so it may be anywhere");
}

/* Pressed by both at once, head and platform, for a minute: nothing touches. */
Test(policy_head, nor_both_at_once)
{
    make_lens((struct vec3){3, 1.5, 2});
    ticks_go(&t);
    double least = INFINITY;
    for (int i = 0; i < 6000; i++) {
        if (i % 130 == 0) {
            struct vec3 way = random_direction(&t.random);
            ticks_operator(&t, way.x, fabs(way.y), 0.1 * way.z);
            t.in.head_wish[HEAD_PAN] = random_between(&t.random, -1, 1);
        }
        ticks_step(&t);
        least = fmin(least, limb_clearance());
    }
    cr_assert_gt(least, 0.02, "%.4f", least);
}

/* ---- What the picture must never show ---- */

/* A window in the far wall, seen from the middle towards +y at half a field of view of 0.3 rad. */
static void make_window(void)
{
    make_head((struct vec3){2, 2, 2});
    t.cfg.head.config.hfov_wide_rad = 0.6;
    t.cfg.guard.volume.outline.cords = 0;
    t.cfg.guard.volume.keepouts = 0;
    cr_assert(volume_prepare(&t.cfg.guard.volume));
    struct shape_box window = {{3.5, 5.8, 1}, {4.5, 6, 2.5}};
    t.cfg.view = (struct view){.boom_m = 0.3, .range_m = 10, .shapes = 1, .shape = {shape_from_box(&window)}};
    cr_assert(view_prepare(&t.cfg.view));
}

/* Is it in the picture as it truly is? By angles from the lens, corner by corner and in between. */
static bool seen(void)
{
    for (int i = 0; i <= 20; i++)
        for (int k = 0; k <= 10; k++) {
            struct vec3 p = {3.5 + i / 20.0, 5.8, 1 + 0.15 * k};
            double bearing = atan2(p.y - t.truth.y, p.x - t.truth.x) - t.head[HEAD_PAN];
            if (fabs(bearing) < 0.3)
                return true;
        }
    return false;
}

Test(policy_head, the_head_does_not_turn_to_what_must_not_be_seen)
{
    make_window();
    ticks_go(&t);
    turn(1);
    for (int i = 0; i < 2000; i++) {
        ticks_step(&t);
        cr_assert_not(seen(), "tick %d, pan %.3f", i, t.head[HEAD_PAN]);
    }
    cr_assert(ticks_has(&t, REASON_VIEW) && t.out.detail[REASON_VIEW].index == 0);
    cr_assert(t.head[HEAD_PAN] > 0.1, "%.3f", t.head[HEAD_PAN]);
    cr_assert_lt(fabs(t.out.intent.head_rate[HEAD_PAN]), 1e-9, "it rests in front of it");
    turn(-1);
    ticks_run(&t, 1);
    cr_assert_lt(t.out.intent.head_rate[HEAD_PAN], -0.2, "back is open");
    t.in.setup = true;
    turn(1);
    ticks_run(&t, 3.2);
    cr_assert(seen(), "in set-up it is not held");
}

Test(policy_head, nor_does_the_platform_carry_it_there)
{
    make_window();
    t.truth = (struct vec3){0.6, 2, 2};
    t.head[HEAD_PAN] = RIGHT;
    ticks_go(&t);
    ticks_operator(&t, 1, 0, 0);
    for (int i = 0; i < 2000; i++) {
        ticks_step(&t);
        cr_assert_not(seen(), "tick %d, x %.3f", i, t.truth.x);
    }
    cr_assert(ticks_has(&t, REASON_VIEW) && ticks_speed(&t) <= 1e-9 && t.truth.x > 0.8, "%.3f", t.truth.x);
    ticks_operator(&t, -1, 0, 0);
    ticks_run(&t, 1);
    cr_assert_lt(t.out.intent.velocity.x, -0.05);
}

Test(policy_head, config_is_valid_only_as_documented)
{
    make_head(rooms_middle);
    cr_assert(policy_config_valid(&t.cfg));
    t.cfg.head.share[LANE_OPERATOR] = 1.1;
    cr_assert_not(policy_config_valid(&t.cfg));
    make_head(rooms_middle);
    t.cfg.head.config.axis[HEAD_PAN].limits.accel = 0;
    cr_assert_not(policy_config_valid(&t.cfg));
    make_window();
    t.cfg.head.aspect = 0;
    cr_assert_not(policy_config_valid(&t.cfg));
    make_window();
    t.cfg.head.there = false;
    cr_assert_not(policy_config_valid(&t.cfg), "a picture needs a head");
    make_lens(rooms_middle);
    t.cfg.head.there = false;
    cr_assert_not(policy_config_valid(&t.cfg));
}
