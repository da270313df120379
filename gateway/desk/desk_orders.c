/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/desk/desk_orders.h"

#include <stddef.h>

void desk_orders_press(struct desk_orders *orders, const struct desk_event *event)
{
    orders->event[orders->events % DESK_ORDERS_EVENTS] = *event;
    orders->events++;
}

enum stop_event desk_orders_next(const struct desk_orders *orders, uint64_t *seen, uint64_t count, uint64_t asked)
{
    if (orders->events - *seen > DESK_ORDERS_EVENTS)
        *seen = orders->events - DESK_ORDERS_EVENTS;
    while (*seen < orders->events) {
        const struct desk_event *e = &orders->event[*seen % DESK_ORDERS_EVENTS];
        (*seen)++;
        if (e->what == STOP_EVENT_PARK || (e->count == count && e->asked == asked))
            return e->what;
    }
    return STOP_EVENT_NONE;
}

static bool within(uint64_t heard_ns, uint64_t lease_ns, uint64_t now_ns)
{
    return heard_ns != 0 && (now_ns <= heard_ns || now_ns - heard_ns <= lease_ns);
}

void desk_orders_lanes(const struct desk_orders *orders, uint64_t lease_ns, uint64_t now_ns, struct lanes_input *in)
{
    in->operator_holds = orders->held;
    in->operator_wish = (struct wish){.kind = WISH_STAY};
    if (orders->held && within(orders->held_ns, lease_ns, now_ns) && within(orders->stick_ns, lease_ns, now_ns))
        in->operator_wish = (struct wish){.kind = WISH_VELOCITY, .v = orders->stick};
    in->audience_open = orders->mode != CROWD_CLOSED;
    in->audience_scale = orders->audience_scale;
}

void desk_orders_ask(struct desk_orders *orders, const struct desk_asked_limit *limit)
{
    orders->limit[orders->limits % DESK_ORDERS_EVENTS] = *limit;
    orders->limits++;
}

const struct desk_asked_limit *desk_orders_next_limit(const struct desk_orders *orders, uint64_t *seen)
{
    if (orders->limits - *seen > DESK_ORDERS_EVENTS)
        *seen = orders->limits - DESK_ORDERS_EVENTS;
    if (*seen == orders->limits)
        return NULL;
    return &orders->limit[(*seen)++ % DESK_ORDERS_EVENTS];
}

void desk_orders_head(const struct desk_orders *orders, uint64_t lease_ns, uint64_t now_ns, double rate[HEAD_AXES])
{
    bool alive = orders->held && within(orders->held_ns, lease_ns, now_ns) && within(orders->head_ns, lease_ns, now_ns);
    for (int i = 0; i < HEAD_AXES; i++)
        rate[i] = alive ? orders->head[i] : 0;
}
