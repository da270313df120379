/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What each lane may do in each mode, and who may change that.
 *
 *   in force = commissioned table [lane][mode], tightened by the session's layer
 *
 * The table is signed off when the rig is commissioned and constant while a show runs. The layer is the session's: it
 * can only ever tighten, as the stricter of the two counts in every respect. Anyone responsible may make it tighter at
 * any time; making it looser again takes an operator, and a rig that is disarmed.
 *
 * Lag: viewers act on a picture `lag` old, so what moves at v has gone v lag unseen. The audience's speed is also at
 * most unseen_m / lag. What is not known to be less counts as LIMITS_LAG_WORST_S, the worst delay that live video has
 * in common use.
 *
 * Slow zones: a zone's own speed holds in all of it, whatever is under way: the speed is down when the camera comes to
 * the edge. Slowing down at a, a camera at D from the edge may have b(D) = sqrt(vz^2 + 2 a D) (uniform deceleration).
 * What is asked for comes true only T later, when b is less by a T:
 *   f(D) = max(vz, sqrt(vz^2 + 2 a D) - a T)
 * D is the distance whichever way the camera goes, so turning towards a zone can never be too fast.
 */
#ifndef STEADYHAND_MOTION_LIMITS_H
#define STEADYHAND_MOTION_LIMITS_H

#include <stdbool.h>

#include "policy/motion/shape.h"

/* The sources of wanted motion, in order of authority (lanes.h). */
enum lane { LANE_IDLE, LANE_AUDIENCE, LANE_OPERATOR, LANE_COUNT };

enum limits_mode {
    LIMITS_SETUP, /* people at the rig: the operator alone, at reduced speed */
    LIMITS_SHOW,
    LIMITS_LOW, /* a spotter holds the enabling device: lower, and keep-outs that yield do */
    LIMITS_MODES
};

#define LIMITS_JERK_FREE   1e6 /* m/s3: so much or more is no limit */
#define LIMITS_LAG_WORST_S 20.0
#define LIMITS_ACCEL_MIN   1e-3 /* m/s2: with less, a stop takes more ticks than can be counted exactly */
#define LIMITS_RAMP_MAX_S  10.0 /* an acceleration takes no longer to build up: accel / jerk */

struct limits {
    double speed_mps;          /* >= 0; of the table > 0 */
    double accel_mps2;         /* >= LIMITS_ACCEL_MIN */
    double jerk_mps3;          /* > 0 */
    double floor_m, ceiling_m; /* floor < ceiling: for body and boom, besides the stage's own */
    bool yields;               /* keep-outs that yield do so */
};

/* Of idle: acceleration, jerk and heights, for coming to rest. */
struct limits_table {
    struct limits cell[LANE_COUNT][LIMITS_MODES];
    double unseen_m; /* > 0: how far an audience may move the camera before it can see it; 0: not bounded by lag */
};

/* The session's own limits, for a lane in every mode. */
struct limits_layer {
    struct limits lane[LANE_COUNT];
};

enum limits_answer {
    LIMITS_TAKEN,
    LIMITS_IS_ARMED,     /* refused: looser than before, and the rig is armed */
    LIMITS_NOT_OPERATOR, /* refused: looser than before, and not asked by an operator */
    LIMITS_BAD           /* refused: no such lane, not numbers, jerk too low, or nowhere left to be */
};

/* Speeds and accelerations within 0 and SHAPE_FAR_M, a jerk that builds them up in time, heights in order; yielding
 * only in LIMITS_LOW; setup nowhere looser than the show, and low flight looser only in its floor and in what yields.
 */
bool limits_table_valid(const struct limits_table *table);

/* The stricter of the two in every respect. */
struct limits limits_tighter(const struct limits *a, const struct limits *b);

/* Nothing tightened. */
void limits_layer_init(const struct limits_table *table, struct limits_layer *layer);

/*
 * Asks for new limits of a lane. What is above the table's loosest cell of that lane counts as that cell, so taking
 * back all that a session has tightened is to ask for anything loose. On a refusal nothing changes. `yields` is the
 * spotter's alone and not looked at.
 */
enum limits_answer limits_layer_set(const struct limits_table *table, struct limits_layer *layer, enum lane lane,
                                    const struct limits *wanted, bool by_operator, bool armed);

/* The table's cell as the layer tightens it. A lane or mode that is not one: the idle lane, or the show. */
struct limits limits_in_force(const struct limits_table *table, const struct limits_layer *layer, enum lane lane,
                              enum limits_mode mode);

/* unseen_m / lag_s [m/s]; SHAPE_FAR_M where the table has no such bound, or there is no lag. */
double limits_unseen_mps(const struct limits_table *table, double lag_s);

/* f above [m/s]: distance_m from the zone's edge (inside: at most 0), zone_mps >= 0, accel_mps2 > 0, delay_s >= 0. */
double limits_near_zone_mps(double distance_m, double zone_mps, double accel_mps2, double delay_s);

/* "setup", "show", "low": stable. Static; "unknown" for a value out of range. */
const char *limits_mode_name(enum limits_mode mode);

#endif
