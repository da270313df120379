/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/stop.h"

#include <criterion/criterion.h>
#include <string.h>

static struct stop in_state(enum stop_state state)
{
    struct stop stop;
    stop_init(&stop);
    if (state != STOP_LATCHED)
        stop_step(&stop, &(struct stop_input){.event = STOP_EVENT_RESET});
    if (state == STOP_RUNNING)
        stop_step(&stop, &(struct stop_input){.event = STOP_EVENT_GO});
    cr_assert_eq(stop.state, state);
    return stop;
}

Test(stop, starts_latched)
{
    struct stop stop;
    stop_init(&stop);
    cr_assert(stop_valid(&stop));
    cr_assert_eq(stop.state, STOP_LATCHED);
    cr_assert_eq(stop.reason, REASON_STARTED_UP);
    cr_assert(stop.count == 1 && stop.permit == 0);
    cr_assert_not(stop_allows_motion(&stop));
}

/* The whole table: every state x event x inhibit x stop pressed. */
Test(stop, every_state_and_event_leads_where_it_should)
{
    static const enum stop_state expected[STOP_STATE_COUNT][STOP_EVENT_COUNT] = {
        {STOP_LATCHED, STOP_READY, STOP_LATCHED},
        {STOP_READY, STOP_READY, STOP_RUNNING},
        {STOP_RUNNING, STOP_RUNNING, STOP_RUNNING},
    };
    for (int s = 0; s < STOP_STATE_COUNT; s++)
        for (int e = 0; e < STOP_EVENT_COUNT; e++)
            for (int inhibited = 0; inhibited < 2; inhibited++)
                for (int pressed = 0; pressed < 2; pressed++) {
                    struct stop stop = in_state((enum stop_state)s), before = stop;
                    struct stop_input in = {.asked = (uint64_t)pressed,
                                            .asked_why = REASON_STOP_SPOTTER,
                                            .inhibit = inhibited ? REASON_RIG_LOST : REASON_NONE,
                                            .event = (enum stop_event)e};
                    stop_step(&stop, &in);
                    enum stop_state want = pressed || inhibited ? STOP_LATCHED : expected[s][e];
                    cr_assert_eq(stop.state, want, "state %d event %d inhibit %d pressed %d", s, e, inhibited, pressed);
                    cr_assert(stop_valid(&stop));
                    cr_assert_eq(stop.count > before.count, pressed || (inhibited && s != STOP_LATCHED));
                    cr_assert_geq(stop.count, 1 + in.asked);
                    cr_assert_eq(stop_allows_motion(&stop), want == STOP_RUNNING);
                }
}

Test(stop, keeps_its_first_reason)
{
    struct stop stop = in_state(STOP_RUNNING);
    stop_step(&stop, &(struct stop_input){.asked = 1, .asked_why = REASON_STOP_SPOTTER, .inhibit = REASON_RIG_LOST});
    cr_assert_eq(stop.reason, REASON_STOP_SPOTTER, "a person's before a condition's");
    stop_step(&stop, &(struct stop_input){.asked = 2, .asked_why = REASON_STOP_OPERATOR});
    cr_assert_eq(stop.reason, REASON_STOP_SPOTTER);
    stop_step(&stop, &(struct stop_input){.asked = 2, .event = STOP_EVENT_RESET});
    cr_assert_eq(stop.reason, REASON_AWAIT_GO);
    stop_step(&stop, &(struct stop_input){.asked = 3, .asked_why = REASON_STOP_MODERATOR});
    cr_assert_eq(stop.reason, REASON_STOP_MODERATOR);
}

/* The permit of a go is for the stops counted so far: each further one, heard in any order, is above it. */
Test(stop, counts_every_stop_above_the_permit)
{
    struct stop stop = in_state(STOP_RUNNING);
    cr_assert_eq(stop.permit, stop.count);
    stop_step(&stop, &(struct stop_input){.asked = 7});
    cr_assert_geq(stop.count, 8);
    cr_assert_lt(stop.permit, stop.count);
    uint64_t count = stop.count;
    stop_step(&stop, &(struct stop_input){.asked = 7});
    cr_assert_eq(stop.count, count, "the same press is one stop");
    stop_step(&stop, &(struct stop_input){.asked = 3});
    cr_assert(stop.count == count && stop.asked == 7, "and a count that goes back is none");
}

Test(stop, takes_values_out_of_range_as_the_safe_ones)
{
    struct stop stop = in_state(STOP_RUNNING);
    stop_step(&stop, &(struct stop_input){.inhibit = (enum reason)1000});
    cr_assert(stop.state == STOP_LATCHED && stop.reason == REASON_RIG_FAULT);
    stop = in_state(STOP_RUNNING);
    stop_step(&stop, &(struct stop_input){.asked = 1, .asked_why = (enum reason) - 3});
    cr_assert(stop.state == STOP_LATCHED && stop.reason == REASON_STOP_OPERATOR);
    stop = in_state(STOP_READY);
    stop_step(&stop, &(struct stop_input){.event = (enum stop_event)77});
    cr_assert_eq(stop.state, STOP_READY);
    stop_init(&stop);
    stop_step(&stop, &(struct stop_input){.event = STOP_EVENT_COUNT});
    cr_assert_eq(stop.state, STOP_LATCHED);
}

