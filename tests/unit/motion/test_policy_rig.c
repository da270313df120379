/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the rig tells, in the tick: located positions and their faults, motion nobody asked for, cords, somebody near.
 */
#include "tests/unit/motion/ticks.h"

static struct ticks t;

static void make_located(void)
{
    ticks_make(&t, rooms_middle);
    t.noise_m = 0.002;
    t.in.rig.where.sources = locate_bit(LOCATE_POSE);
    t.in.rig.where.quality[LOCATE_POSE] = (struct locate_quality){0.001, 0};
    t.cfg.locates = true;
    t.cfg.locate = (struct locate_config){.accel_mps2 = 1,
                                          .speed_mps = 1,
                                          .tilt_rad = 0.5,
                                          .age_max_s = 1,
                                          .coast_s = 0.3,
                                          .again_s = 1,
                                          .memory_s = 5,
                                          .frozen_s = 1,
                                          .frozen_m = 0.3,
                                          .outliers = 1,
                                          .uncertainty_max_m = 0.2};
    t.cfg.astray_s = 0.15;
}

static void stopped_for(enum reason why)
{
    for (int i = 0; i < 200 && t.out.intent.motion; i++)
        ticks_step(&t);
    cr_assert_not(t.out.intent.motion);
    cr_assert_eq(t.out.stop_reason, why, "%s", reason_code(t.out.stop_reason));
    cr_assert(ticks_has(&t, why));
}

/* The position is for now: no age of its own is counted on top, latency is. */
Test(policy_rig, a_located_place_is_for_now_and_counts_latency_whole)
{
    make_located();
    ticks_go(&t);
    ticks_operator(&t, 1, 0, 0);
    ticks_run(&t, 3);
    struct guard_input in = {.uncertainty_m = t.out.place.uncertainty_m, .accel_mps2 = 0.3};
    cr_assert_float_eq(t.out.guard.margin_m, guard_margin(&t.cfg.guard, &in), 1e-12);
    double path = 0.4 * (0.08 + 0.3) + 0.4 * 0.4 / 1.2;
    cr_assert_float_eq(t.out.guard.braking_m, path, 0.01);
    cr_assert(t.out.place.sources == locate_bit(LOCATE_POSE) && t.out.place.uncertainty_m > 0);
    cr_assert_float_eq(t.out.place.velocity.x, 0.4, 0.05);
    cr_assert_lt(vec_norm(vec_sub(t.out.place.position, t.truth)), t.out.place.uncertainty_m);
    t.silent = true; /* the place goes on, and gets vague */
    double before = t.out.place.uncertainty_m;
    ticks_run(&t, 0.1);
    cr_assert_gt(t.out.place.uncertainty_m, before);
    in.uncertainty_m = t.out.place.uncertainty_m;
    in.swing_age_s = 0.1; /* the swing is no newer for it */
    cr_assert_float_eq(t.out.guard.margin_m, guard_margin(&t.cfg.guard, &in), 1e-12);
}

Test(policy_rig, faults_of_locating_stop_it_each_for_its_reason)
{
    make_located();
    ticks_go(&t);
    ticks_operator(&t, 0.5, 0, 0);
    ticks_run(&t, 2);
    t.truth.y += 0.6; /* not that the rig could */
    stopped_for(REASON_POSITION_JUMP);
    cr_assert(t.out.detail[REASON_POSITION_JUMP].value > t.out.detail[REASON_POSITION_JUMP].limit);

    make_located();
    ticks_go(&t);
    ticks_operator(&t, 0.5, 0, 0);
    ticks_run(&t, 2);
    t.in.rig.where.sources = 0;
    stopped_for(REASON_POSITION_VAGUE);

    make_located();
    ticks_go(&t);
    t.in.rig.where.quality[LOCATE_POSE].sigma = (double)NAN;
    stopped_for(REASON_POSITION_BAD);

    make_located();
    t.cfg.locate.uncertainty_max_m = 0.05;
    ticks_go(&t);
    t.in.rig.where.quality[LOCATE_POSE].sigma = 0.5;
    stopped_for(REASON_POSITION_VAGUE);
    cr_assert_float_eq(t.out.detail[REASON_POSITION_VAGUE].limit, 0.05, 1e-12);
}

