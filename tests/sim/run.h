/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * One run: a scene from its seed, and everything that happens in it, tick by tick in virtual time.
 *
 *   people -> core (the real policy) -> network -> machine -> sensors -> network -> core
 *                                                     \-> the judge of what is true
 */
#ifndef STEADYHAND_SIM_RUN_H
#define STEADYHAND_SIM_RUN_H

#include "gateway/rig/link_report.h"
#include "tests/sim/people.h"
#include "tests/sim/sense.h"
#include "tests/sim/truth.h"

enum { RUN_TICKS = 2500 };

/* Core, as far as it is not the policy: what it last heard. */
struct run_core {
    struct policy policy;
    struct rig_report rig;
    struct link_report_clock clock;
    /* Of the newest telemetry: the rig's clock, ours, the stop count it has heard. */
    uint64_t rig_ns, heard_ns, confirmed;
    uint64_t sent;    /* intents and stops so far: their sequence */
    uint64_t last_ns; /* when the last tick was */
};

/* One axis of the head while its wish stays the same: aim.h. */
struct run_axis {
    double wish;
    int sign;            /* of the last rate that was one */
    bool rests;          /* it had none in the last tick */
    int turned, started; /* so many times since */
};

struct run_aim {
    struct run_axis axis[HEAD_AXES];
    double alike_s; /* the head has been wished the same for so long */
    bool seen;      /* something is in the picture that came there in setup */
    double least_m; /* from the picture to what it must not show */
};

/* What only the test knows: it is what the checks judge by. */
struct run_account {
    bool pressed, late, absent; /* in this tick */
    double elapsed_s;           /* since the last one */
    uint64_t heard_ns;          /* when telemetry with a new sequence was last heard */
    int spoilt;                 /* so many of these in a row */

    bool reset_seen, go_seen; /* since the last stop */
    bool arm_seen;            /* since the power was last off */
    bool moved;               /* motion was permitted in the last tick */
    uint64_t moved_ns;        /* when it last was */
    struct vec3 sent, change; /* velocity last sent; and by how much it changed then */
    struct vec3 wanted;
    int alike;      /* ticks in which the same was wanted */
    enum lane lane; /* of the last tick, like these: */
    enum limits_mode mode;
    struct limits limits;
    double ordinary_s;   /* how long motion has been ordinary: bounds.h */
    double halted_s;     /* how long motion has not been permitted, by core's ticks */
    uint64_t yielded_ns; /* when zones last yielded */
    uint64_t setup_ns;   /* when the mode was last setup */
    bool through;        /* somebody runs through the camera */
};

/* Since when a fault shows, and what has come of it: notice.h. */
struct run_notice {
    uint64_t shown_ns;                 /* 0: it does not show */
    double beyond_s[VOLUME_MAX_CORDS]; /* how long each cord has truly been beyond its limits */
    double slack_s[VOLUME_MAX_CORDS];  /* how long each has truly pulled nothing */
    double astray_s;                   /* how long an anchor has been so far off that a length tells */
    struct vec3 way;                   /* commanded since sensors froze, or motion was permitted since */
    double frozen_s;                   /* for so long */
    bool noticed;                      /* for a reason of its own, since it began to show */
    bool stopped;                      /* motion has not been permitted since then, for whatever reason */
    bool again;                        /* and then was, although it was still there */
    double took_s;                     /* the longest from showing to being noticed */
    bool ever;
};

struct run {
    struct scene scene;
    struct random random;
    struct machine machine;
    struct sense sense;
    struct people people;
    struct truth truth;
    struct post to_rig, to_core;
    struct run_core core;
    struct run_account account;
    struct run_notice notice;
    struct run_aim aim;
    double least_m; /* true clearance, as long as the promise held */
    uint64_t now_ns;
    int tick, steps;
    bool active; /* the fault is on */
    int on;      /* for so many ticks so far */
};

void run_init(struct run *run, uint64_t seed, enum fault fault);

/* What core sees in this tick; false if there is none: core is dead. */
bool run_input(struct run *run, struct policy_input *in);

/* Core's tick: what the policy says of it is sent. */
void run_core(struct run *run, const struct policy_input *in, struct policy_output *out);

/* The world goes on until the next tick. */
void run_on(struct run *run);

/* The longest that telemetry can be under way, and from one set of readings to the next [s]. */
double run_to_core_s(const struct run *run);
double run_report_s(const struct run *run);

#endif
