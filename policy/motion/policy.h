/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * One tick of the policy: everything known in, one intent out.
 *
 *   telemetry -> where is it (locate) -> faults -> stop -> mode -> limits -> lanes -> slow zones, lag, cords slow the
 * wish
 *     -> guard_steer -> jerk (profile) -> swing (shaper) -> guard_prove -> head -> cord rates, tensions -> intent +
 * reasons
 *
 * What forbids motion, by itself: telemetry that is late or frozen (REASON_RIG_LOST), that reports a fault
 * (REASON_RIG_FAULT), drives without power while armed (REASON_RIG_UNPOWERED), a position that cannot be (not finite, a
 * jump, more than a metre outside the box around anchors, stage and floor: REASON_POSITION_BAD) or whatever locating
 * finds wrong with it, a cord slack or overloaded, a rig that moves as it was not told to, lapsed presence
 * (REASON_DESK_LOST), a late tick (REASON_TICK_LATE). While it is forbidden the velocity ramps down along the last one,
 * whose braking path was proven, and intent.motion is false.
 *
 * Nothing between steering and the proof is trusted. Where the proof fails the rig is braked along what was sent last,
 * as hard as it can, until it is no faster than what is steered; then jerk limit and shaper go on from what was really
 * sent. A stop waits for neither.
 *
 * A place that is located is one for now, with what the age of its readings adds in its uncertainty; so no age is
 * counted again. guard.latency_s is counted whole all the same: what of it lies between measuring and receiving, and so
 * in those ages, cannot be told from the way there unless clocks agree.
 *
 * Astray: measured velocity further from all that lies between rest and what was sent within latency and lease than its
 * own error and a tenth of the speed sent explain, for longer than astray_s. Slower than told is not astray.
 *
 * Somebody: nothing comes nearer than S = K T + C to where they were seen (separation.h), T being the age of that, the
 * reaction and the time to brake from the greatest speed in force. An old report closes everything near by that.
 *
 * A spotter's hold is the mode LIMITS_LOW: a lower floor, and what yields does. When it lapses the rig stays where it
 * is; only what leads out is let through, and it leads near nothing else (volume_keep.h).
 *
 * A pure function of config, state and input: no I/O, no clock, no allocation, no globals. Replaying the recorded
 * inputs gives the same intents, bit for bit. Input may hold anything (NaN, infinities, jumps, silence): the
 * output is finite and within the limits all the same.
 */
#ifndef STEADYHAND_MOTION_POLICY_H
#define STEADYHAND_MOTION_POLICY_H

#include <stdint.h>

#include "policy/motion/anticipate.h"
#include "policy/motion/cords.h"
#include "policy/motion/guard.h"
#include "policy/motion/head.h"
#include "policy/motion/lanes.h"
#include "policy/motion/limits.h"
#include "policy/motion/locate.h"
#include "policy/motion/standstill.h"
#include "policy/motion/stop_watch.h"
#include "policy/motion/swing.h"
#include "policy/motion/swing_watch.h"
#include "policy/motion/view.h"

enum {
    POLICY_MAX_ZONES = 16,
    POLICY_SENT = 512, /* ticks that what was sent is remembered */
};

/* Where the camera may only be slowly. */
struct policy_zone {
    struct shape shape;
    double speed_mps; /* > 0 */
};

/* Somebody below or beside the camera, who moves as they like and whom the rig reports. */
struct policy_subject {
    bool watched;         /* false: nothing else here is looked at */
    bool required;        /* nothing moves before they have been reported */
    double radius_m;      /* > 0: they are within it ... */
    double height_m;      /* > 0: ... and below this, from z = 0 */
    double speed_mps;     /* > 0: they never go faster; walking counts as 1.6 m/s (ISO 13855) */
    double uncertainty_m; /* >= 0: of where they are reported */
};

/* The head. */
struct policy_head {
    bool there; /* false: nothing else here is looked at */
    struct head_config config;
    double share[LANE_COUNT]; /* 0..1: how much of each axis' speed that lane may use */
    double cross_s;           /* >= 0: see head.h */
    double aspect;            /* > 0 if there is something not to be shown: width of the picture over its height */
};

