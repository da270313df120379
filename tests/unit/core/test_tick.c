/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The tick with the real policy and the real link, against a least rig: what leads to motion, and what ends it. */
#include <criterion/criterion.h>

#include "trial.h"

Test(tick, starts_parked_and_needs_arming_then_a_go)
{
    struct trial t = trial_begin();
    trial_run(&t, 300);
    trial_rest(&t);
    cr_assert_eq(trial_state(&t), STOP_PARKED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_STARTED_UP);
    cr_assert_not(atomic_load(&t.stand->rig.powered));
    trial_press(&t, STOP_EVENT_GO);
    trial_run(&t, 20);
    cr_assert_eq(trial_state(&t), STOP_PARKED);
    cr_assert_eq(t.report.answers, 1u);
    cr_assert(t.report.answer[0].what == STOP_EVENT_GO && t.report.answer[0].answer == STOP_OUT_OF_TURN);
    trial_arm(&t);
    cr_assert(t.report.answer[1].what == STOP_EVENT_ARM && t.report.answer[1].answer == STOP_DONE);
    cr_assert_not(mini_rig_permitted(&t.stand->rig), "arming alone permits nothing");
    trial_press(&t, STOP_EVENT_GO);
    trial_run(&t, 30);
    cr_assert_eq(trial_state(&t), STOP_RUNNING);
    cr_assert(mini_rig_permitted(&t.stand->rig));
    trial_end(&t);
}

Test(tick, a_pressed_stop_latches_at_the_next_tick_with_its_reason)
{
    struct trial t = trial_begin();
    trial_start(&t);
    uint64_t count = stop_line_press(&t.stand->shared.stops, REASON_STOP_SPOTTER, STOP_CATEGORY_2);
    cr_assert_gt(count, t.report.view.stop_count);
    trial_run(&t, 10);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_STOP_SPOTTER);
    cr_assert_geq(t.report.view.stop_count, count);
    trial_run(&t, 30);
    cr_assert_not(mini_rig_permitted(&t.stand->rig));
    trial_start(&t);
    trial_end(&t);
}

Test(tick, a_reset_and_a_go_pressed_before_a_stop_do_nothing_after_it)
{
    struct trial t = trial_begin();
    trial_start(&t);
    stop_line_press(&t.stand->shared.stops, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
    trial_run(&t, 10);
    trial_press(&t, STOP_EVENT_RESET);
    trial_press(&t, STOP_EVENT_GO);
    stop_line_press(&t.stand->shared.stops, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
    uint64_t before = t.report.answers;
    trial_run(&t, 50);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.answers, before + 2, "and whoever pressed them is told");
    trial_end(&t);
}

/* Stalled on the way: pressed before somebody's stop, here long after it. */
Test(tick, a_reset_and_a_go_from_before_a_stop_that_come_after_it_do_nothing)
{
    struct trial t = trial_begin();
    trial_start(&t);
    uint64_t seen_then = t.seen;
    stop_line_press(&t.stand->shared.stops, REASON_STOP_SPOTTER, STOP_CATEGORY_2);
    trial_run(&t, 100);
    uint64_t before = t.report.answers;
    t.seen = seen_then;
    trial_press(&t, STOP_EVENT_RESET);
    trial_press(&t, STOP_EVENT_GO);
    trial_run(&t, 30);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.answers, before + 2);
    cr_assert(t.report.answer[before % DESK_ORDERS_EVENTS].overtaken);
    trial_start(&t);
    trial_end(&t);
}

Test(tick, a_desk_thread_that_hangs_latches_whoever_is_present)
{
    struct trial t = trial_begin();
    trial_start(&t);
    t.hung = true;
    trial_run(&t, 280);
    cr_assert_eq(trial_state(&t), STOP_RUNNING);
    trial_run(&t, 40);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_DESK_LOST);
    trial_end(&t);
}

Test(tick, a_core_about_to_end_stops_the_rig_first)
{
    struct trial t = trial_begin();
    trial_start(&t);
    atomic_store(&t.stand->shared.stopping, true);
    trial_run(&t, 10);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    trial_press(&t, STOP_EVENT_RESET);
    trial_press(&t, STOP_EVENT_GO);
    trial_run(&t, 30);
    cr_assert_not(mini_rig_permitted(&t.stand->rig), "and nothing starts it again");
    trial_end(&t);
}

