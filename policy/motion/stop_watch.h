/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Was a stop obeyed? While one is in force the rig must say within confirm_ns that it has heard the stop count, and
 * must be seen at standstill within standstill_ns and stay there. Otherwise the stop is unconfirmed: it becomes one of
 * category 0, and is told everywhere, for as long as that is so. A rig that is out of reach confirms nothing.
 */
#ifndef STEADYHAND_MOTION_STOP_WATCH_H
#define STEADYHAND_MOTION_STOP_WATCH_H

#include "policy/motion/stop.h"

struct stop_watch_config {
    uint64_t confirm_ns;    /* 0: not watched */
    uint64_t standstill_ns; /* 0: not watched */
};

struct stop_watch {
    bool watching;       /* a stop was in force at the last step */
    uint64_t awaited;    /* the oldest count that the rig has not been seen to have heard, 0: none ... */
    uint64_t awaited_ns; /* ... and since when it is awaited */
    uint64_t moving_ns;  /* when it was last at standstill, or the stop began */
};

struct stop_watch_input {
    uint64_t now_ns;
    uint64_t heard; /* the highest stop count that the rig says it has heard; 0: it is out of reach */
    bool at_rest;
};

void stop_watch_init(struct stop_watch *w);

/* One tick, with the state as it is after the last stop_step(). Returns how long it has waited for something that
 * should have come [ns], 0: all is as it should be. */
uint64_t stop_watch_step(const struct stop_watch_config *cfg, struct stop_watch *w, const struct stop *stop,
                         const struct stop_watch_input *in);

#endif
