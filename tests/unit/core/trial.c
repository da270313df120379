/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "trial.h"

#include <criterion/criterion.h>

struct trial trial_begin(void)
{
    struct trial t = {.stand = stand_new(), .now_ns = stand_now_ns()};
    t.orders.mode = CROWD_BLEND;
    t.orders.audience_scale = 1;
    tick_init(&t.tick, &t.stand->shared, 1);
    return t;
}

void trial_end(struct trial *t)
{
    stand_free(t->stand);
}

void trial_late(struct trial *t, uint64_t late_ns)
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

void trial_run(struct trial *t, int ms)
{
    for (int i = 0; i < ms; i += 10)
        trial_late(t, 0);
}

void trial_press(struct trial *t, enum stop_event what)
{
    const struct desk_event event = {what, t->seen, stop_line_asked(&t->stand->shared.stops)};
    desk_orders_press(&t->orders, &event);
}

enum stop_state trial_state(const struct trial *t)
{
    return t->report.scene.stop_state;
}

void trial_rest(struct trial *t)
{
    for (int i = 0; i < 300 && !t->report.scene.rig_at_rest; i++)
        trial_run(t, 10);
    cr_assert(t->report.scene.rig_at_rest);
}

void trial_arm(struct trial *t)
{
    trial_rest(t);
    if (trial_state(t) == STOP_LATCHED) {
        trial_press(t, STOP_EVENT_RESET);
        trial_run(t, 30);
    }
    if (trial_state(t) == STOP_PARKED)
        trial_press(t, STOP_EVENT_ARM);
    for (int i = 0; i < 30 && !(trial_state(t) == STOP_ARMED && t->report.scene.rig_powered); i++)
        trial_run(t, 10);
    cr_assert(trial_state(t) == STOP_ARMED && t->report.scene.rig_powered);
}

void trial_start(struct trial *t)
{
    for (int i = 0; i < 100 && !t->report.scene.rig_fresh; i++)
        trial_run(t, 10);
    cr_assert(t->report.scene.rig_fresh, "telemetry");
    trial_arm(t);
    trial_press(t, STOP_EVENT_GO);
    trial_run(t, 30);
    cr_assert_eq(trial_state(t), STOP_RUNNING);
    for (int i = 0; i < 1000 && !mini_rig_permitted(&t->stand->rig); i++)
        trial_run(t, 10);
    cr_assert(mini_rig_permitted(&t->stand->rig), "and the rig was given that permit");
}
