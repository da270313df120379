/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>

#include "policy/crowd/crowd.h"
#include "tests/unit/crowd/viewers.h"

static const struct crowd_config cfg = {
    .poll = {.round_ns = 6000, .grace_ns = 200, .sigma = 0.1, .quorum = 1}, .step_m = 0.4, .blend_quorum = 2};

struct stage {
    struct crowd crowd;
    struct crowd_input in;
    struct crowd_output out;
};

static void begin(struct stage *s, enum crowd_mode mode)
{
    *s = (struct stage){.in = {.mode = mode, .fresh = true, .running = true}};
    crowd_init(&s->crowd);
}

static void step(struct stage *s, uint64_t ms)
{
    s->in.now_ns += ms;
    crowd_step(&cfg, &s->crowd, &s->in, &s->out);
}

/* Runs the open round to its end with these votes. */
static void whole_round(struct stage *s, enum choice c, uint32_t votes)
{
    if (s->crowd.poll.phase == POLL_OFF)
        step(s, 1);
    s->in.round = s->crowd.poll.round;
    s->in.tally = (struct tally){.viewers = votes, .votes = {0}};
    s->in.tally.votes[c] = votes;
    step(s, 6000);
    step(s, 200);
    cr_assert(s->out.round_decided);
    s->in.round = s->crowd.poll.round;
    s->in.tally = (struct tally){0};
}

Test(crowd, each_choice_is_a_step_its_own_way)
{
    const double way[CHOICE_COUNT][3] = {{0, 0, 0}, {-1, 0, 0}, {1, 0, 0}, {0, -1, 0},
                                         {0, 1, 0}, {0, 0, -1}, {0, 0, 1}};
    struct stage s;
    begin(&s, CROWD_POLL);
    for (int c = CHOICE_STAY + 1; c < CHOICE_COUNT; c++) {
        whole_round(&s, (enum choice)c, 5);
        cr_assert_eq(s.out.kind, CROWD_WISH_NUDGE);
        cr_assert_eq(s.out.nudge_id, (uint32_t)c, "one new id a step");
        for (int a = 0; a < 3; a++)
            cr_assert_eq(s.out.v[a], way[c][a] * 0.4);
        step(&s, 10);
        cr_assert(s.out.kind == CROWD_WISH_NUDGE && s.out.nudge_id == (uint32_t)c, "it stands, under the same id");
        cr_assert_not(s.out.round_decided);
    }
}

Test(crowd, a_round_that_stays_ends_the_step_before)
{
    struct stage s;
    begin(&s, CROWD_POLL);
    whole_round(&s, CHOICE_TRUCK_LEFT, 5);
    whole_round(&s, CHOICE_STAY, 5);
    cr_assert_eq(s.out.kind, CROWD_WISH_NONE);
    whole_round(&s, CHOICE_TRUCK_LEFT, 5);
    cr_assert(s.out.kind == CROWD_WISH_NUDGE && s.out.nudge_id == 2, "the same step again is a new one");
    whole_round(&s, CHOICE_TRUCK_LEFT, 0);
    cr_assert_eq(s.out.kind, CROWD_WISH_NONE, "no votes: stay");
}

Test(crowd, step_ids_start_again_from_1)
{
    struct stage s;
    begin(&s, CROWD_POLL);
    s.crowd.nudge_id = UINT32_MAX;
    whole_round(&s, CHOICE_DOLLY_IN, 5);
    cr_assert_eq(s.out.nudge_id, 1, "0 is no step");
}

/* Each of these, and nothing of the old step is left when it passes. */
Test(crowd, a_stop_silence_or_another_mode_drops_the_step)
{
    for (int cause = 0; cause < 4; cause++) {
        struct stage s;
        begin(&s, CROWD_POLL);
        whole_round(&s, CHOICE_TRUCK_RIGHT, 5);
        s.in.running = cause != 0;
        s.in.fresh = cause != 1;
        s.in.mode = cause == 2 ? CROWD_CLOSED : cause == 3 ? CROWD_BLEND : CROWD_POLL;
        step(&s, 10);
        cr_assert_eq(s.out.kind, CROWD_WISH_NONE, "cause %d", cause);
        cr_assert_eq(s.crowd.poll.phase, cause == 1 ? POLL_OPEN : POLL_OFF);
        s.in.running = s.in.fresh = true;
        s.in.mode = CROWD_POLL;
        step(&s, 10);
        cr_assert_eq(s.out.kind, CROWD_WISH_NONE, "cause %d", cause);
    }
}

Test(crowd, votes_for_another_round_do_not_count)
{
    struct stage s;
    begin(&s, CROWD_POLL);
    step(&s, 1);
    uint32_t open = s.crowd.poll.round;
    const uint32_t wrong[] = {0, open - 1, open + 1, UINT32_MAX};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        begin(&s, CROWD_POLL);
        step(&s, 1);
        s.in.tally = (struct tally){.viewers = 9, .votes = {[CHOICE_TRUCK_LEFT] = 9}};
        s.in.round = wrong[i];
        step(&s, 6000);
        step(&s, 200);
        cr_assert(s.out.round_decided && s.crowd.poll.outcome == CHOICE_STAY && s.crowd.poll.outcome_voices == 0);
    }
    /* the sum made just before the round closed is still there when the next has opened */
    begin(&s, CROWD_POLL);
    whole_round(&s, CHOICE_TRUCK_LEFT, 9);
    s.in.tally.votes[CHOICE_TRUCK_LEFT] = 9;
    s.in.round = s.crowd.poll.round - 1;
    step(&s, 6000);
    step(&s, 200);
    cr_assert_eq(s.crowd.poll.outcome_voices, 0, "its voices count once");
}

