/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "gateway/desk/desk_state.h"

#define S 1000000000ull

static struct desk_state show(void)
{
    struct desk_state s;
    desk_state_init(&s, CROWD_POLL, 1.0, S);
    return s;
}

static struct desk_member join(struct desk_state *s, enum pass_role role, const char *name)
{
    struct pass pass = {.role = role, .expires_s = 1000};
    struct desk_member m;
    snprintf(pass.name, sizeof pass.name, "%s", name);
    desk_state_join(s, &pass, &(struct desk_moment){.now_ns = 0, .unix_s = 10}, &m);
    return m;
}

static enum desk_verdict say(struct desk_state *s, const struct desk_member *who, struct desk_message m,
                             uint64_t now_ns)
{
    return desk_state_take(s, who, &m, &(struct desk_moment){.now_ns = now_ns, .asked = 7});
}

#define SAY(s, who, now, ...) say(s, who, (struct desk_message){__VA_ARGS__}, now)

Test(desk_state, one_holder_at_a_time)
{
    struct desk_state s = show();
    struct desk_member dana = join(&s, PASS_OPERATOR, "dana"), kim = join(&s, PASS_OPERATOR, "kim");
    cr_assert_neq(dana.id, kim.id);
    cr_assert_eq(SAY(&s, &dana, S, .type = DESK_STICK, .stick = {1, 0, 0}), DESK_NOT_HELD);
    cr_assert_eq(SAY(&s, &dana, S, .type = DESK_TAKE), DESK_DONE);
    cr_assert_eq(SAY(&s, &kim, S, .type = DESK_TAKE), DESK_HELD);
    cr_assert_eq(SAY(&s, &kim, S, .type = DESK_RELEASE), DESK_NOT_HELD);
    cr_assert_eq(SAY(&s, &kim, S, .type = DESK_STICK, .stick = {1, 0, 0}), DESK_NOT_HELD);
    cr_assert_eq(s.orders.stick_ns, 0u);
    cr_assert_str_eq(s.holder_name, "dana");
    cr_assert_eq(SAY(&s, &dana, 2 * S, .type = DESK_STICK, .stick = {0, -1, 0}), DESK_DONE);
    cr_assert_eq(s.orders.stick.y, -1);
    cr_assert_eq(SAY(&s, &dana, 2 * S, .type = DESK_RELEASE), DESK_DONE);
    cr_assert_not(s.orders.held);
    cr_assert_eq(s.orders.stick_ns, 0u, "nothing of the stick stays behind for the next holder");
    cr_assert_eq(SAY(&s, &kim, 2 * S, .type = DESK_TAKE), DESK_DONE);
    cr_assert(s.orders.held);
    cr_assert_eq(s.orders.stick_ns, 0u);
}

Test(desk_state, a_holder_who_leaves_or_goes_silent_is_holder_no_more_and_control_is_lost)
{
    struct desk_state s = show();
    struct desk_member dana = join(&s, PASS_OPERATOR, "dana"), kim = join(&s, PASS_OPERATOR, "kim");
    SAY(&s, &dana, 10 * S, .type = DESK_TAKE);
    desk_state_leave(&s, &kim);
    cr_assert_eq(s.holder, dana.id);
    desk_state_leave(&s, &dana);
    cr_assert_eq(s.holder, 0u);
    cr_assert(s.orders.held, "not handed on");
    cr_assert_eq(s.desks, 0u);
    dana = join(&s, PASS_OPERATOR, "dana");
    SAY(&s, &dana, 10 * S, .type = DESK_TAKE);
    SAY(&s, &dana, 11 * S, .type = DESK_BEAT, .n = 1);
    cr_assert_not(desk_state_lapse(&s, 12 * S), "a beat renews the lease");
    cr_assert(desk_state_lapse(&s, 12 * S + 1));
    cr_assert_eq(s.holder, 0u);
    cr_assert(s.orders.held);
    cr_assert_not(desk_state_lapse(&s, 99 * S));
    cr_assert_eq(SAY(&s, &dana, 99 * S, .type = DESK_STICK, .stick = {1, 0, 0}), DESK_NOT_HELD);
    cr_assert_eq(SAY(&s, &dana, 99 * S, .type = DESK_RELEASE), DESK_DONE, "anybody may release what nobody holds");
    cr_assert_not(s.orders.held);
    cr_assert_eq(SAY(&s, &dana, 99 * S, .type = DESK_RELEASE), DESK_NOT_HELD);
}

