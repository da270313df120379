/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The tick with the real policy and the real link, against a least rig: what leads to motion, and what ends it. */
#include <criterion/criterion.h>

#include "gateway/core/tick.h"
#include "stand.h"

struct trial {
    struct stand *stand;
    struct tick tick;
    struct desk_orders orders;
    struct shared_report report;
    uint64_t now_ns; /* a clock of its own: a busy machine makes no tick late */
    uint64_t seen;   /* the stop count last shown */
    bool absent;     /* nobody at the desk */
    bool hung;       /* the desk thread says nothing */
};

static struct trial begin(void)
{
    struct trial t = {.stand = stand_new(), .now_ns = stand_now_ns()};
    t.orders.mode = CROWD_BLEND;
    t.orders.audience_scale = 1;
    tick_init(&t.tick, &t.stand->shared, 1);
    return t;
}

static void end(struct trial *t)
{
    stand_free(t->stand);
}

/* One tick, `late_ns` later than due. It takes ten real milliseconds too: the rig is another thread. */
static void tick_late_by(struct trial *t, uint64_t late_ns)
{
    stand_sleep_ms(10);
    uint64_t now = t->now_ns += TICK_NS;
    if (!t->hung)
        t->orders.alive_ns = now;
    if (!t->absent)
        t->orders.presence_ns = now;
    if (t->orders.held)
        t->orders.held_ns = t->orders.stick_ns = now;
    mailbox_put(&t->stand->shared.orders, &t->orders);
    tick_once(&t->tick, &(struct tick_time){.now_ns = now, .due_ns = now - late_ns});
    mailbox_get(&t->stand->shared.report, &t->report);
    t->seen = t->report.view.stop_count;
}

static void tick_for(struct trial *t, int ms)
{
    for (int i = 0; i < ms; i += 10)
        tick_late_by(t, 0);
}

static void press(struct trial *t, enum stop_event what)
{
    const struct desk_event event = {what, t->seen, stop_line_asked(&t->stand->shared.stops)};
    desk_orders_press(&t->orders, &event);
}

static enum stop_state state(const struct trial *t)
{
    return t->report.scene.stop_state;
}

static void start(struct trial *t)
{
    for (int i = 0; i < 100 && !t->report.scene.rig_fresh; i++)
        tick_for(t, 10);
    cr_assert(t->report.scene.rig_fresh, "telemetry");
    press(t, STOP_EVENT_RESET);
    press(t, STOP_EVENT_GO);
    tick_for(t, 30);
    cr_assert_eq(state(t), STOP_RUNNING);
    stand_sleep_ms(20);
    cr_assert(mini_rig_permitted(&t->stand->rig), "and the rig was given that permit");
}

Test(tick, starts_latched_and_needs_a_reset_then_a_go)
{
    struct trial t = begin();
    tick_for(&t, 300);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_STARTED_UP);
    press(&t, STOP_EVENT_GO);
    tick_for(&t, 20);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.answers, 1u);
    cr_assert_not(t.report.answer[0].honoured);
    cr_assert_eq(t.report.answer[0].what, STOP_EVENT_GO);
    press(&t, STOP_EVENT_RESET);
    tick_for(&t, 20);
    cr_assert_eq(state(&t), STOP_READY);
    cr_assert(t.report.answer[1].honoured);
    cr_assert_not(mini_rig_permitted(&t.stand->rig), "a reset alone permits nothing");
    press(&t, STOP_EVENT_GO);
    tick_for(&t, 30);
    cr_assert_eq(state(&t), STOP_RUNNING);
    cr_assert(mini_rig_permitted(&t.stand->rig));
    end(&t);
}

Test(tick, a_pressed_stop_latches_at_the_next_tick_with_its_reason)
{
    struct trial t = begin();
    start(&t);
    uint64_t count = stop_line_press(&t.stand->shared.stops, REASON_STOP_SPOTTER);
    cr_assert_gt(count, t.report.view.stop_count);
    tick_for(&t, 10);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_STOP_SPOTTER);
    cr_assert_geq(t.report.view.stop_count, count);
    tick_for(&t, 30);
    cr_assert_not(mini_rig_permitted(&t.stand->rig));
    start(&t);
    end(&t);
}

