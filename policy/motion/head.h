/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The head: pan, tilt, roll and zoom; wanted rates in, rates that keep every limit out.
 *
 * Each axis is a jerk-limited profile (profile.h). A tick's step is taken only if all the head can still run through
 * keeps out of what is forbidden; otherwise the axis takes the largest part of it that does, or brakes, which was
 * proven when the last step was taken. Run through, by an axis at q with velocity v:
 *
 *   q  -+ uncertainty  + what is under way  + the stop from v on (profile_stop_in_ticks)
 *
 * Under way: the report is old by latency + age, intents can be late or lost, and if core dies just after sending, the
 * axis turns on as it was last told until the lease lapses, then brakes as hard as its limits or harder. So at any time
 * it may follow any rate sent within the window W = latency + age + lease before. With r_0 = v, r_-1, .. what was sent,
 * r_1, .. the stop to come and p_i the part of r_i that turns one way, it turns that way no further than
 *
 *   sum over i >= 1 of max(p_i-n, .., p_i) dt,  n = W / dt
 *     <=  the stop's own way + W p + sum over k in 0..n of (max(p_0, .., p_-k) - p_1)+ dt,
 *
 * p the greatest of the stop: it gets there at once, and stays W longer. An axis that has crept up to an end for W
 * needs no more room there than W times its speed, so it gets there. A tick that is late is as an intent that was:
 * after it, braking takes as many steps as it lasted ticks, so that a stop is no longer than it was to be.
 *
 * Forbidden are positions beyond an axis' limits, and boxes of pan x tilt x roll in which the head vibrates, grown by
 * `clear`. Axes decide one after the other, each against what the others run through, so the whole box they may be in
 * stays out; an axis that is blocked does not hold up one that is not. Where the head is beyond a boundary already (by
 * hand, by drift, by noise, a limit moved in), the boundary is where it comes to rest from there: it can go back, or
 * along, never further. Of a region only the face that kept it out last gives way like that, so noise at an edge does
 * not let it in round the corner.
 *
 * Inside a region proper, or when asked, the head recovers: it goes home by a way outside the regions (head_way.h).
 * Lanes are not heard meanwhile. After a recovery from a region they are not heard before they let go (ask for nothing)
 * or `rest_s` has passed; and they stop `clear` short of the region. A way that does not end within `recover_s` (the
 * gap it needs is narrower than the uncertainty, a motor is stuck) is given up, so lanes are heard again. So a lane
 * that keeps pushing towards one makes the head stand still in front of it, not go to and fro.
 *
 * Comfort: an object should take cross_s to pass through the frame, 7 s or more by common practice in panning, so pan
 * is capped to the horizontal field of view / cross_s. hfov = 2 atan(tan(hfov_wide / 2) / magnification), of a lens
 * free of distortion. The cap follows the zoom; where that is not known, the longest focal length counts.
 *
 * Pure. Callers own all memory. Whatever comes in, what comes out is finite and within the axes' limits.
 */
#ifndef STEADYHAND_MOTION_HEAD_H
#define STEADYHAND_MOTION_HEAD_H

#include "policy/motion/head_way.h"
#include "policy/motion/profile.h"

enum { HEAD_SENT = 512 }; /* ticks that rates are remembered; before that they count as the axis' speed */

enum head_axis { HEAD_PAN, HEAD_TILT, HEAD_ROLL, HEAD_ZOOM, HEAD_AXES };

/* Pan, tilt, roll in rad; zoom in magnification, 1 = widest. An axis that is not there has min = max = home. */
struct head_axis_config {
    double min, max, home; /* min <= home <= max */
    struct profile_limits limits;
};

struct head_config {
    struct head_axis_config axis[HEAD_AXES];
    struct head_region region[HEAD_MAX_REGIONS];
    int regions;
    double clear_rad;     /* > 0 where there are regions: more than the noise of the position */
    double hfov_wide_rad; /* 0 < .. < pi: at magnification 1 */
    double latency_s;     /* >= 0: command to motion, and motion to telemetry, together */
    double lease_s;       /* >= 0: how long an axis turns on as it was told if it hears nothing more */
    double arrived;       /* > 0: this near to home is home, rad and magnification alike */
    double rest_s;        /* >= 0: after a recovery, see above */
    double recover_s;     /* > 0: a way home that takes longer than this is given up */
    double dt_s;          /* > 0: tick */
};

struct head_input {
    double position[HEAD_AXES]; /* reported; one that is not finite, or far beyond the limits, is lost: it brakes */
    double uncertainty;         /* >= 0, rad and magnification alike */
    double age_s;               /* >= 0: since the positions were received */
    double elapsed_s;           /* since the last step, as it was; less than a tick, and no number, count as one */
    double wanted[HEAD_AXES];   /* rates, of the driving lane; one that is not finite counts as none */
    double cross_s;             /* >= 0: see above; 0 for no cap, what is no number counts as 7 */
    bool go_home;               /* recover now */
};

struct head {
    struct head_way way;
    struct profile axis[HEAD_AXES];    /* what was last sent */
    double sent[HEAD_SENT][HEAD_AXES]; /* rates, a ring */
    unsigned sent_next;
    bool recovering;
    int8_t side[HEAD_MAX_REGIONS]; /* which face of each region keeps it out: 2 * axis + (beyond `to`); -1: none yet */
    bool from_region;              /* because it was found in a region, not because it was asked */
    bool leaving;                  /* and it has not been outside the regions yet: none holds it back */
    bool gave_up;                  /* and does not try again before it is outside, or asked anew */
    double way_s;                  /* how long it has been on the way home */
    double deaf_s;                 /* how long lanes that do not let go are still not heard */
};

/* Why rates differ from what was wanted; one bit each. */
enum head_note {
    HEAD_BAD_WISH = 1 << 0,      /* a wish that was not finite */
    HEAD_RATE_LIMIT = 1 << 1,    /* wanted more than the axis' speed */
    HEAD_COMFORT = 1 << 2,       /* pan was cut to the comfortable cap */
    HEAD_AT_LIMIT = 1 << 3,      /* slowed or stopped by an axis' limit */
    HEAD_REGION = 1 << 4,        /* slowed or stopped by a forbidden region */
    HEAD_RECOVERING = 1 << 5,    /* on the way home; lanes are not heard */
    HEAD_LET_GO = 1 << 6,        /* back from a region, and the lane has not let go yet */
    HEAD_NO_WAY = 1 << 7,        /* should go home, and no way leads there outside the regions: lanes are heard */
    HEAD_POSITION_LOST = 1 << 8, /* where an axis is is not known: it is braked */
};

struct head_output {
    double rate[HEAD_AXES]; /* finite, within the axes' speeds */
    unsigned notes;
};

/* All finite where they must be, limits as profile_limits_valid, and home clear of the grown regions. */
bool head_config_valid(const struct head_config *cfg);

/* At rest. Plans the ways home, for head_step with the same config. */
void head_init(struct head *head, const struct head_config *cfg);

/* One tick: dt_s, but for what elapsed. */
void head_step(const struct head_config *cfg, struct head *head, const struct head_input *in, struct head_output *out);

/* Stops all axes as fast as their limits allow, whatever is reported; a recovery under way is given up. */
void head_brake(const struct head_config *cfg, struct head *head, double elapsed_s, struct head_output *out);

/* Horizontal field of view [rad] at a magnification; what is not within the zoom's limits counts as the nearest. */
double head_hfov(const struct head_config *cfg, double magnification);

#endif
