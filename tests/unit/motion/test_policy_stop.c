/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/ticks.h"

static struct ticks t;

/* One that obeys: it hears every count at once, and has power while it is told to. */
static void obey(double seconds)
{
    for (int i = 0; i < (int)lround(seconds * 100); i++) {
        t.in.rig.stop_count = t.out.intent.stop_count;
        t.in.rig.unpowered = !t.out.intent.power;
        ticks_step(&t);
    }
}

static void press(enum stop_event event)
{
    t.in.stop.event = event;
    obey(0.01);
}

static void running(enum stop_category inhibit)
{
    ticks_make(&t, rooms_middle);
    t.cfg.stop = (struct policy_stop){inhibit, {500000000, 3000000000}};
    cr_assert(policy_config_valid(&t.cfg));
    policy_init(&t.cfg, &t.policy);
    ticks_operator(&t, 1, 0, 0);
    obey(1);
    press(STOP_EVENT_ARM);
    obey(0.1);
    press(STOP_EVENT_GO);
    obey(3);
    cr_assert(t.out.intent.motion && ticks_speed(&t) > 0.3);
}

static void ask(enum stop_category category)
{
    t.in.stop.asked++;
    t.in.stop.asked_why = REASON_STOP_SPOTTER;
    t.in.stop.asked_category = category;
    obey(0.01);
}

Test(policy_stop, the_intent_says_what_the_category_means)
{
    for (int c = 0; c < 3; c++) {
        running(STOP_CATEGORY_2);
        ask((enum stop_category)c);
        cr_assert(!t.out.intent.motion && t.out.stop_category == (enum stop_category)c);
        cr_assert(t.out.intent.category == (enum stop_category)c && t.out.intent.power == (c == 2));
        press(STOP_EVENT_RESET);
        cr_assert_eq(t.out.stop_answer, STOP_MOVING, "no reset before it stands still");
        obey(3);
        cr_assert(t.out.at_rest && !ticks_has(&t, REASON_STOP_UNCONFIRMED));
        press(STOP_EVENT_RESET);
        cr_assert_eq(t.out.stop_answer, STOP_DONE);
        cr_assert_eq(t.out.stop_state, c == 2 ? STOP_ARMED : STOP_PARKED);
        obey(0.1);
        press(STOP_EVENT_GO);
        cr_assert_eq(t.out.intent.motion, c == 2);
    }
}

Test(policy_stop, an_inhibit_has_the_category_of_the_show)
{
    for (int c = 0; c < 3; c++) {
        running((enum stop_category)c);
        t.in.rig.fault = true;
        obey(0.01);
        cr_assert(t.out.stop_reason == REASON_RIG_FAULT && t.out.stop_category == (enum stop_category)c);
    }
}

Test(policy_stop, hold_keeps_the_pose_under_power_and_park_waits_for_rest)
{
    running(STOP_CATEGORY_2);
    uint64_t count = t.out.intent.stop_count;
    press(STOP_EVENT_PARK);
    cr_assert(t.out.stop_answer == STOP_OUT_OF_TURN && t.out.intent.motion);
    t.in.stop.hold_why = REASON_HOLD_MODERATOR;
    press(STOP_EVENT_HOLD);
    cr_assert(t.out.stop_state == STOP_HOLDING && t.out.stop_reason == REASON_HOLD_MODERATOR);
    cr_assert(!t.out.intent.motion && t.out.intent.power && t.out.intent.stop_count > count);
    press(STOP_EVENT_PARK);
    cr_assert_eq(t.out.stop_answer, STOP_MOVING);
    obey(3);
    press(STOP_EVENT_GO);
    cr_assert(t.out.intent.motion && t.out.stop_state == STOP_RUNNING);
    obey(1);
    press(STOP_EVENT_HOLD);
    obey(3);
    press(STOP_EVENT_PARK);
    cr_assert(t.out.stop_state == STOP_PARKED && !t.out.intent.power && t.out.stop_reason == REASON_PARKED);
}

