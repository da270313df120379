/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>

#include "gateway/desk/desk_orders.h"

enum { S = 1000000000 };

Test(desk_orders, events_come_one_at_a_time_and_in_order)
{
    struct desk_orders o = {0};
    uint64_t seen = 0;
    desk_orders_press(&o, STOP_EVENT_RESET, 3);
    desk_orders_press(&o, STOP_EVENT_GO, 3);
    cr_assert_eq(desk_orders_next(&o, &seen, 3), STOP_EVENT_RESET);
    cr_assert_eq(desk_orders_next(&o, &seen, 3), STOP_EVENT_GO);
    cr_assert_eq(desk_orders_next(&o, &seen, 3), STOP_EVENT_NONE);
    cr_assert_eq(seen, 2u);
}

Test(desk_orders, events_older_than_a_stop_are_void)
{
    struct desk_orders o = {0};
    uint64_t seen = 0;
    desk_orders_press(&o, STOP_EVENT_RESET, 0);
    desk_orders_press(&o, STOP_EVENT_GO, 0);
    desk_orders_press(&o, STOP_EVENT_RESET, 5); /* pressed after the stop */
    cr_assert_eq(desk_orders_next(&o, &seen, 5), STOP_EVENT_RESET);
    cr_assert_eq(seen, 3u);
    desk_orders_press(&o, STOP_EVENT_GO, 5);
    cr_assert_eq(desk_orders_next(&o, &seen, 6), STOP_EVENT_NONE);
    cr_assert_eq(desk_orders_next(&o, &seen, 6), STOP_EVENT_NONE, "and stay void");
}

Test(desk_orders, more_events_than_the_ring_holds_lose_the_oldest)
{
    struct desk_orders o = {0};
    uint64_t seen = 0;
    desk_orders_press(&o, STOP_EVENT_RESET, 0);
    for (int i = 0; i < DESK_ORDERS_EVENTS; i++)
        desk_orders_press(&o, STOP_EVENT_GO, 0);
    for (int i = 0; i < DESK_ORDERS_EVENTS; i++)
        cr_assert_eq(desk_orders_next(&o, &seen, 0), STOP_EVENT_GO);
    cr_assert_eq(desk_orders_next(&o, &seen, 0), STOP_EVENT_NONE);
}

static struct lanes_input lanes_of(const struct desk_orders *o, uint64_t now_ns)
{
    struct lanes_input in = {0};
    desk_orders_lanes(o, S, now_ns, &in);
    return in;
}

Test(desk_orders, holder_and_stick_lapse_by_the_readers_clock)
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
    cr_assert(lanes_of(&o, 11ull * S).operator_holds);
    cr_assert_not(lanes_of(&o, 11ull * S + 1).operator_holds, "the holder has gone silent");
    o.held = false;
    cr_assert_not(lanes_of(&o, 10ull * S).operator_holds);
}

Test(desk_orders, nothing_heard_is_nothing_held)
{
    struct desk_orders o = {.held = true};
    cr_assert_not(lanes_of(&o, 5).operator_holds);
    o.held_ns = 1;
    cr_assert_eq(lanes_of(&o, 5).operator_wish.kind, WISH_STAY, "no stick since control was taken");
    cr_assert_not(lanes_of(&o, 5).audience_open, "closed is the default");
}