Test(policy_rig, a_length_that_is_off_names_its_cord)
{
    make_located();
    struct locate_config *l = &t.cfg.locate;
    l->cords = 4;
    for (int k = 0; k < 4; k++)
        l->anchor[k] = t.cfg.guard.volume.outline.anchor[k];
    t.in.rig.where.sources |= locate_bit(LOCATE_LENGTH);
    t.in.rig.where.quality[LOCATE_LENGTH] = (struct locate_quality){0.002, 0};
    for (int off = 0; off < 2; off++) {
        for (int i = 0; i < 600; i++) {
            for (int k = 0; k < 4; k++)
                t.in.rig.where.length_m[k] = vec_norm(vec_sub(l->anchor[k], t.truth)) + (off && k == 2 ? 0.04 : 0) +
                                             random_between(&t.random, -0.002, 0.002);
            if (off == 0 && i == 0) {
                policy_init(&t.cfg, &t.policy);
                cr_assert(policy_config_valid(&t.cfg));
            }
            ticks_step(&t);
        }
        cr_assert_eq(ticks_has(&t, REASON_ANCHOR_MOVED) || ticks_has(&t, REASON_SENSORS_DISAGREE), off == 1);
    }
    cr_assert(!ticks_has(&t, REASON_ANCHOR_MOVED) || t.out.detail[REASON_ANCHOR_MOVED].index == 2);
}

/* A winch that runs on: stopped within the 150 ms and what it takes to see it. */
Test(policy_rig, motion_that_nobody_asked_for_stops_it)
{
    for (int moving = 0; moving < 2; moving++) {
        make_located();
        ticks_go(&t);
        if (moving)
            ticks_operator(&t, 0.5, 0, 0);
        ticks_run(&t, 2);
        cr_assert(t.out.intent.motion && !ticks_has(&t, REASON_RIG_ASTRAY));
        t.astray = (struct vec3){0, 0.3, 0.1};
        int ticks = 0;
        while (t.out.intent.motion && ++ticks < 100)
            ticks_step(&t);
        cr_assert_eq(t.out.stop_reason, REASON_RIG_ASTRAY, "%s", reason_code(t.out.stop_reason));
        cr_assert_leq(ticks, 60, "after %d0 ms", ticks);
        cr_assert(t.out.detail[REASON_RIG_ASTRAY].value > t.out.detail[REASON_RIG_ASTRAY].limit);
    }
}

/* What it was told within latency and lease is not astray, and neither is slower than that. */
Test(policy_rig, obeying_late_is_not_astray)
{
    make_located();
    ticks_go(&t);
    for (int i = 0; i < 3000; i++) {
        if (i % 150 == 0) {
            struct vec3 way = random_direction(&t.random);
            ticks_operator(&t, way.x, way.y, 0.2 * way.z);
        }
        ticks_step(&t);
        cr_assert_not(ticks_has(&t, REASON_RIG_ASTRAY), "tick %d", i);
    }
    t.in.stop.asked = 1;
    ticks_run(&t, 2);
    cr_assert_not(ticks_has(&t, REASON_RIG_ASTRAY), "braking, neither");
}

/* The rig says nothing of swing, its tilt does: the margin is as wide as if it had said so, and motion waits. */
Test(policy_rig, swing_is_seen_in_the_tilt)
{
    make_located();
    t.in.rig.where.sources |= locate_bit(LOCATE_TILT);
    t.in.rig.where.quality[LOCATE_TILT] = (struct locate_quality){0.002, 0};
    t.cfg.watches_swing = true;
    t.cfg.swing_watch = (struct swing_watch_config){swing_shaper_mode(0.3, 0.02), {0, 0}, 0.02, 0.04};
    ticks_go(&t);
    ticks_run(&t, 2);
    cr_assert(t.policy.swing_watch.settled && t.out.intent.motion);
    for (int i = 0; i < 300; i++) {
        double most = i < 150 ? 0.12 : 0.3;
        t.in.rig.where.tilt_x_rad = most * sin(t.cfg.swing_watch.mode.omega_radps * i * 0.01);
        ticks_step(&t);
        if (i == 149) {
            struct guard_input in = {
                .uncertainty_m = t.out.place.uncertainty_m, .accel_mps2 = 0.2, .swing_rad = t.policy.last.swing_rad};
            cr_assert_float_eq(in.swing_rad, 0.12, 0.01);
            cr_assert_float_eq(t.out.guard.margin_m, guard_margin(&t.cfg.guard, &in), 1e-12);
            cr_assert(!t.policy.swing_watch.settled && !ticks_has(&t, REASON_SWING));
        }
    }
    cr_assert(ticks_has(&t, REASON_SWING));
    t.in.rig.where.sources = locate_bit(LOCATE_POSE);
    ticks_run(&t, 1);
    cr_assert(ticks_has(&t, REASON_SWING), "what was seen last counts while nothing newer is");
}

