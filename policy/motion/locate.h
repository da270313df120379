/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where the platform is, how fast, and how wrong that can be, from whatever the rig reports: any of position, cord
 * lengths, cord tensions, downward range and tilt, each with its noise and age.
 *
 *   report -> reading -> least squares by itself -> agrees with itself, and with the prediction? -> filter -> now
 *              (locate_reading.h)  (locate_solve.h)             (locate_watch.h)                 (locate_filter.h)
 *
 * The uncertainty is a bound, met 99.73 % of the time while the config and the stated noises are true: what noise,
 * biases within their bounds and a manoeuvre within the acceleration limit can do, each by itself in the output. It may
 * feed guard_input.uncertainty_m. Where the sources are poor it is large and says so: tensions alone, wrong by 1 to
 * 3 %, place the platform to 18 to 250 mm.
 *
 * Faults recommend a hold; they are judged anew with every report, and none is hidden by the filter going on. They do
 * not latch here: whoever holds latches. A fix that is rejected, as a jump or for disagreement, is a fault for as long,
 * and sound fixes are believed anew after again_s, wherever they are. What a fault puts in doubt, as far as can be
 * told, is added to the uncertainty while it lasts. Undetectable, as nothing contradicts it: one source alone that
 * drifts slowly, three lengths of which one is wrong, anything below the limits in the details.
 *
 * A pure function of config, state and input: no I/O, no clock, no allocation, no globals. Input may hold anything: the
 * output is finite, and a fault says why it is of no use.
 */
#ifndef STEADYHAND_MOTION_LOCATE_H
#define STEADYHAND_MOTION_LOCATE_H

#include "policy/motion/locate_filter.h"
#include "policy/motion/locate_frozen.h"
#include "policy/motion/locate_watch.h"

/* Order is precedence; the numbers are stable: append before LOCATE_FAULTS. */
enum locate_fault {
    LOCATE_SOUND,
    LOCATE_BAD_VALUE,  /* a reading, its noise or its age is not finite or cannot be; value: sources, as bits */
    LOCATE_NOT_ENOUGH, /* too long without a full fix; value, limit: seconds */
    LOCATE_FROZEN,     /* readings, or the sequence, stand still; value, limit: metres of way, or seconds of sequence */
    LOCATE_JUMP,       /* all sources together are elsewhere than the platform can be; value, limit: metres */
    LOCATE_DISAGREE,   /* sources contradict each other: at once (value, limit in sigmas) or lasting (in the unit of
                        * the source: m or N) */
    LOCATE_ANCHOR, /* one cord's length is off for good: an anchor has moved, a winch slipped; value, limit: metres */
    LOCATE_UNCERTAIN, /* more than uncertainty_max_m; value, limit: metres */
    LOCATE_FAULTS
};

struct locate_detail {
    double value, limit;
    enum locate_source source; /* LOCATE_SOURCES: none in particular, or not to be told */
    int cord;                  /* -1: likewise */
};

struct locate_output {
    struct vec3 position;      /* m, at now_ns; the last known, if there is none */
    struct vec3 velocity;      /* m/s */
    struct mat6 covariance;    /* of the filter's own model: position, then velocity, at the newest reading */
    struct locate_error error; /* of the position, at now_ns: noise, bias, manoeuvre */
    double doubt_m;            /* what faults add */
    double uncertainty_m;      /* all of it; SHAPE_FAR_M if the position is not known */
    double velocity_error_mps; /* likewise for the velocity, without doubt */
    bool known;                /* there is a position at all */
    bool hold;                 /* any fault: motion should be held */
    enum locate_fault fault;   /* the first in precedence */
    unsigned faults;           /* 1 << enum locate_fault */
    struct locate_detail detail[LOCATE_FAULTS]; /* where the bit is set */
    unsigned used;                              /* sources of the last report that were taken in */
};

struct locate {
    bool stepped, heard, known;
    uint64_t stepped_ns, heard_ns, seq; /* heard_ns: when the last report with a new seq came */
    uint64_t stuck_ns;                  /* when the last one without came */
    uint64_t epoch_ns;                  /* the filter's time */
    uint64_t full_ns;                   /* of the last full fix that was believed */
    uint64_t watched_ns;                /* when the watch was last added to */
    struct locate_filter filter;
    struct locate_watch watch;
    struct locate_frozen frozen;
    int rejected;  /* fixes in a row */
    double gate_m; /* the limit of a jump when the first of them came */
    unsigned faults, used;
    struct locate_detail detail[LOCATE_FAULTS]; /* of the last report */
    double doubt_m;
};

bool locate_config_valid(const struct locate_config *cfg);

/* Knows nothing. Also for each new session with the rig, as the sequence begins anew. */
void locate_init(struct locate *locate);

/*
 * One tick. now_ns: monotonic, as report->received_ns. report: the last received, or NULL if there is none; the same
 * one may be passed again. commanded: the velocity [m/s] the rig has last been sent and permitted, 0 if none; one
 * that cannot be counts as 0.
 */
void locate_step(const struct locate_config *cfg, struct locate *locate, uint64_t now_ns,
                 const struct locate_report *report, struct vec3 commanded, struct locate_output *out);

/* "bad-value", "not-enough", "frozen", "jump", "disagree", "anchor", "uncertain", "sound": stable. Static strings;
 * "unknown" for a value out of range. */
const char *locate_fault_code(enum locate_fault fault);

/* "pose", "length", "tension", "range", "tilt", "none". */
const char *locate_source_code(enum locate_source source);

#endif