Test(tick, a_reset_does_not_outlive_the_rig_it_was_given_for)
{
    struct trial t = trial_begin();
    trial_start(&t);
    stop_line_press(&t.stand->shared.stops, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
    trial_run(&t, 20);
    trial_arm(&t);
    atomic_store(&t.stand->rig.session, 0); /* restarted */
    trial_run(&t, 900);
    cr_assert(t.report.scene.rig_fresh);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    trial_press(&t, STOP_EVENT_GO);
    trial_run(&t, 30);
    cr_assert_eq(trial_state(&t), STOP_LATCHED, "one act is not two");
    trial_end(&t);
}

Test(tick, an_arming_that_something_forbids_is_told_what_does)
{
    struct trial t = trial_begin();
    atomic_store(&t.stand->rig.mute, true);
    trial_run(&t, 100);
    trial_press(&t, STOP_EVENT_ARM);
    trial_run(&t, 10);
    cr_assert_eq(t.report.answers, 1u);
    cr_assert_eq(t.report.answer[0].answer, STOP_FORBIDDEN);
    cr_assert_eq(t.report.answer[0].reason, REASON_RIG_LOST, "and not that it has just started");
    trial_end(&t);
}

Test(tick, a_hold_goes_before_a_go_and_is_lost_among_no_events)
{
    struct trial t = trial_begin();
    trial_start(&t);
    uint64_t seen = t.seen;
    t.orders.holds++;
    t.orders.hold_why = REASON_HOLD_SPOTTER;
    for (int i = 0; i < 3 * DESK_ORDERS_EVENTS; i++)
        trial_press(&t, STOP_EVENT_GO);
    trial_run(&t, 100);
    cr_assert(trial_state(&t) == STOP_HOLDING && t.report.scene.stop_reason == REASON_HOLD_SPOTTER);
    cr_assert_gt(t.seen, seen, "and what was pressed before it was seen is void");
    cr_assert(!mini_rig_permitted(&t.stand->rig) && atomic_load(&t.stand->rig.powered));
    trial_press(&t, STOP_EVENT_GO);
    trial_run(&t, 30);
    cr_assert_eq(trial_state(&t), STOP_RUNNING);
    trial_press(&t, STOP_EVENT_PARK);
    trial_run(&t, 30);
    cr_assert_eq(trial_state(&t), STOP_RUNNING, "not in motion");
    t.orders.holds++;
    trial_rest(&t);
    t.seen = 0; /* parking leads away from motion: it does not matter what was seen */
    trial_press(&t, STOP_EVENT_PARK);
    trial_run(&t, 30);
    cr_assert(trial_state(&t) == STOP_PARKED && !atomic_load(&t.stand->rig.powered));
    trial_end(&t);
}

Test(tick, a_stop_is_of_the_category_that_was_pressed)
{
    for (int c = 0; c < 3; c++) {
        struct trial t = trial_begin();
        trial_start(&t);
        stop_line_press(&t.stand->shared.stops, REASON_STOP_SPOTTER, (enum stop_category)c);
        trial_run(&t, 40);
        cr_assert(trial_state(&t) == STOP_LATCHED && t.report.scene.stop_category == (enum stop_category)c);
        cr_assert_eq(atomic_load(&t.stand->rig.powered), c == 2);
        trial_end(&t);
    }
}

Test(tick, a_gap_between_ticks_latches)
{
    struct trial t = trial_begin();
    trial_start(&t);
    t.now_ns += 60000000;
    trial_late(&t, 60000000);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_TICK_LATE);
    trial_end(&t);
}

Test(tick, a_host_that_slept_latches)
{
    struct trial t = trial_begin();
    trial_start(&t);
    uint64_t now = t.now_ns += TICK_NS;
    tick_once(&t.tick, &(struct tick_time){.now_ns = now, .due_ns = now, .slept_ns = 3600000000000});
    mailbox_get(&t.stand->shared.report, &t.report);
    cr_assert_eq(t.report.scene.stop_reason, REASON_TICK_LATE);
    trial_end(&t);
}

