/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "model.h"

#include <string.h>

#include "gateway/core/stop_line.h"
#include "gateway/desk/desk_orders.h"

enum { START = 0, STEPS_A_PRESS = 2, STEPS_A_TICK = 3, GENERATIONS = MODEL_PRESSES + 1 };

/* Everything there is at one moment. Small: the walk copies it at each fork. */
struct world {
    struct stop_line line;
    struct desk_orders mailbox;       /* newest orders put */
    int press_of[DESK_ORDERS_EVENTS]; /* which press an event came from */
    int pressed, press_step;
    uint64_t settling;
    struct stop stop; /* the policy's */
    struct desk_orders orders;
    struct stop_input in;
    uint64_t events_seen, holds_seen;
    int ticked, tick_step, inhibits;
    int go; /* the press whose go the policy is running under; START: running from the beginning */
    uint64_t permit_of[GENERATIONS]; /* highest permit of a moving intent, by the press of its go; START = 0 */
    uint64_t stop_of[GENERATIONS];   /* count sent by the stop of each press, 0 = none */
    uint64_t highest;                /* of all counts sent, in stops and intents */
};

/* The stop count that a presser saw is left out (always the same): the stop line must hold without its help. */
enum { SEEN = 0 };

static void note_count(struct world *w, uint64_t count)
{
    if (count > w->highest)
        w->highest = count;
}

/* One step of the desk thread; true when a press is complete. */
static void desk_step(const struct model_case *c, struct world *w)
{
    char what = c->presses[w->pressed];
    if (what == 'H') {
        w->mailbox.holds++;
        w->pressed++;
        return;
    }
    if (what != 'S') {
        uint64_t stamp = stop_line_asked(&w->line);
        w->press_of[w->mailbox.events % DESK_ORDERS_EVENTS] = w->pressed + 1;
        const struct desk_event event = {what == 'R'   ? STOP_EVENT_RESET
                                         : what == 'A' ? STOP_EVENT_ARM
                                                       : STOP_EVENT_GO,
                                         SEEN, stamp};
        desk_orders_press(&w->mailbox, &event);
        w->pressed++;
        return;
    }
    if (w->press_step == 0 && !c->late_raise) {
        stop_line_raise(&w->line, REASON_STOP_OPERATOR, c->severe ? STOP_CATEGORY_0 : STOP_CATEGORY_2);
    } else if (w->press_step == 0) {
        w->settling = atomic_load(&w->line.count) + 1;
    } else {
        uint64_t count;
        if (c->late_raise) {
            stop_line_raise(&w->line, REASON_STOP_OPERATOR, c->severe ? STOP_CATEGORY_0 : STOP_CATEGORY_2);
            count = w->settling;
        } else {
            count = c->no_settle ? stop_line_asked(&w->line) + 1 : stop_line_settle(&w->line);
        }
        w->stop_of[w->pressed + 1] = count;
        note_count(w, count);
        w->pressed++;
    }
    w->press_step = 1 - w->press_step;
}

static enum stop_event next_event(const struct model_case *c, struct world *w)
{
    bool holds = w->orders.holds != w->holds_seen;
    w->holds_seen = w->orders.holds;
    if (holds)
        return STOP_EVENT_HOLD;
    if (!c->no_stamp)
        return desk_orders_next(&w->orders, &w->events_seen, SEEN, w->in.asked);
    if (w->events_seen == w->orders.events)
        return STOP_EVENT_NONE;
    return w->orders.event[w->events_seen++ % DESK_ORDERS_EVENTS].what;
}

static void policy_and_intent(const struct model_case *c, struct world *w, bool inhibit)
{
    w->in.event = next_event(c, w);
    w->in.inhibit = inhibit ? REASON_RIG_LOST : REASON_NONE;
    w->in.inhibit_category = STOP_CATEGORY_2;
    bool was_running = w->stop.state == STOP_RUNNING;
    stop_step(&w->stop, &w->in);
    if (!was_running && w->stop.state == STOP_RUNNING)
        w->go = w->press_of[(w->events_seen - 1) % DESK_ORDERS_EVENTS];
}