static void make_cords(void)
{
    ticks_make(&t, rooms_middle);
    t.cfg.anticipates = true;
    t.cfg.anticipate = (struct anticipate_config){.look_s = 0.3, .band_share = 0.2, .trip_s = 0.2};
    struct tension_rig *rig = &t.cfg.anticipate.rig;
    *rig = (struct tension_rig){.cords = 4, .mass_kg = 2.4};
    for (int k = 0; k < 4; k++) {
        rig->anchor[k] = t.cfg.guard.volume.outline.anchor[k];
        rig->min_n[k] = 1;
        rig->max_n[k] = 60;
    }
}

Test(policy_rig, wanted_tensions_are_the_middle_of_what_is_feasible)
{
    make_cords();
    ticks_go(&t);
    struct tension_state here;
    tension_solve(&t.cfg.anticipate.rig, t.truth, (struct vec3){0, 0, 0}, &here);
    cr_assert(here.feasible);
    for (int k = 0; k < 4; k++)
        cr_assert_float_eq(t.out.intent.cord_tension_n[k], here.middle_n[k], 1e-9);
    cr_assert_float_eq(t.out.tension_margin_n, here.margin_n, 1e-9);
}

Test(policy_rig, up_is_slowed_before_a_cord_is_overloaded)
{
    make_cords();
    ticks_go(&t);
    ticks_operator(&t, 0, 0, 1);
    ticks_run(&t, 30);
    cr_assert(ticks_has(&t, REASON_TENSION_LIMIT) && t.out.tension_margin_n > 0, "%.3f N", t.out.tension_margin_n);
    cr_assert_float_eq(t.out.detail[REASON_TENSION_LIMIT].limit, 60, 1e-12);
    cr_assert_lt(ticks_speed(&t), 0.02);
    ticks_operator(&t, 0, 0, -1);
    ticks_run(&t, 2);
    cr_assert(ticks_speed(&t) > 0.3 && !ticks_has(&t, REASON_TENSION_LIMIT));
}

Test(policy_rig, a_slack_cord_stops_it_and_is_named)
{
    for (int over = 0; over < 2; over++) {
        make_cords();
        t.in.rig.where.sources = locate_bit(LOCATE_TENSION);
        for (int k = 0; k < 4; k++)
            t.in.rig.where.tension_n[k] = 20;
        ticks_go(&t);
        ticks_operator(&t, 1, 0, 0);
        ticks_run(&t, 1);
        t.in.rig.where.tension_n[3] = over ? 61 : 0.5;
        stopped_for(over ? REASON_CORD_OVERLOAD : REASON_CORD_SLACK);
        const struct reason_detail *d = &t.out.detail[t.out.stop_reason];
        cr_assert(d->index == 3 && d->limit == (over ? 60 : 1) && d->value == t.in.rig.where.tension_n[3]);
        t.in.stop.event = STOP_EVENT_RESET;
        ticks_step(&t);
        cr_assert_eq(t.out.stop_state, STOP_LATCHED, "nobody goes on with it");
    }
}