Test(tick, a_reset_and_a_go_pressed_before_a_stop_do_nothing_after_it)
{
    struct trial t = begin();
    start(&t);
    stop_line_press(&t.stand->shared.stops, REASON_STOP_OPERATOR);
    tick_for(&t, 10);
    press(&t, STOP_EVENT_RESET);
    press(&t, STOP_EVENT_GO);
    stop_line_press(&t.stand->shared.stops, REASON_STOP_OPERATOR);
    uint64_t before = t.report.answers;
    tick_for(&t, 50);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.answers, before + 2, "and whoever pressed them is told");
    end(&t);
}

/* Stalled on the way: pressed before somebody's stop, here long after it. */
Test(tick, a_reset_and_a_go_from_before_a_stop_that_come_after_it_do_nothing)
{
    struct trial t = begin();
    start(&t);
    uint64_t seen_then = t.seen;
    stop_line_press(&t.stand->shared.stops, REASON_STOP_SPOTTER);
    tick_for(&t, 100);
    uint64_t before = t.report.answers;
    t.seen = seen_then;
    press(&t, STOP_EVENT_RESET);
    press(&t, STOP_EVENT_GO);
    tick_for(&t, 30);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.answers, before + 2);
    cr_assert(t.report.answer[before % DESK_ORDERS_EVENTS].overtaken);
    start(&t);
    end(&t);
}

Test(tick, a_desk_thread_that_hangs_latches_whoever_is_present)
{
    struct trial t = begin();
    start(&t);
    t.hung = true;
    tick_for(&t, 280);
    cr_assert_eq(state(&t), STOP_RUNNING);
    tick_for(&t, 40);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_DESK_LOST);
    end(&t);
}

Test(tick, a_core_about_to_end_stops_the_rig_first)
{
    struct trial t = begin();
    start(&t);
    atomic_store(&t.stand->shared.stopping, true);
    tick_for(&t, 10);
    cr_assert_eq(state(&t), STOP_LATCHED);
    press(&t, STOP_EVENT_RESET);
    press(&t, STOP_EVENT_GO);
    tick_for(&t, 30);
    cr_assert_not(mini_rig_permitted(&t.stand->rig), "and nothing starts it again");
    end(&t);
}

Test(tick, a_reset_does_not_outlive_the_rig_it_was_given_for)
{
    struct trial t = begin();
    start(&t);
    stop_line_press(&t.stand->shared.stops, REASON_STOP_OPERATOR);
    tick_for(&t, 20);
    press(&t, STOP_EVENT_RESET);
    tick_for(&t, 20);
    cr_assert_eq(state(&t), STOP_READY);
    atomic_store(&t.stand->rig.session, 0); /* restarted */
    tick_for(&t, 900);
    cr_assert(t.report.scene.rig_fresh);
    cr_assert_eq(state(&t), STOP_LATCHED);
    press(&t, STOP_EVENT_GO);
    tick_for(&t, 30);
    cr_assert_eq(state(&t), STOP_LATCHED, "one act is not two");
    end(&t);
}

Test(tick, a_reset_that_something_forbids_is_told_what_does)
{
    struct trial t = begin();
    atomic_store(&t.stand->rig.mute, true);
    tick_for(&t, 100);
    press(&t, STOP_EVENT_RESET);
    tick_for(&t, 10);
    cr_assert_eq(t.report.answers, 1u);
    cr_assert_not(t.report.answer[0].honoured);
    cr_assert_eq(t.report.answer[0].reason, REASON_RIG_LOST, "and not that it has just started");
    end(&t);
}

Test(tick, a_gap_between_ticks_latches)
{
    struct trial t = begin();
    start(&t);
    t.now_ns += 60000000;
    tick_late_by(&t, 60000000);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_TICK_LATE);
    end(&t);
}