/* How it stops. */
struct policy_stop {
    enum stop_category inhibit; /* of a stop that no person asked for */
    struct stop_watch_config watch;
};

/* All of it, checked once by policy_config_valid(), constant while a show runs. What may be left out is, where it is
 * all zero. */
struct policy_config {
    struct guard_config guard;
    struct lanes_config lanes;
    struct limits_table limits;    /* what each lane may do in each mode */
    uint64_t telemetry_timeout_ns; /* > 0: older telemetry is lost telemetry */
    uint64_t presence_timeout_ns;  /* > 0 */
    struct policy_stop stop;
    bool presence_required;      /* an operator must be connected and alive while running */
    uint64_t spotter_timeout_ns; /* a spotter's hold lapses after this; 0: there is no low flight */
    double jump_mps;  /* > 0: a position that moves faster than this (and than latency and uncertainty explain) jumps */
    double yaw_radps; /* >= 0: a body whose yaw is reported never turns faster by itself; cords do not hold it */

    bool locates; /* where the platform is, is worked out (locate.h); else the pose is believed as it is */
    struct locate_config locate; /* only if it locates */
    double astray_s;  /* it moving otherwise than told for longer is a fault; 0: not watched. If it locates */
    bool anticipates; /* cord tensions are looked ahead to */
    struct anticipate_config anticipate;
    struct swing_plan swing; /* made by swing_make_plan(); without taps nothing is shaped */
    bool watches_swing;      /* how much the body swings is worked out from its tilt, where the rig tells that too */
    struct swing_watch_config swing_watch;
    struct policy_head head;
    struct policy_subject subject;
    int zones;
    struct policy_zone zone[POLICY_MAX_ZONES];
    struct view view; /* what the picture must never show, by view_prepare(); not held in setup: that is the way out */
};

/* What the rig last reported. Telemetry must be received within guard.latency_s of being measured. */
struct rig_report {
    bool ever;            /* anything was received in this session */
    uint64_t received_ns; /* core's clock */
    uint64_t seq;         /* of the telemetry; must grow, else it is frozen. Anew after the rig was lost */
    struct vec3 position; /* m; this and its uncertainty count where the config does not locate */
    double uncertainty_m;
    struct locate_report where; /* all that it measures, where the config locates; its seq and received_ns are not
                                   looked at */
    double swing_rad;           /* amplitude, 0 if the rig does not measure it; where the tilt says more, that counts */
    bool fault;                 /* the rig says it cannot move safely */
    bool moving;                /* the rig says that it moves, or is about to */
    bool unpowered;             /* the rig says that its drives are without power, brakes set */
    uint64_t stop_count;        /* the highest that the rig has heard in this session, 0: none */

    bool yaw_known; /* of the body; else it may be anything */
    double yaw_rad, yaw_off_rad;
    bool head_known;
    double head[HEAD_AXES]; /* rad, zoom: magnification */
    double head_off;        /* >= 0: how wrong they may be, rad and magnification alike */
    bool subject_known;
    struct vec3 subject;
    double subject_age_s; /* >= 0: since they were seen there, when this was received */
};

/* New limits of the session, from a desk. */
struct policy_limits_request {
    uint32_t id; /* a new id is a new request, 0 is none */
    enum lane lane;
    struct limits limits;
    bool by_operator;
};

struct policy_input {
    uint64_t now_ns; /* monotonic */
    struct rig_report rig;
    struct stop_input stop; /* .inhibit, .moving, .unpowered and .unconfirmed are filled by the policy itself, and what
                               the caller puts there is honoured too; .inhibit_category is the config's */
    struct lanes_input lanes;
    uint64_t presence_ns; /* when an operator was last heard, 0 = never */
    bool tick_late;       /* core overran: brake and latch */

    double lag_s; /* >= 0: how much later than the camera the audience sees it; not a number: the worst there is */
    bool setup;   /* people are at the rig: the operator alone, at reduced speed */
    uint64_t spotter_ns; /* when a spotter's hold was last heard, 0 = never */
    struct policy_limits_request limits;
    double head_wish[HEAD_AXES]; /* the operator's, -1..1 of what their lane may use of each axis' speed */
    bool head_home;              /* the head is to go home */
};

