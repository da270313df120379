/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The stop state machine. A stop latches from any state and keeps its first reason; ending it takes two deliberate acts
 * of an operator: reset (which never moves anything), then go; three where power was removed: reset, arm, go. A stop is
 * looked for once, before any table.
 *
 *              arm               go                       +---- go -----+
 *   PARKED ---------> ARMED -----------> RUNNING -- hold --> HOLDING ---+
 *      ^    <--------   |                   |                  |
 *      |      park      +---- any stop, any inhibit -----------+--------> LATCHED -- reset --> ARMED (category 2)
 *      +----------------------------- park (from HOLDING), reset (category 0, 1) ---------------+
 *
 * Stop categories are those of IEC 60204-1: 0 power off at once, 1 braked to rest, then power off, 2 braked to rest and
 * held under power. While latched a stop can only become more severe. It is a software stop, not an emergency stop (ISO
 * 13850): a rig that can hurt someone needs a hard-wired one.
 *
 * Stops are counted. Each stop, and each hold, raises `count`; go sets `permit` to the count it has seen; the rig moves
 * only while permit equals the highest count it has heard. So an intent that was under way when a stop was pressed
 * cannot undo it, in whatever order the datagrams arrive.
 */
#ifndef STEADYHAND_MOTION_STOP_H
#define STEADYHAND_MOTION_STOP_H

#include <stdbool.h>
#include <stdint.h>

#include "policy/motion/reason.h"

enum stop_state {
    STOP_PARKED,  /* secured rest, disarmed, drives without power; arm leads on */
    STOP_LATCHED, /* stopped; only a reset leads on */
    STOP_ARMED,   /* at rest under power; go leads on */
    STOP_RUNNING, /* motion allowed */
    STOP_HOLDING, /* braked to rest and held under power, without a stop; go leads on */
    STOP_STATE_COUNT
};

enum stop_event {
    STOP_EVENT_NONE,
    STOP_EVENT_ARM,
    STOP_EVENT_RESET,
    STOP_EVENT_GO,
    STOP_EVENT_HOLD,
    STOP_EVENT_PARK,
    STOP_EVENT_COUNT
};

/* IEC 60204-1. The lower, the more severe. */
enum stop_category { STOP_CATEGORY_0, STOP_CATEGORY_1, STOP_CATEGORY_2 };

struct stop {
    enum stop_state state;
    enum reason reason;          /* why it does not move; REASON_NONE while running */
    enum stop_category category; /* of the stop in force; 2 while none is */
    uint64_t count;  /* stops so far in this session with the rig, >= 1; saturates, and then nothing moves */
    uint64_t permit; /* the count that go was given for; motion only while permit == count */
    uint64_t asked;  /* the highest stop_input.asked so far */
};

struct stop_input {
    uint64_t asked;        /* grows with every stop people ask for, and only then; see gateway/core/stop_line.h */
    enum reason asked_why; /* of the first of them that is newer than the last step */
    enum stop_category asked_category; /* the most severe of them */
    enum reason inhibit;               /* a condition that forbids motion now, or REASON_NONE */
    enum stop_category inhibit_category;
    bool asserted;         /* a stop control is still pressed: an inhibit like any other */
    bool moving;           /* the platform is not known to stand still */
    bool unpowered;        /* the rig says that its drives are without power */
    bool unconfirmed;      /* the rig has not obeyed the stop in force within its time (stop_watch.h) */
    enum stop_event event; /* at most one a tick; all but hold come only from an operator */
    enum reason hold_why;  /* of a hold: who */
};

/* What became of the event. */
enum stop_answer {
    STOP_NOT_ASKED,   /* there was none */
    STOP_DONE,        /* honoured */
    STOP_OUT_OF_TURN, /* it leads nowhere from this state */
    STOP_FORBIDDEN,   /* by a stop or an inhibit in the same moment */
    STOP_MOVING,      /* it needs standstill */
    STOP_UNPOWERED,   /* it needs the drives under power */
    STOP_ANSWER_COUNT
};

/* Starts parked with REASON_STARTED_UP, count 1, permit 0. */
void stop_init(struct stop *stop);

/*
 * One tick. Any newly asked stop (asked > stop->asked) latches, from any state and whatever the event; so does an
 * inhibit, from any state under power. Parked, an inhibit only refuses what is asked for: there is nothing to stop. A
 * stop pressed while parked latches all the same, so that whoever pressed it finds it in force; as there is no power to
 * keep, it is of category 1 at least.
 *
 *   arm    parked -> armed               at standstill
 *   reset  latched -> armed              at standstill, if it was of category 2 and the drives have power; else parked
 *   go     armed, holding -> running     drives under power
 *   hold   armed, running, holding -> holding
 *   park   armed, holding -> parked      at standstill
 *
 * Each only without an inhibit; anything else is ignored.
 *
 * Each latch raises count by at least one, and to at least 1 + asked: the rig may have heard that count from a stop
 * datagram already, and would never obey a smaller permit. `asked` is compared with the last one, not with count: an
 * inhibit in the same moment may have raised count as far, and the stop must still cancel the event of this tick. Each
 * hold raises it too: a go that was pressed before it was seen is void.
 *
 * Values out of range count as the safe ones: an unknown reason is REASON_STOP_OPERATOR (asked), REASON_HOLD_OPERATOR
 * (hold) or REASON_RIG_FAULT (inhibit), an unknown event is none, an unknown category is 0. A state that is not valid
 * latches with category 0; whatever it was, it is valid after the step.
 */
enum stop_answer stop_step(struct stop *stop, const struct stop_input *in);

static inline bool stop_allows_motion(const struct stop *stop)
{
    return stop->state == STOP_RUNNING && stop->permit == stop->count;
}

/* One act, or none, is between this state and motion: what was checked before it is what moves. */
static inline bool stop_is_armed(enum stop_state state)
{
    return state == STOP_ARMED || state == STOP_RUNNING || state == STOP_HOLDING;
}

/* Shall the drives be powered? */
static inline bool stop_powers(const struct stop *stop)
{
    return stop_is_armed(stop->state) || (stop->state == STOP_LATCHED && stop->category == STOP_CATEGORY_2);
}

/* The more severe of two; what is no category is 0. */
static inline enum stop_category stop_severer(enum stop_category a, enum stop_category b)
{
    if ((unsigned)a > STOP_CATEGORY_2 || (unsigned)b > STOP_CATEGORY_2)
        return STOP_CATEGORY_0;
    return a < b ? a : b;
}

/* "parked", "stopped", "armed", "running", "holding": stable, for machines. Static; "unknown" for a value out of range.
 */
const char *stop_state_name(enum stop_state state);

/* Every field in range and in step with the others. */
bool stop_valid(const struct stop *stop);

#endif