Test(tick, a_host_that_slept_latches)
{
    struct trial t = begin();
    start(&t);
    uint64_t now = t.now_ns += TICK_NS;
    tick_once(&t.tick, &(struct tick_time){.now_ns = now, .due_ns = now, .slept_ns = 3600000000000});
    mailbox_get(&t.stand->shared.report, &t.report);
    cr_assert_eq(t.report.scene.stop_reason, REASON_TICK_LATE);
    end(&t);
}

Test(tick, a_lost_rig_latches_and_a_new_session_starts_stopped)
{
    struct trial t = begin();
    start(&t);
    atomic_store(&t.stand->rig.mute, true);
    tick_for(&t, 350);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_RIG_LOST);
    cr_assert_not(t.report.scene.rig_fresh);
    uint64_t session = atomic_load(&t.stand->shared.link.session);
    atomic_store(&t.stand->rig.session, 0); /* it was restarted: it knows no session */
    atomic_store(&t.stand->rig.mute, false);
    tick_for(&t, 500);
    cr_assert_neq(atomic_load(&t.stand->shared.link.session), session);
    cr_assert(t.report.scene.rig_fresh);
    cr_assert_eq(state(&t), STOP_LATCHED);
    start(&t);
    end(&t);
}

Test(tick, without_an_operator_nothing_runs)
{
    struct trial t = begin();
    start(&t);
    t.absent = true;
    tick_for(&t, 1500);
    cr_assert_eq(state(&t), STOP_RUNNING, "presence has two seconds");
    tick_for(&t, 700);
    cr_assert_eq(state(&t), STOP_LATCHED);
    cr_assert_eq(t.report.scene.stop_reason, REASON_DESK_LOST);
    end(&t);
}

Test(tick, the_holder_s_stick_and_then_the_audience_drive)
{
    struct trial t = begin();
    struct crowds_sum sum = {.edges = 1};
    start(&t);
    sum.tally.viewers = sum.tally.sticks = 3;
    sum.tally.stick[0][0] = sum.tally.stick[1][16] = sum.tally.stick[2][16] = 3; /* all to the left */
    t.orders.held = true;
    t.orders.stick = (struct vec3){1, 0, 0};
    for (int i = 0; i < 30; i++) {
        sum.made_ns = t.now_ns;
        mailbox_put(&t.stand->shared.crowd, &sum);
        tick_for(&t, 10);
    }
    cr_assert_eq(t.report.scene.lane, LANE_OPERATOR);
    cr_assert_gt(t.report.scene.velocity.x, 0.01);
    cr_assert_gt(atomic_load(&t.stand->rig.moving), 10u);
    t.orders.held = false;
    for (int i = 0; i < 60; i++) {
        sum.made_ns = t.now_ns;
        mailbox_put(&t.stand->shared.crowd, &sum);
        tick_for(&t, 10);
    }
    cr_assert_eq(t.report.scene.lane, LANE_AUDIENCE);
    cr_assert_lt(t.report.scene.velocity.x, -0.01);
    cr_assert_eq(t.report.scene.blend[0], -1);
    cr_assert_eq(t.report.scene.crowd.viewers, 3u);
    tick_for(&t, 1800); /* the crowd has gone silent: its lease runs out, then the camera brakes gently */
    cr_assert_eq(t.report.scene.edges, 0u);
    cr_assert_eq(t.report.scene.velocity.x, 0);
    end(&t);
}

Test(tick, counts_its_own_lateness)
{
    struct trial t = begin();
    for (int i = 0; i < 50; i++)
        tick_late_by(&t, 123000);
    cr_assert_eq(t.report.view.ticks, 50u);
    cr_assert_eq(t.report.view.late_p99_us, 123u);
    cr_assert_eq(t.report.view.skipped, 0u);
    uint64_t now = t.now_ns += TICK_NS;
    tick_once(&t.tick, &(struct tick_time){.now_ns = now, .due_ns = now, .missed = 4});
    mailbox_get(&t.stand->shared.report, &t.report);
    cr_assert_eq(t.report.view.skipped, 4u);
    cr_assert_gt(t.report.view.clamped[REASON_STARTED_UP], 40u);
    end(&t);
}
