/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>

#include "gateway/desk/desk_orders.h"

enum { S = 1000000000 };

static void press(struct desk_orders *o, enum stop_event what, uint64_t count, uint64_t asked)
{
    desk_orders_press(o, &(struct desk_event){what, count, asked});
}

Test(desk_orders, events_come_one_at_a_time_and_in_order)
{
    struct desk_orders o = {0};
    uint64_t seen = 0;
    press(&o, STOP_EVENT_RESET, 9, 3);
    press(&o, STOP_EVENT_GO, 9, 3);
    cr_assert_eq(desk_orders_next(&o, &seen, 9, 3), STOP_EVENT_RESET);
    cr_assert_eq(desk_orders_next(&o, &seen, 9, 3), STOP_EVENT_GO);
    cr_assert_eq(desk_orders_next(&o, &seen, 9, 3), STOP_EVENT_NONE);
    cr_assert_eq(seen, 2u);
}

Test(desk_orders, events_older_than_a_stop_are_void)
{
    struct desk_orders o = {0};
    uint64_t seen = 0;
    press(&o, STOP_EVENT_RESET, 9, 0);
    press(&o, STOP_EVENT_GO, 9, 0);
    press(&o, STOP_EVENT_RESET, 9, 5); /* pressed after the stop */
    cr_assert_eq(desk_orders_next(&o, &seen, 9, 5), STOP_EVENT_RESET);
    cr_assert_eq(seen, 3u);
    press(&o, STOP_EVENT_GO, 9, 5);
    cr_assert_eq(desk_orders_next(&o, &seen, 9, 6), STOP_EVENT_NONE);
    cr_assert_eq(desk_orders_next(&o, &seen, 9, 6), STOP_EVENT_NONE, "and stay void");
}

/* Pressed on a page that had not yet shown the newest stop, whoever or whatever caused it. */
Test(desk_orders, events_of_whoever_had_not_seen_the_newest_stop_are_void)
{
    struct desk_orders o = {0};
    uint64_t seen = 0;
    press(&o, STOP_EVENT_RESET, 8, 5);
    press(&o, STOP_EVENT_GO, 10, 5);
    press(&o, STOP_EVENT_RESET, 9, 5);
    cr_assert_eq(desk_orders_next(&o, &seen, 9, 5), STOP_EVENT_RESET);
    cr_assert_eq(seen, 3u, "the two before it are passed over");
}

Test(desk_orders, more_events_than_the_ring_holds_lose_the_oldest)
{
    struct desk_orders o = {0};
    uint64_t seen = 0;
    press(&o, STOP_EVENT_RESET, 9, 0);
    for (int i = 0; i < DESK_ORDERS_EVENTS; i++)
        press(&o, STOP_EVENT_GO, 9, 0);
    for (int i = 0; i < DESK_ORDERS_EVENTS; i++)
        cr_assert_eq(desk_orders_next(&o, &seen, 9, 0), STOP_EVENT_GO);
    cr_assert_eq(desk_orders_next(&o, &seen, 9, 0), STOP_EVENT_NONE);
}

static struct lanes_input lanes_of(const struct desk_orders *o, uint64_t now_ns)
{
    struct lanes_input in = {0};
    desk_orders_lanes(o, S, now_ns, &in);
    return in;
}

Test(desk_orders, the_stick_lapses_by_the_readers_clock)
{
    struct desk_orders o = {.held = true,
                            .held_ns = 10ull * S,
                            .stick_ns = 9ull * S,
                            .stick = {1, -1, 0.5},
                            .mode = CROWD_POLL,
                            .audience_scale = 0.25};
    struct lanes_input in = lanes_of(&o, 10ull * S);
    cr_assert(in.operator_holds);
    cr_assert_eq(in.operator_wish.kind, WISH_VELOCITY);
    cr_assert_eq(in.operator_wish.v.z, 0.5);
    cr_assert_eq(in.audience_scale, 0.25);
    cr_assert(in.audience_open);
    in = lanes_of(&o, 10ull * S + 1);
    cr_assert(in.operator_holds);
    cr_assert_eq(in.operator_wish.kind, WISH_STAY, "the stick was not sent again in time");
    o.held = false;
    cr_assert_not(lanes_of(&o, 10ull * S).operator_holds);
}

Test(desk_orders, control_that_was_not_released_keeps_the_lane_and_asks_for_rest)
{
    struct desk_orders o = {.held = true, .held_ns = 10ull * S, .stick_ns = 12ull * S, .stick = {1, 0, 0}};
    cr_assert_eq(lanes_of(&o, 11ull * S).operator_wish.kind, WISH_VELOCITY);
    struct lanes_input in = lanes_of(&o, 11ull * S + 1);
    cr_assert(in.operator_holds, "the holder has gone silent: that hands nothing to the audience");
    cr_assert_eq(in.operator_wish.kind, WISH_STAY);
}

Test(desk_orders, nothing_heard_is_nothing_wished)
{
    struct desk_orders o = {.held = true};
    cr_assert_eq(lanes_of(&o, 5).operator_wish.kind, WISH_STAY, "a holder who was never heard");
    o.held_ns = 1;
    cr_assert_eq(lanes_of(&o, 5).operator_wish.kind, WISH_STAY, "no stick since control was taken");
    cr_assert_not(lanes_of(&o, 5).audience_open, "closed is the default");
}
