/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a rig may report about where it is, what is known of its sensors beforehand, and the errors that are told
 * apart. Shared by the parts of locate; see locate.h for what is made of it. */
#ifndef STEADYHAND_MOTION_LOCATE_TYPES_H
#define STEADYHAND_MOTION_LOCATE_TYPES_H

#include <stdint.h>

#include "policy/motion/volume.h"

enum locate_source {
    LOCATE_POSE,    /* x, y, z of the platform, from a tracking system or the rig's own reckoning */
    LOCATE_LENGTH,  /* anchor to platform, one a cord */
    LOCATE_TENSION, /* one a cord, at the platform */
    LOCATE_RANGE,   /* from the body down to the floor, along the boom */
    LOCATE_TILT,    /* lean of the body; places nothing by itself, but corrects range and tensions */
    LOCATE_SOURCES,
    LOCATE_PLACING = LOCATE_TILT /* the sources before it say something about the position */
};

/*
 * Everything that can be wrong, one a *term*: its noise moves the position by chance, its bias moves it for good.
 * Pose and wrench are vectors of three terms. The wrench is not reported: it is what else pulls at the platform.
 */
enum {
    LOCATE_TERM_POSE = 0,
    LOCATE_TERM_LENGTH = 3,
    LOCATE_TERM_TENSION = LOCATE_TERM_LENGTH + VOLUME_MAX_CORDS,
    LOCATE_TERM_WRENCH = LOCATE_TERM_TENSION + VOLUME_MAX_CORDS,
    LOCATE_TERM_RANGE = LOCATE_TERM_WRENCH + 3,
    LOCATE_TERMS
};

static inline unsigned locate_bit(unsigned source)
{
    return 1u << source;
}

/* Constant while a show runs; see locate_config_valid(). All biases are bounds of what a sensor may be off for good
 * (slowly changing) on top of its noise; they widen the uncertainty and are no fault. */
struct locate_config {
    int cords; /* 0 .. VOLUME_MAX_CORDS */
    struct vec3 anchor[VOLUME_MAX_CORDS];
    double weight_n; /* > 0 if tensions are to be used: platform, boom and body */
    double body_n;   /* 0 .. weight_n: the part of it that hangs from the boom and can swing */
    double boom_m;   /* >= 0: platform to the range sensor on the body, along the boom */
    double floor_m;  /* height of what the range sensor sees */

    double accel_mps2; /* > 0: more than the platform can really accelerate by, faults aside */
    double speed_mps;  /* > 0: more than it is ever really fast */
    double tilt_rad;   /* 0 .. 0.7: the body never leans more; counts where no tilt is reported */

    double anchor_bias_m;      /* >= 0: how well the anchors were surveyed */
    double pose_bias_m;        /* >= 0: of the vector */
    double length_bias_m;      /* >= 0: of each cord: stretch, sag, the winch's radius */
    double tension_bias_share; /* 0 .. 1 of each tension: friction at the pulleys */
    double range_bias_m;       /* >= 0 */
    double slack_n;            /* >= 0: the length of a cord with less tension than this says nothing */

    double age_max_s;         /* > 0: older readings are not used */
    double coast_s;           /* > 0, <= again_s: longer than this without a full fix is a fault */
    double memory_s;          /* > 0: how far back small disagreements add up */
    double frozen_s;          /* > 0: how long readings may stay the same while motion is commanded ... */
    double frozen_m;          /* > 0: ... and over how much commanded way; more than latency x speed + resolution */
    double again_s;           /* > 0: after this long without believing a fix, sound ones are believed anew */
    int outliers;             /* >= 0: so many fixes in a row may be rejected before that is a fault */
    double uncertainty_max_m; /* > 0: more than this is a fault */
};

/* How good one source's readings are. */
struct locate_quality {
    double sigma; /* >= 0: standard deviation of white noise, in the source's own unit; 0 counts as a very small one */
    double age_s; /* >= 0: how old they were when the report was received */
};

struct locate_report {
    uint64_t received_ns; /* the caller's clock */
    uint64_t seq;         /* must grow */
    unsigned sources;     /* locate_bit() of every source that is there */
    struct locate_quality quality[LOCATE_SOURCES];
    struct vec3 position;               /* m */
    double length_m[VOLUME_MAX_CORDS];  /* config.cords of them */
    double tension_n[VOLUME_MAX_CORDS]; /* config.cords of them */
    double tension_share;               /* >= 0: noise of a tension is sigma and this share of it, as independent */
    double range_m;                     /* >= 0 */
    double tilt_x_rad, tilt_y_rad;      /* how far the body leans towards +x, +y, from plumb */
};

#endif