Test(policy_stop, a_control_that_is_still_pressed_keeps_it_stopped)
{
    running(STOP_CATEGORY_2);
    t.in.stop.asserted = true;
    obey(3);
    cr_assert(t.out.stop_state == STOP_LATCHED && t.out.stop_reason == REASON_STOP_INPUT);
    press(STOP_EVENT_RESET);
    cr_assert(t.out.stop_answer == STOP_FORBIDDEN && ticks_has(&t, REASON_STOP_INPUT));
    t.in.stop.asserted = false;
    press(STOP_EVENT_RESET);
    cr_assert_eq(t.out.stop_state, STOP_ARMED);
}

Test(policy_stop, drives_that_lose_their_power_stop_it_at_once)
{
    running(STOP_CATEGORY_2);
    t.in.rig.unpowered = true;
    ticks_step(&t);
    cr_assert(t.out.stop_state == STOP_LATCHED && t.out.stop_reason == REASON_RIG_UNPOWERED);
    t.in.rig.stop_count = t.out.intent.stop_count;
    ticks_run(&t, 2);
    t.in.stop.event = STOP_EVENT_RESET;
    ticks_step(&t);
    cr_assert_eq(t.out.stop_state, STOP_PARKED, "what has no power is armed anew, whatever the category");
}

Test(policy_stop, drives_have_a_second_to_come_under_power_and_nothing_goes_before)
{
    ticks_make(&t, rooms_middle);
    policy_init(&t.cfg, &t.policy);
    t.in.rig.unpowered = true;
    ticks_run(&t, 1);
    t.in.stop.event = STOP_EVENT_ARM;
    ticks_step(&t);
    t.in.stop.event = STOP_EVENT_GO;
    ticks_step(&t);
    cr_assert(t.out.stop_state == STOP_ARMED && t.out.stop_answer == STOP_UNPOWERED);
    ticks_run(&t, 0.9);
    cr_assert_eq(t.out.stop_state, STOP_ARMED);
    ticks_run(&t, 0.2);
    cr_assert(t.out.stop_state == STOP_LATCHED && t.out.stop_reason == REASON_RIG_UNPOWERED);
}

Test(policy_stop, one_that_the_rig_does_not_hear_becomes_category_0)
{
    running(STOP_CATEGORY_2);
    uint64_t heard = t.out.intent.stop_count;
    t.in.stop.asked = 1;
    t.in.stop.asked_category = STOP_CATEGORY_2;
    for (int i = 0; i < 100; i++) {
        t.in.rig.stop_count = heard;
        ticks_step(&t);
        bool late = i > 51;
        cr_assert_eq(ticks_has(&t, REASON_STOP_UNCONFIRMED), late, "tick %d", i);
        cr_assert_eq(t.out.stop_category, late ? STOP_CATEGORY_0 : STOP_CATEGORY_2, "tick %d", i);
    }
    cr_assert(!t.out.intent.power && t.out.detail[REASON_STOP_UNCONFIRMED].value > 0.5);
    cr_assert_eq(t.out.stop_reason, REASON_STOP_OPERATOR, "why it was stopped is kept");
    obey(2);
    cr_assert(!ticks_has(&t, REASON_STOP_UNCONFIRMED) && t.out.stop_category == STOP_CATEGORY_0);
}

Test(policy_stop, a_rig_that_does_not_come_to_rest_becomes_category_0)
{
    running(STOP_CATEGORY_2);
    t.astray = (struct vec3){0.1, 0, 0};
    ask(STOP_CATEGORY_2);
    obey(2.5);
    cr_assert(t.out.intent.power && !ticks_has(&t, REASON_STOP_UNCONFIRMED) && !t.out.at_rest);
    obey(1);
    cr_assert(!t.out.intent.power && ticks_has(&t, REASON_STOP_UNCONFIRMED));
    press(STOP_EVENT_RESET);
    cr_assert(t.out.stop_state == STOP_LATCHED && t.out.stop_answer == STOP_FORBIDDEN);
}

Test(policy_stop, a_category_out_of_range_is_no_config)
{
    ticks_make(&t, rooms_middle);
    t.cfg.stop.inhibit = (enum stop_category)3;
    cr_assert_not(policy_config_valid(&t.cfg));
}
