/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Why what moves differs from what was asked. One enum; each reason has a stable code for machines, a sentence for
 * viewers and one for the desk. A verdict carries values (which keep-out, how far: struct reason_detail); text is made
 * from it, never parsed.
 */
#ifndef STEADYHAND_MOTION_REASON_H
#define STEADYHAND_MOTION_REASON_H

#include <stdint.h>

/* Order is precedence: where several apply, the first is the one shown. The numbers are written to the bus and the
 * journal, with a version. */
enum reason {
    REASON_NONE,
    REASON_STOP_UNCONFIRMED, /* the rig has not confirmed a stop in time, or not come to rest: how long it is waited for
                              */
    REASON_STARTED_UP,       /* core has just started: parked until arm and go */
    REASON_STOP_OPERATOR,    /* somebody pressed STOP */
    REASON_STOP_SPOTTER,
    REASON_STOP_MODERATOR,
    REASON_STOP_INPUT,       /* a wired stop control is pressed */
    REASON_RIG_TAKEN,        /* the rig obeys another core */
    REASON_RIG_LOST,         /* no fresh telemetry, or none of the cords' tensions where they are measured */
    REASON_RIG_STOPPED,      /* the rig has stopped by itself: an intent expired, or it brakes though told to move */
    REASON_RIG_FAULT,        /* the rig reports a fault, or a stop of its own */
    REASON_RIG_UNPOWERED,    /* armed, but the rig says that its drives are without power */
    REASON_CORD_SLACK,       /* a cord has been slack for too long: value, limit, which */
    REASON_CORD_OVERLOAD,    /* a cord has pulled too much for too long: value, limit, which */
    REASON_RIG_ASTRAY,       /* it moves as it was not told to: by how much, how much is explained */
    REASON_DESK_LOST,        /* required presence at the desk has lapsed */
    REASON_POSITION_BAD,     /* position not finite, jumped, or outside the room */
    REASON_POSITION_JUMP,    /* all sources at once are elsewhere: how far, how far it can be */
    REASON_POSITION_FROZEN,  /* a source stands still over so much commanded way */
    REASON_SENSORS_DISAGREE, /* sources contradict each other: by how much, by how much they may; which */
    REASON_ANCHOR_MOVED,     /* one cord's length is off for good: by how much, by how much it may; which */
    REASON_POSITION_VAGUE,   /* where it is is known too badly: how badly, how badly it may */
    REASON_OUT_OF_VOLUME,    /* the rig overlaps a boundary: only moves that recede */
    REASON_TICK_LATE,        /* core missed its own deadline: time between two ticks, the most there may be */
    REASON_HOLD_OPERATOR,    /* somebody pressed hold: the pose is kept under power */
    REASON_HOLD_SPOTTER,
    REASON_HOLD_MODERATOR,
    REASON_PARKED,          /* secured rest, drives without power, not armed */
    REASON_AWAIT_GO,        /* armed, not yet told to go */
    REASON_LIMITS_ARMED,    /* looser limits were asked for while armed, or not by an operator: refused */
    REASON_OPERATOR_HAS_IT, /* a lower lane asked while the operator holds control */
    REASON_AUDIENCE_CLOSED,
    REASON_CROWD_SILENT,    /* no fresh snapshot from any edge */
    REASON_BAD_WISH,        /* a wish that was not finite or out of range */
    REASON_SPOTTER_NEEDED,  /* slowed or stopped by what yields while a spotter holds: distance, margin; which, if a
                             * keep-out */
    REASON_SUBJECT_NEAR,    /* slowed or stopped by the distance kept from a subject: distance, margin */
    REASON_KEEPOUT,         /* slowed or stopped by a keep-out: distance, margin, which */
    REASON_TETHER_END,      /* slowed or stopped by the end of the tether: distance, margin */
    REASON_OUT_OF_REACH,    /* slowed or stopped by where the cords can hold it: distance, margin */
    REASON_STAGE_EDGE,      /* slowed or stopped by the edge of the stage: distance, margin */
    REASON_VIEW,            /* the head, or the camera with it, would see what it must not: which */
    REASON_TENSION_LIMIT,   /* slowed as a cord comes near a limit: pull, limit, which */
    REASON_SLOW_ZONE,       /* slowed by a slow zone: wished, allowed, which */
    REASON_LAG_LIMIT,       /* slowed as the audience sees it late: wished, allowed */
    REASON_HEAD_LOST,       /* where an axis of the head stands is not known: it is braked; which */
    REASON_HEAD_RECOVERING, /* the head is on its way home, or waits for its lane to let go */
    REASON_HEAD_REGION,     /* the head is kept out of a region in which it vibrates */
    REASON_HEAD_LIMIT,      /* the head is at the end of an axis, or as fast as it may */
    REASON_SWING,           /* the body swings too much to go on: amplitude, limit */
    REASON_SPEED_LIMIT,     /* wish above the speed in force: wished, allowed */
    REASON_COUNT
};

/* One bit a reason, all that applied in a tick. */
typedef uint64_t reason_set;

static inline reason_set reason_bit(enum reason r)
{
    return r == REASON_NONE ? 0 : (reason_set)1 << r;
}

/* The numbers behind a reason, where it has any; all finite. */
struct reason_detail {
    double value, limit; /* in reason_unit(); both 0: none */
    int index;           /* which, of what reason_index() says; -1: none in particular */
};

/* What an index counts. */
enum reason_index {
    REASON_INDEX_NONE,
    REASON_INDEX_CORD,
    REASON_INDEX_KEEPOUT, /* volume.keepout */
    REASON_INDEX_ZONE,    /* policy_config.zone */
    REASON_INDEX_VIEW,    /* policy_config.view */
    REASON_INDEX_AXIS,    /* enum head_axis */
    REASON_INDEX_SOURCE   /* enum locate_source */
};

/* The first in precedence, REASON_NONE if the set is empty. */
enum reason reason_first(reason_set set);

/* "keepout", "rig-lost", ...: stable, lower case, [a-z-]. Static strings; "unknown" for a value out of range. */
const char *reason_code(enum reason r);
const char *reason_for_viewers(enum reason r);
const char *reason_for_desk(enum reason r);

/* Of value and limit: "m", "m/s", "N", "rad", "" for those that have none or no single one. Static strings. */
const char *reason_unit(enum reason r);
enum reason_index reason_index(enum reason r);

#endif
