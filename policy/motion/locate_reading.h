/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A report, checked and brought to what the estimation works with: only usable sources, their variances, how much older
 * each is than the newest, and bounds of what is wrong for good.
 *
 *   height  = floor + (range + boom) cos(tilt)         tilt unknown: the middle of what it can be, and half the span
 *   wrench  = weight up + pull of the body aside       pull = body sin(tilt) cos(tilt) against the lean
 *   slip    = accel age^2 / 2 + bound of velocity error * age    what a reading of that age may be out of date by,
 *   drift   = sigma of velocity * age                            and by chance
 *
 * A pendulum of weight G that swings up to q pulls with G (3 cos - 2 cos q) in a plane, with G / cos q going round:
 * aside at most G tan q, and upright off from G by at most 2 G (1 - cos q) (mechanics).
 */
#ifndef STEADYHAND_MOTION_LOCATE_READING_H
#define STEADYHAND_MOTION_LOCATE_READING_H

#include "policy/motion/locate_types.h"

#define LOCATE_SIGMA_MIN 1e-6 /* m or N: no sensor is better, and arithmetic stays sane if one claims to be */
#define LOCATE_SIGMA_MAX 1e3  /* worse than this is as good as absent */

struct locate_reading {
    unsigned sources; /* usable ones among the placing */
    unsigned refused; /* reported, but with a value that cannot be */
    int refused_cord; /* the first cord that had one, else -1 */

    double newest_s;              /* age of the newest usable source at reception */
    double older_s[LOCATE_TILT];  /* how much older than that each is; 0 where not usable */
    double slip_m[LOCATE_TILT];   /* bound: what the platform may have moved in that time beyond its known velocity */
    double drift_m[LOCATE_TILT];  /* the same by chance, 1 sigma */
    double sigma[LOCATE_TERMS];   /* > 0; of white noise */
    double bias[LOCATE_TERMS];    /* >= 0; of pose and wrench that of the vector. Slip and anchors not yet in it */
    unsigned taut;                /* cords whose length counts */
    struct vec3 position, wrench; /* m, N */
    double length_m[VOLUME_MAX_CORDS], tension_n[VOLUME_MAX_CORDS];
    double height_m; /* of the platform, from the range */
};

/* How well the velocity is known that will carry old readings forward. Both >= 0. */
struct locate_velocity {
    double sigma_mps, bound_mps;
};

void locate_reading_take(const struct locate_config *cfg, const struct locate_report *report,
                         struct locate_velocity known, struct locate_reading *reading);

#endif
