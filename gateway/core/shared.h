/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * All that core's three threads share, and which way it flows. Every arrow is wait-free, so that no thread can make
 * another wait:
 *
 *   desk --orders--> tick --report--> desk      desk presses stops on the stop line and sends them to the rig itself
 *   bus  --crowd---> tick --scene---> bus
 */
#ifndef STEADYHAND_CORE_SHARED_H
#define STEADYHAND_CORE_SHARED_H

#include "gateway/bus/crowds.h"
#include "gateway/core/mailbox.h"
#include "gateway/core/stop_line.h"
#include "gateway/desk/desk_json.h"
#include "gateway/desk/desk_orders.h"
#include "gateway/rig/link.h"
#include "gateway/show/show.h"

/* What became of an event. */
struct shared_answer {
    enum stop_event what;
    enum stop_answer answer;
    bool overtaken;        /* by a stop, an inhibit or a hold that whoever pressed it had not seen */
    enum stop_state state; /* after it */
    enum reason reason;    /* what forbids it now, or else why it was stopped */
};

/* The tick's news for the desks. */
struct shared_report {
    struct scene scene;
    struct desk_view view;
    uint64_t answers;                                /* events decided so far: those numbered below this */
    struct shared_answer answer[DESK_ORDERS_EVENTS]; /* of event number n at n % DESK_ORDERS_EVENTS */
    uint64_t limits;                                 /* asked for and judged so far, likewise */
    enum limits_answer limit_answer[DESK_ORDERS_EVENTS];
};

struct shared {
    const struct show *show;
    struct link link;
    struct stop_line stops;
    struct mailbox orders; /* struct desk_orders */
    struct mailbox crowd;  /* struct crowds_sum */
    struct mailbox report; /* struct shared_report */
    struct mailbox scene;  /* struct scene */
    atomic_bool real_time; /* the system gave tick and desk thread their priority */
    atomic_bool locked;    /* and keeps core's memory in */
    atomic_bool ready;     /* all has started: nothing is brought in any more */
    atomic_bool stopping;  /* core is about to end: the tick stops the rig, whatever else happens */
    atomic_bool ending;    /* tick and bus threads leave their loops */
};

#endif
