/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the desks order besides motion: limits, set-up, a spotter's hold. */
#include <criterion/criterion.h>
#include <math.h>

#include "trial.h"

static void ask(struct trial *t, enum lane lane, double speed_mps, double floor_m, bool by_operator)
{
    const struct desk_asked_limit asked = {{lane, speed_mps, floor_m, (double)NAN}, by_operator};
    desk_orders_ask(&t->orders, &asked);
}

static enum limits_answer answer(const struct trial *t)
{
    return t->report.limit_answer[(t->report.limits - 1) % DESK_ORDERS_EVENTS];
}

static void stop(struct trial *t)
{
    stop_line_press(&t->stand->shared.stops, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
    trial_run(t, 20);
    cr_assert_eq(trial_state(t), STOP_LATCHED);
}

Test(tick_desk, limits_are_tightened_by_anyone_and_loosened_by_an_operator_while_stopped)
{
    struct trial t = trial_begin();
    const double as_is = (double)NAN;
    trial_run(&t, 20);
    double commissioned = t.report.view.lane_mps[LANE_AUDIENCE], other = t.report.view.lane_mps[LANE_OPERATOR];
    cr_assert(commissioned > 0.1 && other > commissioned);
    trial_start(&t);
    ask(&t, LANE_AUDIENCE, 0.1, as_is, false);
    trial_run(&t, 10);
    cr_assert(t.report.limits == 1 && answer(&t) == LIMITS_TAKEN);
    cr_assert_eq(t.report.view.lane_mps[LANE_AUDIENCE], 0.1);
    cr_assert_eq(t.report.view.lane_mps[LANE_OPERATOR], other);
    ask(&t, LANE_AUDIENCE, 0.15, as_is, false);
    trial_run(&t, 10);
    cr_assert(t.report.limits == 2 && answer(&t) == LIMITS_NOT_OPERATOR);
    ask(&t, LANE_AUDIENCE, 0.15, as_is, true);
    trial_run(&t, 10);
    cr_assert(t.report.limits == 3 && answer(&t) == LIMITS_IS_ARMED);
    cr_assert_eq(t.report.view.lane_mps[LANE_AUDIENCE], 0.1);
    stop(&t);
    ask(&t, LANE_AUDIENCE, 9, as_is, true);
    trial_run(&t, 10);
    cr_assert(t.report.limits == 4 && answer(&t) == LIMITS_TAKEN);
    cr_assert_eq(t.report.view.lane_mps[LANE_AUDIENCE], commissioned, "never more than was commissioned");
    trial_end(&t);
}

Test(tick_desk, what_is_not_named_stays_and_several_at_once_are_answered_in_order)
{
    struct trial t = trial_begin();
    const double as_is = (double)NAN;
    trial_run(&t, 20);
    ask(&t, LANE_OPERATOR, as_is, 1.3, false);
    ask(&t, LANE_OPERATOR, 0.2, as_is, false); /* a moderator: were the floor loosened, it would be refused */
    const struct desk_asked_limit nowhere = {{LANE_OPERATOR, as_is, 2, 1}, true};
    desk_orders_ask(&t.orders, &nowhere);
    trial_run(&t, 10);
    cr_assert_eq(t.report.limits, 1u, "one a tick");
    trial_run(&t, 20);
    cr_assert_eq(t.report.limits, 3u);
    cr_assert_eq(t.report.limit_answer[0], LIMITS_TAKEN);
    cr_assert_eq(t.report.limit_answer[1], LIMITS_TAKEN);
    cr_assert_eq(t.report.limit_answer[2], LIMITS_BAD);
    cr_assert_eq(t.tick.policy.layer.lane[LANE_OPERATOR].floor_m, 1.3);
    cr_assert_eq(t.tick.policy.layer.lane[LANE_OPERATOR].speed_mps, 0.2);
    trial_end(&t);
}

Test(tick_desk, set_up_begins_and_ends_only_while_stopped)
{
    struct trial t = trial_begin();
    t.orders.setup = true;
    trial_run(&t, 20);
    cr_assert(t.report.view.setup && t.report.scene.limits_mode == LIMITS_SETUP);
    trial_start(&t);
    t.orders.setup = false;
    trial_run(&t, 30);
    cr_assert(t.report.view.setup && t.report.scene.limits_mode == LIMITS_SETUP, "it was started like that");
    stop(&t);
    cr_assert(!t.report.view.setup && t.report.scene.limits_mode == LIMITS_SHOW);
    trial_arm(&t);
    t.orders.setup = true;
    trial_run(&t, 20);
    cr_assert_not(t.report.view.setup, "nor once it is armed");
    trial_end(&t);
}

Test(tick_desk, a_spotters_hold_is_low_flight_for_as_long_as_it_is_heard)
{
    struct trial t = trial_begin();
    t.stand->show.policy.spotter_timeout_ns = 1000000000;
    trial_run(&t, 20);
    cr_assert_eq(t.report.scene.limits_mode, LIMITS_SHOW);
    t.orders.spotter_ns = t.now_ns;
    trial_run(&t, 10);
    cr_assert_eq(t.report.scene.limits_mode, LIMITS_LOW);
    trial_run(&t, 960);
    cr_assert_eq(t.report.scene.limits_mode, LIMITS_LOW);
    trial_run(&t, 60);
    cr_assert_eq(t.report.scene.limits_mode, LIMITS_SHOW);
    t.orders.spotter_ns = t.now_ns;
    trial_run(&t, 10);
    cr_assert_eq(t.report.scene.limits_mode, LIMITS_LOW);
    t.orders.spotter_ns = 0;
    trial_run(&t, 10);
    cr_assert_eq(t.report.scene.limits_mode, LIMITS_SHOW, "let go");
    trial_end(&t);
}

/* Half a second behind, and not to go further than 3 cm unseen. */
Test(tick_desk, an_audience_that_sees_late_drives_slowly)
{
    struct trial t = trial_begin();
    struct crowds_sum sum = {.edges = 1};
    t.stand->show.policy.limits.unseen_m = 0.03;
    t.stand->show.audience_lag_s = 0.5;
    trial_start(&t);
    sum.tally.viewers = sum.tally.sticks = 1;
    sum.tally.stick[0][0] = sum.tally.stick[1][16] = sum.tally.stick[2][16] = 1;
    double fastest = 0;
    for (int i = 0; i < 200; i++) { /* jerk, and the shaper against swing */
        sum.made_ns = t.now_ns;
        mailbox_put(&t.stand->shared.crowd, &sum);
        trial_run(&t, 10);
        fastest = fmax(fastest, vec_norm(t.report.scene.velocity));
    }
    cr_assert(fastest > 0.05 && fastest < 0.0601, "%g", fastest);
    trial_end(&t);
}