Test(desk_state, beats_of_operators_alone_are_presence)
{
    struct desk_state s = show();
    struct desk_member spotter = join(&s, PASS_SPOTTER, "sam"), op = join(&s, PASS_OPERATOR, "dana");
    SAY(&s, &spotter, 5 * S, .type = DESK_BEAT);
    cr_assert_eq(s.orders.presence_ns, 0u);
    SAY(&s, &op, 6 * S, .type = DESK_BEAT);
    cr_assert_eq(s.orders.presence_ns, 6 * S);
}

Test(desk_state, anyone_tightens_only_the_operator_loosens_and_only_at_rest)
{
    struct desk_state s = show();
    struct desk_member mo = join(&s, PASS_MODERATOR, "mo"), op = join(&s, PASS_OPERATOR, "dana");
    const struct desk_moment moving = {.now_ns = S, .running = true};
    const struct desk_message up = {.type = DESK_SCALE, .value = 0.9}, down = {.type = DESK_SCALE, .value = 0.2};
    cr_assert_eq(SAY(&s, &mo, S, .type = DESK_SCALE, .value = 0.5), DESK_DONE);
    cr_assert_eq(s.orders.audience_scale, 0.5);
    cr_assert_eq(SAY(&s, &mo, S, .type = DESK_SCALE, .value = 0.6), DESK_ONLY_LOWER);
    cr_assert_eq(desk_state_take(&s, &op, &up, &moving), DESK_WHILE_MOVING);
    cr_assert_eq(s.orders.audience_scale, 0.5);
    cr_assert_eq(desk_state_take(&s, &op, &down, &moving), DESK_DONE, "lowering is never refused");
    cr_assert_eq(SAY(&s, &op, S, .type = DESK_SCALE, .value = 0.9), DESK_DONE);
    cr_assert_eq(s.orders.audience_scale, 0.9);
}

Test(desk_state, resets_and_gos_carry_the_stops_asked_for)
{
    struct desk_state s = show();
    struct desk_member op = join(&s, PASS_OPERATOR, "dana");
    SAY(&s, &op, S, .type = DESK_RESET, .n = 3);
    SAY(&s, &op, S, .type = DESK_GO, .n = 4);
    cr_assert_eq(s.orders.events, 2u);
    cr_assert_eq(s.orders.event[0].what, STOP_EVENT_RESET);
    cr_assert_eq(s.orders.event[1].what, STOP_EVENT_GO);
    cr_assert_eq(s.orders.event[1].asked, 7u);
    cr_assert(s.orders.event[0].count == 3 && s.orders.event[1].count == 4, "and the stop their presser saw");
}

Test(desk_state, a_moderator_closes_the_audience_s_lane_and_an_operator_opens_it)
{
    struct desk_state s = show();
    struct desk_member mo = join(&s, PASS_MODERATOR, "mo"), op = join(&s, PASS_OPERATOR, "dana");
    cr_assert_eq(SAY(&s, &mo, S, .type = DESK_MODE, .mode = CROWD_BLEND), DESK_ONLY_CLOSE);
    cr_assert_eq(s.orders.mode, CROWD_POLL);
    cr_assert_eq(SAY(&s, &mo, S, .type = DESK_MODE, .mode = CROWD_CLOSED), DESK_DONE);
    cr_assert_eq(SAY(&s, &mo, S, .type = DESK_MODE, .mode = CROWD_POLL), DESK_ONLY_CLOSE);
    cr_assert_eq(s.orders.mode, CROWD_CLOSED);
    cr_assert_eq(SAY(&s, &op, S, .type = DESK_MODE, .mode = CROWD_BLEND), DESK_DONE);
    cr_assert_eq(s.orders.mode, CROWD_BLEND);
}