static void send_intent(struct world *w)
{
    stop_line_publish(&w->line, w->stop.count);
    note_count(w, w->stop.count);
    if (stop_allows_motion(&w->stop) && w->stop.permit > w->permit_of[w->go])
        w->permit_of[w->go] = w->stop.permit;
}

/* One step of the tick thread: read the orders; take the presses and run the policy; publish and send. */
static void tick_step(const struct model_case *c, struct world *w, bool inhibit)
{
    if (w->tick_step == 0) {
        w->orders = w->mailbox;
    } else if (w->tick_step == 1) {
        stop_line_take(&w->line, &w->in);
        policy_and_intent(c, w, inhibit);
    } else {
        send_intent(w);
        w->ticked++;
    }
    w->tick_step = (w->tick_step + 1) % STEPS_A_TICK;
}

/* A rig that has heard stop s obeys only permits equal to the highest count heard, which is at least s. The network may
 * bring datagrams in any order, so it is enough that some intent under an older go has such a permit. */
static bool could_move(const struct world *w)
{
    for (int stop = 1; stop < GENERATIONS; stop++)
        for (int go = START; go < stop; go++)
            if (w->stop_of[stop] != 0 && w->permit_of[go] >= w->stop_of[stop])
                return true;
    return false;
}

static void whole_tick(const struct model_case *c, struct world *w)
{
    for (int i = 0; i < STEPS_A_TICK; i++)
        tick_step(c, w, false);
}

static void press_now(struct world *w, enum stop_event what)
{
    desk_orders_press(&w->mailbox, &(struct desk_event){what, SEEN, stop_line_asked(&w->line)});
}

/* When all is quiet, a reset, arming and a go must set the rig free: the permit sent is the highest count it can have
 * heard. */
static bool is_stuck(const struct model_case *c, const struct world *end)
{
    struct world w = *end;
    for (int i = 0; i < DESK_ORDERS_EVENTS; i++)
        whole_tick(c, &w);
    static const enum stop_event way[] = {STOP_EVENT_RESET, STOP_EVENT_ARM, STOP_EVENT_GO};
    for (int i = 0; i < 3; i++) {
        press_now(&w, way[i]);
        whole_tick(c, &w);
    }
    return !stop_allows_motion(&w.stop) || w.stop.permit != w.highest;
}

static void walk(const struct model_case *c, const struct world *w, struct model_result *r)
{
    bool desk = c->presses[w->pressed] != '\0', tick = w->ticked < c->ticks;
    if (!desk && !tick) {
        r->paths++;
        r->moved += could_move(w);
        r->stuck += is_stuck(c, w);
        return;
    }
    if (desk) {
        struct world next = *w;
        desk_step(c, &next);
        walk(c, &next, r);
    }
    for (int inhibit = 0; tick && inhibit <= (w->tick_step == 1 && w->inhibits < c->inhibits); inhibit++) {
        struct world next = *w;
        tick_step(c, &next, inhibit == 1);
        next.inhibits += inhibit;
        walk(c, &next, r);
    }
}

struct model_result model_run(const struct model_case *c)
{
    struct model_result result = {0};
    struct world w = {0};
    stop_init(&w.stop);
    if (!c->parked)
        stop_step(&w.stop, &(struct stop_input){.event = STOP_EVENT_ARM});
    if (c->running)
        stop_step(&w.stop, &(struct stop_input){.event = STOP_EVENT_GO});
    else if (!c->parked)
        stop_step(&w.stop, &(struct stop_input){.inhibit = REASON_RIG_LOST, .inhibit_category = STOP_CATEGORY_2});
    stop_line_init(&w.line, w.stop.count);
    if (c->running)
        send_intent(&w);
    walk(c, &w, &result);
    return result;
}