/* Load cells that fall silent, or of which one does, hide a slack cord; so does a rig that was to have some. */
Test(policy_rig, tensions_that_are_no_longer_told_stop_it)
{
    for (int how = 0; how < 3; how++) {
        make_cords();
        t.cfg.anticipate.measured = how == 2;
        t.in.rig.where.sources = how < 2 ? locate_bit(LOCATE_TENSION) : 0;
        for (int k = 0; k < 4; k++)
            t.in.rig.where.tension_n[k] = 20;
        if (how == 2) {
            policy_init(&t.cfg, &t.policy);
            ticks_run(&t, 0.1);
            cr_assert(ticks_has(&t, REASON_RIG_LOST));
            continue;
        }
        ticks_go(&t);
        ticks_operator(&t, 1, 0, 0);
        ticks_run(&t, 1);
        if (how == 0)
            t.in.rig.where.sources = 0;
        else
            t.in.rig.where.tension_n[2] = (double)NAN;
        ticks_run(&t, 0.2);
        cr_assert(t.out.intent.motion, "one report without them is none yet");
        ticks_run(&t, 0.1);
        cr_assert(!t.out.intent.motion && t.out.stop_reason == REASON_RIG_LOST);
    }
}

static void make_subject(void)
{
    ticks_make(&t, (struct vec3){1.2, 2, 2});
    t.cfg.guard.volume.outline.cords = 0;
    t.cfg.subject = (struct policy_subject){true, false, 0.3, 100, 1.6, 0.05}; /* nothing flies over them */
    t.in.rig.subject_known = true;
    t.in.rig.subject = (struct vec3){5, 2, 0};
}

/* They walk, they do not rise: cords high over where they may be by then leave the camera its room. */
Test(policy_rig, somebody_elsewhere_leaves_a_rig_on_cords_its_room)
{
    make_subject();
    t.cfg.guard.volume.outline.cords = 4;
    t.cfg.subject.height_m = 1;
    t.in.rig.subject = (struct vec3){6, 3.5, 0};
    ticks_go(&t);
    ticks_operator(&t, 0, 1, 0);
    ticks_run(&t, 1);
    cr_assert_gt(ticks_speed(&t), 0.1);
}

/* S = K T + C: at rest before they could be there. They walk towards the camera at their greatest speed, the camera
 * flies at them at its own; it stands still before they are within their radius of it. */
Test(policy_rig, the_camera_stands_before_somebody_can_be_there)
{
    for (int lane = 0; lane < 2; lane++) {
        make_subject();
        ticks_go(&t);
        bool met = false;
        for (int i = 0; i < 1500 && !met; i++) {
            if (lane)
                ticks_operator(&t, 1, 0, 0);
            else
                ticks_audience(&t, 1, 0, 0);
            t.in.rig.subject.x -= i > 300 ? 1.6 * 0.01 : 0;
            ticks_step(&t);
            double apart = t.in.rig.subject.x - 0.3 - t.truth.x - 0.15;
            met = apart <= 0;
            cr_assert(!met || t.out.intent.velocity.x <= 1e-9, "%.4f m/s", t.out.intent.velocity.x);
        }
        cr_assert(met && ticks_has(&t, REASON_SUBJECT_NEAR));
    }
}

Test(policy_rig, an_old_report_of_somebody_closes_everything_near)
{
    make_subject();
    ticks_go(&t);
    ticks_operator(&t, 0, 0.5, 0);
    ticks_run(&t, 1);
    cr_assert_gt(ticks_speed(&t), 0.1);
    t.in.rig.subject_known = false;
    ticks_run(&t, 5);
    cr_assert(ticks_has(&t, REASON_SUBJECT_NEAR) && t.out.intent.velocity.x <= 1e-9);
    t.in.rig.subject_age_s = (double)NAN;
    t.in.rig.subject_known = true;
    ticks_operator(&t, 1, 0, 0);
    ticks_run(&t, 1);
    cr_assert(ticks_has(&t, REASON_SUBJECT_NEAR) && t.out.intent.velocity.x <= 1e-9, "a report that is none is none");
}

Test(policy_rig, whoever_must_be_known_of_is_waited_for)
{
    make_subject();
    t.cfg.subject.required = true;
    t.in.rig.subject_known = false;
    ticks_go(&t);
    ticks_operator(&t, 1, 0, 0);
    ticks_run(&t, 1);
    cr_assert(ticks_speed(&t) <= 0 && ticks_has(&t, REASON_SUBJECT_NEAR) && t.out.intent.motion);
    t.in.rig.subject_known = true;
    ticks_run(&t, 1);
    cr_assert_gt(ticks_speed(&t), 0.1);
}
