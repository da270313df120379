/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The stop state machine. A stop latches from any state and keeps its first reason; ending it takes two deliberate
 * acts of an operator: reset (which never moves anything), then go. It is checked once, before any table.
 *
 * This is a software stop of category 2 in the words of IEC 60204-1 (braked to rest, held under power). It is not
 * an emergency stop (ISO 13850): a rig that can hurt someone needs a hard-wired one.
 *
 * Stops are counted. Each stop raises `count`; go sets `permit` to the count it has seen; the rig moves only while
 * permit equals the highest count it has heard. So an intent that was under way when a stop was pressed cannot undo it,
 * in whatever order the datagrams arrive.
 */
#ifndef STEADYHAND_MOTION_STOP_H
#define STEADYHAND_MOTION_STOP_H

#include <stdbool.h>
#include <stdint.h>

#include "policy/motion/reason.h"

enum stop_state {
    STOP_LATCHED, /* stopped; only a reset leads on */
    STOP_READY,   /* reset; still at rest; go leads on */
    STOP_RUNNING, /* motion allowed */
    STOP_STATE_COUNT
};

enum stop_event { STOP_EVENT_NONE, STOP_EVENT_RESET, STOP_EVENT_GO, STOP_EVENT_COUNT };

struct stop {
    enum stop_state state;
    enum reason reason; /* why it is latched; REASON_AWAIT_GO while ready, REASON_NONE while running */
    uint64_t count;     /* stops so far in this session with the rig, >= 1; saturates, and then nothing ever moves */
    uint64_t permit;    /* the count that go was given for; motion only while permit == count */
    uint64_t asked;     /* the highest stop_input.asked so far */
};

struct stop_input {
    uint64_t asked;        /* grows with every stop people ask for, and only then; see gateway/core/stop_line.h */
    enum reason asked_why; /* of the first of them that is newer than the last step */
    enum reason inhibit;   /* a condition that forbids motion now, or REASON_NONE */
    enum stop_event event; /* at most one a tick; reset and go come only from an operator */
};

/* Starts latched with REASON_STARTED_UP, count 1, permit 0. */
void stop_init(struct stop *stop);

/*
 * One tick. Any newly asked stop (asked > stop->asked), or an inhibit, latches, whatever the state and whatever the
 * event; in STOP_READY too, as what was reset is no longer what go would start. A reset is honoured only without an
 * inhibit; go only in STOP_READY, without an inhibit. Anything else is ignored.
 *
 * Each latch raises count by at least one, and to at least 1 + asked: the rig may have heard that count from a stop
 * datagram already, and would never obey a smaller permit. `asked` is compared with the last one, not with count: an
 * inhibit in the same moment may have raised count as far, and the stop must still cancel the event of this tick.
 *
 * Values out of range count as the safe ones: an unknown reason is REASON_STOP_OPERATOR (asked) or REASON_RIG_FAULT
 * (inhibit), an unknown event is none.
 */
void stop_step(struct stop *stop, const struct stop_input *in);

static inline bool stop_allows_motion(const struct stop *stop)
{
    return stop->state == STOP_RUNNING && stop->permit == stop->count;
}

/* "stopped", "ready", "running": stable, for machines. Static; "unknown" for a value out of range. */
const char *stop_state_name(enum stop_state state);

/* Every field in range and in step with the others. A state that is not is treated as latched. */
bool stop_valid(const struct stop *stop);

#endif