/* The rig may have heard the count that was asked for, whatever ours was by then. */
Test(stop, counts_past_whatever_was_asked_for)
{
    for (uint64_t count = 1; count < 5; count++)
        for (uint64_t asked = 1; asked < 9; asked++) {
            struct stop stop = in_state(STOP_RUNNING);
            stop.count = stop.permit = count;
            stop_step(&stop, &(struct stop_input){.asked = asked, .asked_why = REASON_STOP_OPERATOR});
            cr_assert(stop.count > asked && stop.count > count, "%d asked of %d", (int)asked, (int)count);
        }
}

Test(stop, never_moves_again_once_it_cannot_count)
{
    struct stop stop = in_state(STOP_RUNNING);
    stop_step(&stop, &(struct stop_input){.asked = UINT64_MAX});
    cr_assert_eq(stop.count, UINT64_MAX);
    stop_step(&stop, &(struct stop_input){.asked = UINT64_MAX, .event = STOP_EVENT_RESET});
    stop_step(&stop, &(struct stop_input){.asked = UINT64_MAX, .event = STOP_EVENT_GO});
    cr_assert_not(stop_allows_motion(&stop));
}

Test(stop, a_state_that_cannot_be_is_stopped)
{
    struct stop forged = in_state(STOP_RUNNING);
    forged.permit--;
    cr_assert_not(stop_valid(&forged));
    stop_step(&forged, &(struct stop_input){.event = STOP_EVENT_NONE});
    cr_assert(forged.state == STOP_LATCHED && stop_valid(&forged));
    forged.state = (enum stop_state)9;
    cr_assert_not(stop_valid(&forged));
    stop_step(&forged, &(struct stop_input){.event = STOP_EVENT_GO});
    cr_assert(forged.state == STOP_LATCHED && stop_valid(&forged));
    forged = (struct stop){.state = STOP_RUNNING, .count = UINT64_MAX, .permit = UINT64_MAX, .asked = 1};
    stop_step(&forged, &(struct stop_input){.event = STOP_EVENT_NONE});
    cr_assert(!stop_allows_motion(&forged) && !stop_valid(&forged), "no count is left to tell it by");
}

Test(stop, valid_looks_at_every_field)
{
    const struct stop good = in_state(STOP_READY);
    struct stop bad[5] = {good, good, good, good, in_state(STOP_RUNNING)};
    bad[0].reason = REASON_COUNT;
    bad[1].count = 0;
    bad[2].permit = bad[2].count + 1;
    bad[3].reason = REASON_NONE;
    bad[4].reason = REASON_AWAIT_GO;
    cr_assert(stop_valid(&good));
    for (int i = 0; i < 5; i++)
        cr_assert_not(stop_valid(&bad[i]), "%d", i);
}

Test(stop, states_have_stable_names)
{
    cr_assert_str_eq(stop_state_name(STOP_LATCHED), "stopped");
    cr_assert_str_eq(stop_state_name(STOP_READY), "ready");
    cr_assert_str_eq(stop_state_name(STOP_RUNNING), "running");
    cr_assert_str_eq(stop_state_name((enum stop_state)3), "unknown");
}

/* What an onlooker knows: has there been a reset, and after it a go, since the last thing that stopped it? */
struct onlooker {
    bool reset, go;
};

static void look(struct onlooker *o, const struct stop_input *in, bool pressed)
{
    if (pressed || in->inhibit != REASON_NONE)
        *o = (struct onlooker){false, false};
    else if (in->event == STOP_EVENT_GO && o->reset)
        o->go = true;
    else if (in->event == STOP_EVENT_RESET)
        o->reset = true;
}

/* Every sequence of every input, on the real code: motion exactly when the onlooker expects it. */
static uint64_t walk(struct stop stop, struct onlooker o, int depth)
{
    cr_assert(stop_valid(&stop));
    cr_assert_eq(stop_allows_motion(&stop), o.go);
    if (depth == 0)
        return 1;
    uint64_t ways = 0;
    for (int n = 0; n < STOP_EVENT_COUNT * 2 * 2; n++) {
        bool pressed = n % 2;
        struct stop_input in = {.asked = stop.asked + pressed,
                                .asked_why = REASON_STOP_OPERATOR,
                                .inhibit = n / 2 % 2 ? REASON_DESK_LOST : REASON_NONE,
                                .event = (enum stop_event)(n / 4)};
        struct stop next = stop;
        struct onlooker then = o;
        stop_step(&next, &in);
        look(&then, &in, pressed);
        ways += walk(next, then, depth - 1);
    }
    return ways;
}

Test(stop, no_sequence_of_six_inputs_moves_anything_without_reset_and_go)
{
    struct stop stop;
    stop_init(&stop);
    cr_assert_eq(walk(stop, (struct onlooker){false, false}, 6), 12ull * 12 * 12 * 12 * 12 * 12);
}
