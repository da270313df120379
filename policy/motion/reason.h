/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Why what moves differs from what was asked. One enum; each reason has a stable code for machines, a sentence for
 * viewers and one for the desk. A verdict carries values (which keep-out, how far); text is made from it, never parsed.
 */
#ifndef STEADYHAND_MOTION_REASON_H
#define STEADYHAND_MOTION_REASON_H

#include <stdint.h>

/* Order is precedence: where several apply, the first is the one shown. Append only before REASON_COUNT
 * within a release: the numbers are written to the bus and the journal. */
enum reason {
    REASON_NONE,
    REASON_STARTED_UP,    /* core has just started: disarmed until reset and go */
    REASON_STOP_OPERATOR, /* somebody pressed STOP */
    REASON_STOP_SPOTTER,
    REASON_STOP_MODERATOR,
    REASON_RIG_LOST,        /* no fresh telemetry */
    REASON_RIG_FAULT,       /* the rig reports a fault, or a stop of its own */
    REASON_DESK_LOST,       /* required presence at the desk has lapsed */
    REASON_POSITION_BAD,    /* position not finite, jumped, or outside the room */
    REASON_OUT_OF_VOLUME,   /* the rig overlaps a boundary: only moves that recede */
    REASON_TICK_LATE,       /* core missed its own deadline */
    REASON_AWAIT_GO,        /* reset, not yet told to go */
    REASON_OPERATOR_HAS_IT, /* a lower lane asked while the operator holds control */
    REASON_AUDIENCE_CLOSED,
    REASON_CROWD_SILENT, /* no fresh snapshot from any edge */
    REASON_BAD_WISH,     /* a wish that was not finite or out of range */
    REASON_KEEPOUT,      /* slowed or stopped by a keep-out */
    REASON_STAGE_EDGE,   /* slowed or stopped by the edge of the stage */
    REASON_SWING,        /* the body swings too much to go on */
    REASON_SPEED_LIMIT,  /* wish above the lane's speed */
    REASON_COUNT
};

/* One bit a reason, all that applied in a tick. */
typedef uint32_t reason_set;

static inline reason_set reason_bit(enum reason r)
{
    return r == REASON_NONE ? 0 : (reason_set)1 << r;
}

/* The first in precedence, REASON_NONE if the set is empty. */
enum reason reason_first(reason_set set);

/* "keepout", "rig-lost", ...: stable, lower case, [a-z-]. Static strings; "unknown" for a value out of range. */
const char *reason_code(enum reason r);
const char *reason_for_viewers(enum reason r);
const char *reason_for_desk(enum reason r);

#endif