Test(tick, a_lost_rig_latches_and_a_new_session_starts_stopped)
{
    struct trial t = trial_begin();
    trial_start(&t);
    atomic_store(&t.stand->rig.mute, true);
    trial_run(&t, 350);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_RIG_LOST);
    cr_assert_not(t.report.scene.rig_fresh);
    uint64_t session = atomic_load(&t.stand->shared.link.session);
    atomic_store(&t.stand->rig.session, 0); /* it was restarted: it knows no session */
    atomic_store(&t.stand->rig.mute, false);
    trial_run(&t, 500);
    cr_assert_neq(atomic_load(&t.stand->shared.link.session), session);
    cr_assert(t.report.scene.rig_fresh);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    trial_start(&t);
    trial_end(&t);
}

Test(tick, without_an_operator_nothing_runs)
{
    struct trial t = trial_begin();
    trial_start(&t);
    t.absent = true;
    trial_run(&t, 1500);
    cr_assert_eq(trial_state(&t), STOP_RUNNING, "presence has two seconds");
    trial_run(&t, 700);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_DESK_LOST);
    trial_end(&t);
}

Test(tick, the_holder_s_stick_and_then_the_audience_drive)
{
    struct trial t = trial_begin();
    struct crowds_sum sum = {.edges = 1};
    trial_start(&t);
    sum.tally.viewers = sum.tally.sticks = 3;
    sum.tally.stick[0][0] = sum.tally.stick[1][16] = sum.tally.stick[2][16] = 3; /* all to the left */
    t.orders.held = true;
    t.orders.stick = (struct vec3){1, 0, 0};
    for (int i = 0; i < 30; i++) {
        sum.made_ns = t.now_ns;
        mailbox_put(&t.stand->shared.crowd, &sum);
        trial_run(&t, 10);
    }
    cr_assert_eq(t.report.scene.lane, LANE_OPERATOR);
    cr_assert_gt(t.report.scene.velocity.x, 0.01);
    cr_assert_gt(atomic_load(&t.stand->rig.moving), 10u);
    t.orders.held = false;
    for (int i = 0; i < 200; i++) { /* it comes about gently */
        sum.made_ns = t.now_ns;
        mailbox_put(&t.stand->shared.crowd, &sum);
        trial_run(&t, 10);
    }
    cr_assert_eq(t.report.scene.lane, LANE_AUDIENCE);
    cr_assert_lt(t.report.scene.velocity.x, -0.01);
    cr_assert_eq(t.report.scene.blend[0], -1);
    cr_assert_eq(t.report.scene.crowd.viewers, 3u);
    trial_run(&t, 2500); /* the crowd has gone silent: its lease runs out, then the camera brakes gently */
    cr_assert_eq(t.report.scene.edges, 0u);
    cr_assert_eq(t.report.scene.velocity.x, 0);
    trial_end(&t);
}

Test(tick, counts_its_own_lateness)
{
    struct trial t = trial_begin();
    for (int i = 0; i < 50; i++)
        trial_late(&t, 123000);
    cr_assert_eq(t.report.view.ticks, 50u);
    cr_assert_eq(t.report.view.late_p50_us, 123u, "the upper edge of its bin, but never above the greatest");
    cr_assert_eq(t.report.view.late_p99_us, 123u);
    cr_assert_eq(t.report.view.late_p999_us, 123u);
    cr_assert_eq(t.report.view.late_max_us, 123u);
    cr_assert_eq(t.report.view.late_steps[3], 50u, "between 100 and 200 us");
    cr_assert_eq(t.report.view.skipped, 0u);
    uint64_t now = t.now_ns += TICK_NS;
    tick_once(&t.tick, &(struct tick_time){.now_ns = now, .due_ns = now, .missed = 4});
    mailbox_get(&t.stand->shared.report, &t.report);
    cr_assert_eq(t.report.view.skipped, 4u);
    cr_assert_gt(t.report.view.clamped[REASON_STARTED_UP], 40u);
    trial_end(&t);
}