/* Where somebody was seen last. */
struct policy_seen {
    bool known;
    struct vec3 at;
    uint64_t seen_ns;
};

struct policy_sent {
    struct vec3 velocity;
    uint64_t at_ns;
};

/* Where the platform is taken to be. */
struct policy_place {
    struct vec3 position, velocity; /* m, m/s; velocity only if it is located */
    double uncertainty_m;
    unsigned sources; /* locate_bit() of those that were used */
};

/* Between what is steered and what is proven: jerk, and the shaper against swing. */
struct policy_shape {
    struct profile3 profile;
    struct swing swing;
    struct vec3 ahead; /* m: how far the shaper still goes if nothing more is wished for */
    bool braking;      /* a proof has failed, and the rig is still faster than wished */
};

struct policy {
    struct stop stop;
    struct stop_watch stop_watch;
    struct standstill standstill;
    bool power_seen;   /* since it was armed the drives have had power */
    uint64_t armed_ns; /* when it was not armed last */
    struct lanes lanes;
    struct guard guard;
    struct rig_report last;    /* the last that was believed; .ever is false again while the rig is lost */
    struct policy_place place; /* the last that was known */
    uint64_t seen_seq;         /* of the last that was judged */
    bool seen_bad;             /* and it was not believed: no motion until a better one comes */
    uint64_t stepped_ns;       /* when the last step was, 0 = never */
    bool moved;                /* motion was allowed in it */

    struct limits_layer layer;
    enum limits_answer limits_answer; /* to the request ... */
    uint32_t limits_id;               /* ... which was this, 0: none */
    struct locate locate;
    struct anticipate anticipate;
    uint64_t tension_ns; /* when tensions were last received, 0 = never */
    struct swing_watch swing_watch;
    uint64_t tilt_ns; /* when the tilt was last received, 0 = never */
    struct policy_seen subject;
    struct policy_shape shape;
    struct head head;
    bool view_held[2]; /* the platform, the head: held back from what must not be seen */
    int sent_next;
    struct policy_sent sent[POLICY_SENT]; /* a ring, if the config watches for astray */
    double astray_s;                      /* how long it has moved otherwise than told */
};

/* One vetted, expiring command. */
struct intent {
    struct vec3 velocity; /* m/s */
    int cords;
    double cord_rate_mps[VOLUME_MAX_CORDS];
    double cord_tension_n[VOLUME_MAX_CORDS]; /* wanted: the middle of what is feasible; 0: none in particular */
    double head_rate[HEAD_AXES];             /* rad/s, zoom 1/s */
    bool motion;                             /* false: brake to rest and hold, whatever the velocity says */
    bool power;                              /* false: set the brakes and take the power off the drives ... */
    enum stop_category category;             /* ... at once for category 0, else when at rest */
    uint64_t stop_count;                     /* see stop.h */
    uint64_t permit;
};

struct policy_output {
    struct intent intent;
    enum stop_state stop_state;
    enum reason stop_reason;
    enum stop_category stop_category;
    enum stop_answer stop_answer; /* to input's stop.event */
    bool at_rest;                 /* measured: see standstill.h */
    enum lane lane;
    struct vec3 wanted; /* m/s, what the driving lane asked for */
    reason_set reasons; /* what applied in this tick; reason_first() of it and stop_reason is the one to show */
    struct guard_output guard;
    bool goal_set;
    struct vec3 goal;

    enum limits_mode mode;
    struct limits limits;             /* in force for the driving lane */
    enum limits_answer limits_answer; /* to the newest request ... */
    uint32_t limits_id;               /* ... which was this, 0: there was none */
    struct policy_place place;
    double tension_margin_n;                   /* least distance of a cord from a limit; 0 if it does not anticipate */
    int tension_cord;                          /* whose */
    struct reason_detail detail[REASON_COUNT]; /* of the reasons that apply, and of stop_reason */
};

bool policy_config_valid(const struct policy_config *cfg);

/* Stopped, at rest, knowing nothing; for policy_step with the same config. */
void policy_init(const struct policy_config *cfg, struct policy *policy);

void policy_step(const struct policy_config *cfg, struct policy *policy, const struct policy_input *in,
                 struct policy_output *out);

#endif
