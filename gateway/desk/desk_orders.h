/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What the people at the desks have ordered, as one struct that the desk thread hands to the tick again and again,
 * newest wins. Levels (stick, mode, scale, head, enabling device, set-up) are simply the newest; arm, reset, go and
 * park are events, kept in a short ring so that two within one tick are both seen, in order; limits that are asked for
 * likewise. An event that leads towards motion is void once there has been a stop or a hold that whoever pressed it did
 * not know of: it carries the stop count they saw on their page, for what was pressed before a stop and arrives after
 * it, and the number of stops asked for when it came, for one that is pressed meanwhile (see gateway/core/stop_line.h).
 * Holds are counted: none is ever lost among other events, and one goes before all of them.
 */
#ifndef STEADYHAND_DESK_DESK_ORDERS_H
#define STEADYHAND_DESK_DESK_ORDERS_H

#include "gateway/desk/desk_message.h"
#include "policy/crowd/crowd.h"
#include "policy/motion/policy.h"

enum { DESK_ORDERS_EVENTS = 8 };

struct desk_event {
    enum stop_event what; /* not STOP_EVENT_HOLD */
    uint64_t count;       /* the policy's stop count, as the presser saw it */
    uint64_t asked;
};

struct desk_asked_limit {
    struct desk_limit limit;
    bool by_operator;
};

struct desk_orders {
    uint64_t events;                             /* pressed so far */
    struct desk_event event[DESK_ORDERS_EVENTS]; /* event number n (from 0) is at n % DESK_ORDERS_EVENTS */
    uint64_t holds;                              /* pressed so far */
    enum reason hold_why;                        /* of the newest */
    bool held;         /* control was taken and not released; by nobody now if its holder lapsed or left */
    uint64_t held_ns;  /* when that holder was last heard */
    uint64_t alive_ns; /* when the desk thread last said that it lives */
    uint64_t stick_ns; /* when their stick was last heard, 0 = not since they took it */
    struct vec3 stick; /* -1..1 */
    enum crowd_mode mode;
    double audience_scale; /* 0..1 */
    uint64_t presence_ns;  /* when an operator was last heard, 0 = never */

    uint64_t head_ns;       /* when the holder's rates for the head were last heard, 0 = not since they took it */
    double head[HEAD_AXES]; /* -1..1 */
    uint64_t homes;         /* how often the head was told to go home */
    uint64_t spotter_ns;    /* when a spotter's enabling device was last heard held, 0 = it is not */
    bool setup;             /* wanted by an operator; pressed only while stopped, and to be taken up only then */
    uint64_t limits;        /* asked for so far; number n (from 0) is at n % DESK_ORDERS_EVENTS */
    struct desk_asked_limit limit[DESK_ORDERS_EVENTS];
};

void desk_orders_press(struct desk_orders *orders, const struct desk_event *event);

/* The next event after *seen that was pressed under `count` and `asked`, or that parks, at most one a call; moves *seen
 * on. Void ones are passed over, as are those that fell out of the ring unseen. */
enum stop_event desk_orders_next(const struct desk_orders *orders, uint64_t *seen, uint64_t count, uint64_t asked);

/* Fills the desk's part of the lanes' input. Leases are judged here, by the reader's clock: a desk thread that hangs
 * lapses like a holder who is gone. Control that is held, even by nobody any more, keeps the operator's lane: the
 * camera comes to rest and stays, until somebody takes control or releases it. */
void desk_orders_lanes(const struct desk_orders *orders, uint64_t lease_ns, uint64_t now_ns, struct lanes_input *in);

void desk_orders_ask(struct desk_orders *orders, const struct desk_asked_limit *limit);

/* The next limits asked for after *seen, at most one a call, NULL if there are none; moves *seen on. Those that fell
 * out of the ring unseen are passed over. */
const struct desk_asked_limit *desk_orders_next_limit(const struct desk_orders *orders, uint64_t *seen);

/* The holder's rates for the head, zero where they have lapsed; leases as above. */
void desk_orders_head(const struct desk_orders *orders, uint64_t lease_ns, uint64_t now_ns, double rate[HEAD_AXES]);

#endif