static struct desk_state held_over_a_go(struct desk_member *dana)
{
    struct desk_state s = show();
    *dana = join(&s, PASS_OPERATOR, "dana");
    SAY(&s, dana, 10 * S, .type = DESK_TAKE);
    SAY(&s, dana, 10 * S, .type = DESK_STICK, .stick = {1, 0, 0});
    cr_assert_neq(s.orders.stick_ns, 0u);
    SAY(&s, dana, 10 * S + 1, .type = DESK_GO);
    cr_assert_eq(s.orders.stick_ns, 0u);
    SAY(&s, dana, 10 * S + S / 2, .type = DESK_STICK, .stick = {0.5, 0, 0});
    cr_assert_eq(s.orders.stick_ns, 0u, "still held: not heeded");
    return s;
}

Test(desk_state, a_stick_held_over_a_go_moves_nothing_until_it_was_let_go)
{
    struct desk_member dana;
    struct desk_state s = held_over_a_go(&dana);
    SAY(&s, &dana, 11 * S, .type = DESK_STICK, .stick = {0, 0, 0});
    SAY(&s, &dana, 11 * S + 1, .type = DESK_STICK, .stick = {0, 1, 0});
    cr_assert(s.orders.stick_ns == 11 * S + 1 && s.orders.stick.y == 1, "let go, and pushed anew");
    s = held_over_a_go(&dana);
    SAY(&s, &dana, 13 * S, .type = DESK_STICK, .stick = {0, 1, 0});
    cr_assert_eq(s.orders.stick_ns, 13 * S, "silent for longer than its lease is let go too");
}

Test(desk_state, the_head_is_the_holders_and_lapses_and_is_held_over_like_the_stick)
{
    struct desk_state s = show();
    struct desk_member dana = join(&s, PASS_OPERATOR, "dana");
    double rate[HEAD_AXES];
    cr_assert_eq(SAY(&s, &dana, 10 * S, .type = DESK_HEAD, .head = {1}), DESK_NOT_HELD);
    cr_assert_eq(SAY(&s, &dana, 10 * S, .type = DESK_HEAD_HOME), DESK_NOT_HELD);
    cr_assert(s.orders.head_ns == 0 && s.orders.homes == 0);
    SAY(&s, &dana, 10 * S, .type = DESK_TAKE);
    cr_assert_eq(SAY(&s, &dana, 10 * S, .type = DESK_HEAD, .head = {0.5, 0, 0, -1}), DESK_DONE);
    cr_assert_eq(SAY(&s, &dana, 10 * S, .type = DESK_HEAD_HOME), DESK_DONE);
    cr_assert_eq(s.orders.homes, 1u);
    desk_orders_head(&s.orders, S, 11 * S, rate);
    cr_assert(rate[HEAD_PAN] == 0.5 && rate[HEAD_ZOOM] == -1);
    desk_orders_head(&s.orders, S, 11 * S + 1, rate);
    cr_assert(rate[HEAD_PAN] == 0 && rate[HEAD_ZOOM] == 0, "lapsed");
    SAY(&s, &dana, 10 * S + 1, .type = DESK_GO);
    SAY(&s, &dana, 10 * S + 2, .type = DESK_HEAD, .head = {0.5});
    cr_assert_eq(s.orders.head_ns, 0u, "held over a go: not heeded");
    SAY(&s, &dana, 10 * S + 3, .type = DESK_STICK, .stick = {1, 0, 0});
    cr_assert_eq(s.orders.stick_ns, 10 * S + 3, "the stick is another hand");
    SAY(&s, &dana, 10 * S + 4, .type = DESK_HEAD);
    SAY(&s, &dana, 10 * S + 5, .type = DESK_HEAD, .head = {0, 0.25});
    cr_assert(s.orders.head_ns == 10 * S + 5 && s.orders.head[HEAD_TILT] == 0.25);
    SAY(&s, &dana, 10 * S + 6, .type = DESK_RELEASE);
    cr_assert(s.orders.head_ns == 0 && s.orders.head[HEAD_TILT] == 0, "nothing stays behind for the next holder");
}

