/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the tick watches besides what the policy does: a rig whose clock stands still, one that stops by itself, one
 * that obeys another core, and the host's own gaps. Each is caused; each latches, with its own reason. */
#include <criterion/criterion.h>

#include "trial.h"

static void latched_by(struct trial *t, enum reason why)
{
    cr_assert_eq(trial_state(t), STOP_LATCHED);
    cr_assert_eq(t->report.scene.stop_reason, why, "%s", reason_code(t->report.scene.stop_reason));
    stand_sleep_ms(20);
    cr_assert_not(mini_rig_permitted(&t->stand->rig));
}

/* The reason that a reset is refused for now. */
static enum reason reset_refused(struct trial *t)
{
    uint64_t n = t->report.answers;
    trial_press(t, STOP_EVENT_RESET);
    trial_run(t, 20);
    cr_assert_eq(t->report.answers, n + 1);
    cr_assert_eq(t->report.answer[n % DESK_ORDERS_EVENTS].answer, STOP_FORBIDDEN);
    return t->report.answer[n % DESK_ORDERS_EVENTS].reason;
}

/* It goes on arriving, numbered on, of a place that is no longer so. */
Test(tick_watch, telemetry_that_is_ever_of_the_same_moment_is_lost)
{
    struct trial t = trial_begin();
    trial_start(&t);
    uint64_t heard = t.report.view.telemetry;
    atomic_store(&t.stand->rig.frozen, true);
    trial_run(&t, 600);
    cr_assert_gt(t.report.view.telemetry, heard + 20);
    latched_by(&t, REASON_RIG_LOST);
    cr_assert_not(t.report.scene.rig_fresh);
    trial_end(&t);
}

Test(tick_watch, a_rig_on_which_an_intent_has_lapsed_has_stopped_by_itself)
{
    struct trial t = trial_begin();
    trial_start(&t);
    atomic_store(&t.stand->rig.flags, WIRE_RIG_LAPSED | WIRE_RIG_BRAKING);
    trial_run(&t, 100);
    latched_by(&t, REASON_RIG_STOPPED);
    cr_assert_eq(reset_refused(&t), REASON_RIG_STOPPED, "as long as it says so");
    atomic_store(&t.stand->rig.flags, 0);
    trial_run(&t, 100);
    trial_start(&t);
    trial_end(&t);
}

Test(tick_watch, a_rig_that_brakes_though_told_to_move_is_believed)
{
    struct trial t = trial_begin();
    trial_start(&t);
    atomic_store(&t.stand->rig.flags, WIRE_RIG_BRAKING);
    trial_run(&t, 60);
    cr_assert_eq(trial_state(&t), STOP_RUNNING, "it may be on its way");
    trial_run(&t, 200);
    latched_by(&t, REASON_RIG_STOPPED);
    trial_end(&t);
}

/* Stopped, it brakes as it should, and says so; nor is it wrong before it has heard the first intent that lets it
 * move. */
Test(tick_watch, a_rig_that_brakes_when_it_should_is_not_against_us)
{
    struct trial t = trial_begin();
    atomic_store(&t.stand->rig.flags, WIRE_RIG_BRAKING);
    trial_run(&t, 300);
    trial_arm(&t);
    trial_run(&t, 200);
    cr_assert_eq(trial_state(&t), STOP_ARMED);
    trial_press(&t, STOP_EVENT_GO);
    trial_run(&t, 20);
    cr_assert_eq(trial_state(&t), STOP_RUNNING);
    atomic_store(&t.stand->rig.flags, 0);
    trial_run(&t, 300);
    cr_assert_eq(trial_state(&t), STOP_RUNNING);
    trial_end(&t);
}

/* Its session was taken: nothing is heard any more, and its hellos are told why. */
Test(tick_watch, a_rig_that_obeys_another_core_latches_and_is_named)
{
    struct trial t = trial_begin();
    trial_start(&t);
    atomic_store(&t.stand->rig.taken, true);
    atomic_store(&t.stand->rig.session, 7);
    atomic_store(&t.stand->rig.intent_permit, 0); /* as every session begins */
    trial_run(&t, 1200);
    latched_by(&t, REASON_RIG_LOST);
    cr_assert(t.report.scene.reasons & reason_bit(REASON_RIG_TAKEN));
    cr_assert_eq(reset_refused(&t), REASON_RIG_TAKEN);
    atomic_store(&t.stand->rig.taken, false); /* the other one has ended */
    trial_run(&t, 1200);
    cr_assert(t.report.scene.rig_fresh);
    cr_assert_eq(trial_state(&t), STOP_LATCHED);
    trial_start(&t);
    trial_end(&t);
}

Test(tick_watch, the_gap_that_latched_stays_told)
{
    struct trial t = trial_begin();
    const struct reason_detail *told = &t.report.scene.detail[REASON_TICK_LATE];
    trial_start(&t);
    cr_assert_eq(told->value, 0);
    t.now_ns += 140000000;
    trial_late(&t, 140000000);
    latched_by(&t, REASON_TICK_LATE);
    cr_assert_float_eq(told->value, 0.15, 1e-9);
    cr_assert_float_eq(told->limit, 0.05, 1e-9);
    t.now_ns += 60000000;
    trial_late(&t, 60000000);
    trial_run(&t, 200);
    cr_assert_float_eq(told->value, 0.15, 1e-9, "the worst of them");
    cr_assert_geq(t.report.view.late_max_us, 140000u);
    trial_start(&t);
    cr_assert_eq(told->value, 0);
    trial_end(&t);
}

Test(tick_watch, a_night_s_sleep_is_told_as_the_gap_it_was)
{
    struct trial t = trial_begin();
    trial_start(&t);
    uint64_t now = t.now_ns += TICK_NS;
    tick_once(&t.tick, &(struct tick_time){.now_ns = now, .due_ns = now, .slept_ns = 28800000000000});
    mailbox_get(&t.stand->shared.report, &t.report);
    latched_by(&t, REASON_TICK_LATE);
    cr_assert_float_eq(t.report.scene.detail[REASON_TICK_LATE].value, 28800.01, 1e-6);
    trial_end(&t);
}