Test(crowd, stale_votes_do_not_decide)
{
    struct stage s;
    begin(&s, CROWD_POLL);
    step(&s, 1);
    s.in.round = s.crowd.poll.round;
    s.in.tally = (struct tally){.viewers = 9, .votes = {[CHOICE_TRUCK_LEFT] = 9}};
    step(&s, 6000);
    s.in.fresh = false;
    step(&s, 200);
    cr_assert(s.out.round_decided && s.out.kind == CROWD_WISH_NONE && s.crowd.poll.outcome == CHOICE_STAY);
}

Test(crowd, blend_follows_the_median_while_fresh_running_and_enough)
{
    struct stage s;
    begin(&s, CROWD_BLEND);
    viewer_speaks(&(struct viewer){-1, true, {0.5, -1, 0}}, &s.in.tally);
    step(&s, 10);
    cr_assert_eq(s.out.kind, CROWD_WISH_NONE, "one stick of a quorum of two");
    viewer_speaks(&(struct viewer){-1, true, {0.5, -1, 0}}, &s.in.tally);
    step(&s, 10);
    cr_assert(s.out.kind == CROWD_WISH_STICK && s.out.v[0] == 0.5 && s.out.v[1] == -1 && s.out.v[2] == 0);
    s.in.fresh = false;
    step(&s, 10);
    cr_assert(s.out.kind == CROWD_WISH_NONE && s.out.v[0] == 0);
    s.in.fresh = true;
    s.in.running = false;
    step(&s, 10);
    cr_assert(s.out.kind == CROWD_WISH_NONE && s.out.v[0] == 0);
}

Test(crowd, closed_hears_nobody)
{
    struct stage s;
    begin(&s, CROWD_CLOSED);
    for (int i = 0; i < 5; i++)
        viewer_speaks(&(struct viewer){CHOICE_TRUCK_LEFT, true, {1, 1, 1}}, &s.in.tally);
    for (int i = 0; i < 5000; i++) {
        s.in.mode = i % 2 ? CROWD_CLOSED : (enum crowd_mode)(CROWD_MODE_COUNT + i); /* an unknown mode is closed */
        step(&s, 10);
        cr_assert(s.out.kind == CROWD_WISH_NONE && !s.out.round_decided && s.crowd.poll.phase == POLL_OFF);
    }
}

/* Any inputs in any order: the output is always in range, and a step only follows a round that won. */
Test(crowd, random_inputs_never_make_a_wish_out_of_range)
{
    struct random r = {1};
    struct stage s;
    begin(&s, CROWD_POLL);
    uint32_t last_id = 0;
    int sticks = 0;
    for (int i = 0; i < 300000; i++) {
        if (random_below(&r, 50) == 0)
            s.in.mode = (enum crowd_mode)(random_below(&r, 9) ? CROWD_POLL + random_below(&r, 2) : random_below(&r, 9));
        s.in.fresh = random_below(&r, 200) != 0;
        s.in.running = random_below(&r, 300) != 0;
        s.in.round = s.crowd.poll.round + (random_below(&r, 20) ? 0 : random_below(&r, 3) - 1);
        s.in.tally = (struct tally){0};
        for (int v = 0; v < 4; v++) {
            struct viewer one = viewer_random(&r);
            viewer_speaks(&one, &s.in.tally);
        }
        step(&s, random_below(&r, 1000));
        double longest = s.out.kind == CROWD_WISH_NUDGE ? 0.4 : s.out.kind == CROWD_WISH_STICK ? 1 : 0;
        for (int a = 0; a < 3; a++)
            cr_assert(fabs(s.out.v[a]) <= longest, "step %d", i);
        if (s.out.kind == CROWD_WISH_NUDGE && s.out.nudge_id != last_id) {
            cr_assert(s.out.round_decided && s.crowd.poll.outcome != CHOICE_STAY && s.out.nudge_id == last_id + 1);
            last_id = s.out.nudge_id;
        }
        if (s.out.kind != CROWD_WISH_NONE)
            cr_assert(s.in.running && s.in.fresh);
        last_id = s.crowd.nudge_id;
        sticks += s.out.kind == CROWD_WISH_STICK;
    }
    cr_assert(last_id > 100 && sticks > 1000, "%u steps, %d sticks", last_id, sticks);
}

Test(crowd, config_is_checked)
{
    const double bad_steps[] = {0, -1, NAN, INFINITY};
    cr_assert(crowd_config_valid(&cfg));
    for (size_t i = 0; i < sizeof bad_steps / sizeof *bad_steps; i++) {
        struct crowd_config c = cfg;
        c.step_m = bad_steps[i];
        cr_assert_not(crowd_config_valid(&c));
    }
    struct crowd_config c = cfg;
    c.blend_quorum = 0;
    cr_assert_not(crowd_config_valid(&c));
    c = cfg;
    c.poll.sigma = 0.51;
    cr_assert_not(crowd_config_valid(&c));
}

Test(crowd, modes_have_words)
{
    cr_assert_str_eq(crowd_mode_name(CROWD_CLOSED), "closed");
    cr_assert_str_eq(crowd_mode_name(CROWD_POLL), "poll");
    cr_assert_str_eq(crowd_mode_name(CROWD_BLEND), "blend");
    cr_assert_null(crowd_mode_name(CROWD_MODE_COUNT));
}