Test(desk_state, a_hold_is_anybodys_and_says_whose)
{
    static const enum pass_role role[] = {PASS_OPERATOR, PASS_SPOTTER, PASS_MODERATOR};
    static const enum reason why[] = {REASON_HOLD_OPERATOR, REASON_HOLD_SPOTTER, REASON_HOLD_MODERATOR};
    struct desk_state s = show();
    for (uint64_t i = 0; i < 3; i++) {
        struct desk_member m = join(&s, role[i], "kim");
        cr_assert_eq(SAY(&s, &m, 10 * S, .type = DESK_HOLD), DESK_DONE);
        cr_assert(s.orders.holds == i + 1 && s.orders.hold_why == why[i] && s.orders.events == 0);
        cr_assert_eq(SAY(&s, &m, 10 * S, .type = DESK_PARK), i == 0 ? DESK_DONE : DESK_NOT_ALLOWED);
        s.orders.events = 0;
    }
}

Test(desk_state, one_spotter_holds_at_a_time_and_lets_go_by_word_by_silence_and_by_leaving)
{
    struct desk_state s = show();
    struct desk_member sam = join(&s, PASS_SPOTTER, "sam"), ida = join(&s, PASS_SPOTTER, "ida");
    cr_assert_eq(SAY(&s, &sam, 10 * S, .type = DESK_ENABLE, .on = true), DESK_DONE);
    cr_assert(s.orders.spotter_ns == 10 * S && s.spotter == sam.id);
    cr_assert_str_eq(s.spotter_name, "sam");
    cr_assert_eq(SAY(&s, &ida, 10 * S, .type = DESK_ENABLE, .on = true), DESK_SPOTTED);
    cr_assert_eq(SAY(&s, &ida, 10 * S, .type = DESK_ENABLE, .on = false), DESK_DONE, "letting go is never refused");
    cr_assert_eq(s.spotter, sam.id, "but it is not another's hold");
    SAY(&s, &sam, 11 * S, .type = DESK_BEAT);
    cr_assert_eq(s.orders.spotter_ns, 10 * S, "a beat is no hold");
    desk_state_lapse(&s, 11 * S);
    cr_assert_eq(s.spotter, sam.id);
    desk_state_lapse(&s, 11 * S + 1);
    cr_assert(s.spotter == 0 && s.orders.spotter_ns == 0 && s.spotter_name[0] == 0);
    cr_assert_eq(SAY(&s, &ida, 12 * S, .type = DESK_ENABLE, .on = true), DESK_DONE);
    cr_assert_eq(SAY(&s, &ida, 12 * S, .type = DESK_ENABLE, .on = false), DESK_DONE);
    cr_assert_eq(s.orders.spotter_ns, 0u);
    SAY(&s, &sam, 13 * S, .type = DESK_ENABLE, .on = true);
    desk_state_leave(&s, &ida);
    cr_assert_eq(s.spotter, sam.id);
    desk_state_leave(&s, &sam);
    cr_assert(s.spotter == 0 && s.orders.spotter_ns == 0);
    cr_assert_eq(s.orders.presence_ns, 0u, "a spotter is no operator");
}

Test(desk_state, set_up_begins_and_ends_only_while_stopped)
{
    struct desk_state s = show();
    struct desk_member op = join(&s, PASS_OPERATOR, "dana");
    const struct desk_moment moving = {.now_ns = S, .armed = true};
    const struct desk_message on = {.type = DESK_SETUP, .on = true}, off = {.type = DESK_SETUP};
    cr_assert_eq(desk_state_take(&s, &op, &on, &moving), DESK_STOP_FIRST);
    cr_assert_not(s.orders.setup);
    cr_assert_eq(desk_state_take(&s, &op, &off, &moving), DESK_DONE, "it is off");
    cr_assert_eq(SAY(&s, &op, S, .type = DESK_SETUP, .on = true), DESK_DONE);
    cr_assert(s.orders.setup);
    cr_assert_eq(desk_state_take(&s, &op, &off, &moving), DESK_STOP_FIRST);
    cr_assert(s.orders.setup);
}

