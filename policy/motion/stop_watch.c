/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/stop_watch.h"

void stop_watch_init(struct stop_watch *w)
{
    *w = (struct stop_watch){.watching = false};
}

static uint64_t since(uint64_t now_ns, uint64_t then_ns)
{
    return now_ns > then_ns ? now_ns - then_ns : 0;
}

/* Stops that are pressed again and again do not put the wait for the first of them off. */
static void await(struct stop_watch *w, const struct stop *stop, const struct stop_watch_input *in)
{
    bool heard = w->awaited == 0 || in->heard >= w->awaited;
    if (!heard)
        return;
    w->awaited = in->heard >= stop->count ? 0 : stop->count;
    w->awaited_ns = in->now_ns;
}

static uint64_t overdue(uint64_t waited_ns, uint64_t most_ns)
{
    return most_ns > 0 && waited_ns > most_ns ? waited_ns : 0;
}

uint64_t stop_watch_step(const struct stop_watch_config *cfg, struct stop_watch *w, const struct stop *stop,
                         const struct stop_watch_input *in)
{
    if (stop->state != STOP_LATCHED) {
        stop_watch_init(w);
        return 0;
    }
    if (!w->watching)
        *w = (struct stop_watch){.watching = true, .moving_ns = in->now_ns};
    await(w, stop, in);
    if (in->at_rest)
        w->moving_ns = in->now_ns;
    uint64_t unheard = w->awaited != 0 ? overdue(since(in->now_ns, w->awaited_ns), cfg->confirm_ns) : 0;
    uint64_t unsettled = overdue(since(in->now_ns, w->moving_ns), cfg->standstill_ns);
    return unheard > unsettled ? unheard : unsettled;
}