Test(desk_state, limits_are_asked_for_in_order_with_who_asked_and_no_faster_than_they_are_judged)
{
    struct desk_state s = show();
    struct desk_member sam = join(&s, PASS_SPOTTER, "sam"), op = join(&s, PASS_OPERATOR, "dana");
    struct desk_moment at = {.now_ns = S};
    struct desk_message m = {.type = DESK_LIMIT, .limit = {.lane = LANE_AUDIENCE}};
    uint64_t seen = 0;
    for (int i = 0; i < DESK_ORDERS_EVENTS; i++) {
        m.limit.speed_mps = i;
        cr_assert_eq(desk_state_take(&s, i % 2 ? &op : &sam, &m, &at), DESK_DONE);
    }
    cr_assert_eq(desk_state_take(&s, &op, &m, &at), DESK_BUSY);
    for (int i = 0; i < DESK_ORDERS_EVENTS; i++) {
        const struct desk_asked_limit *asked = desk_orders_next_limit(&s.orders, &seen);
        cr_assert(asked && asked->limit.speed_mps == i && asked->by_operator == (i % 2 == 1));
    }
    cr_assert_null(desk_orders_next_limit(&s.orders, &seen));
    at.limits = 1;
    cr_assert_eq(desk_state_take(&s, &op, &m, &at), DESK_DONE);
    cr_assert_not_null(desk_orders_next_limit(&s.orders, &seen));
}

/* Whatever a role may not send is refused and leaves the orders as they were. */
Test(desk_state, nobody_does_what_their_role_forbids)
{
    static const enum pass_role roles[] = {PASS_VIEWER, PASS_MODERATOR, PASS_SPOTTER};
    for (size_t i = 0; i < sizeof roles / sizeof roles[0]; i++)
        for (int t = 0; t < DESK_TYPE_COUNT; t++) {
            struct desk_state s = show();
            struct desk_member who = join(&s, roles[i], "x");
            struct desk_orders before = s.orders;
            if (desk_message_allowed((enum desk_type)t, roles[i]))
                continue;
            cr_assert_eq(SAY(&s, &who, S, .type = (enum desk_type)t, .mode = CROWD_BLEND), DESK_NOT_ALLOWED);
            cr_assert_eq(memcmp(&s.orders, &before, sizeof before), 0);
        }
}

Test(desk_state, a_pass_that_expires_during_the_show_may_do_nothing_more)
{
    struct desk_state s = show();
    struct desk_member op = join(&s, PASS_OPERATOR, "dana");
    const struct desk_moment late = {.now_ns = 990 * S};
    for (int t = 0; t < DESK_TYPE_COUNT; t++) {
        if (t == DESK_BEAT || t == DESK_STOP)
            continue;
        cr_assert_eq(desk_state_take(&s, &op, &(struct desk_message){.type = (enum desk_type)t}, &late),
                     DESK_PASS_OVER);
    }
    cr_assert_eq(desk_state_take(&s, &op, &(struct desk_message){.type = DESK_BEAT}, &late), DESK_DONE);
    cr_assert_eq(s.orders.presence_ns, 0u, "and is no presence");
}

Test(desk_state, every_verdict_has_words)
{
    for (int v = 0; v < DESK_VERDICT_COUNT; v++) {
        cr_assert_gt(strlen(desk_state_code((enum desk_verdict)v)), 2u);
        cr_assert_gt(strlen(desk_state_text((enum desk_verdict)v)), 4u);
    }
    cr_assert_str_eq(desk_state_code((enum desk_verdict)99), "unknown");
}

Test(desk_state, a_second_hello_is_refused)
{
    struct desk_state s = show();
    struct desk_member op = join(&s, PASS_OPERATOR, "dana");
    cr_assert_eq(SAY(&s, &op, S, .type = DESK_HELLO), DESK_GREETED_TWICE);
    cr_assert_eq(SAY(&s, &op, S, .type = DESK_STOP), DESK_UNKNOWN, "stops do not come this way");
}
