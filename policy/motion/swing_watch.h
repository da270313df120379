/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * How much the body swings now, and whether it hangs still: from samples of its tilt.
 *
 * Phase plane: with u = (q' + zeta omega q) / omega_d beside the angle q, a free swing of one axis turns about the
 * origin at omega_d while it shrinks by exp(-zeta omega t): the radius is the amplitude. The two axes together
 * make an ellipse; its longer half is
 *   a^2 = (E + sqrt(E^2 - 4 L^2)) / 2,   E = |q|^2 + |u|^2,   L = q_x u_y - q_y u_x,
 * the largest angle that this swing reaches if the pivot stays as it is.
 *
 * q and u come from an observer (Luenberger 1964) that is turned by the model from sample to sample, pushed by the
 * pivot's acceleration if that is known (q'' = -2 zeta omega q' - omega^2 (q + a/g): the body lags), and corrected by
 * the sample with both error poles at exp(-2 omega t) for whatever time t lies between two samples. So an error falls
 * to 2 % in half a swing. Noise of sigma on both axes of a body that hangs still shows as an amplitude of 1.8 sigma at
 * 10 samples a swing, 1.0 at 40, 0.5 at 160 (measured). An acceleration that nobody told shows as swing of up to its
 * lean atan(a/g), and the amplitude seen is off the true one by no more than that.
 *
 * Settled, with hysteresis: the amplitude stayed below settle_rad for half a swing on end; no more as soon as it is
 * above unsettle_rad, or nothing is known.
 *
 * Angles are small here: at 0.3 rad the amplitude is out by up to 1 %. Pure; the caller owns the state.
 */
#ifndef STEADYHAND_MOTION_SWING_WATCH_H
#define STEADYHAND_MOTION_SWING_WATCH_H

#include "policy/motion/swing_shaper.h"

/* How far the body leans towards +x and +y, from plumb. */
struct swing_tilt {
    double x_rad, y_rad;
};

struct swing_watch_config {
    struct swing_mode mode;
    struct swing_tilt zero; /* what the sensor says of a body that hangs still */
    double settle_rad;      /* > 0 */
    double unsettle_rad;    /* >= settle_rad */
};

struct swing_watch_axis {
    double q, u; /* rad */
};

struct swing_watch {
    struct swing_watch_axis x, y;
    double since_s;       /* since the last sample that was taken in */
    double watched_s;     /* how long there have been samples without a gap */
    double quiet_s;       /* how long the amplitude has been below settle_rad */
    bool begun;           /* there was a sample */
    bool known;           /* watched for half a swing: amplitude says something */
    bool settled;         /* never without known */
    double amplitude_rad; /* finite, >= 0 */
};

void swing_watch_init(struct swing_watch *watch);

/*
 * A sample of the tilt, `elapsed_s` after the one before (of the first it is not looked at), the pivot having been
 * accelerated at accel_x, accel_y [m/s2] on average in between: by what was sent, as late as the rig follows it; 0
 * where that is not known.
 *
 * A tilt that is not finite or beyond a quarter turn is no sample, an acceleration that is not finite or beyond 100
 * m/s2 is not known. After more than a quarter of a swing without a sample, or with an elapsed_s that is not a time >
 * 0, all is forgotten: known and settled are false, and watching begins anew.
 */
void swing_watch_add(const struct swing_watch_config *cfg, struct swing_watch *watch, struct swing_tilt tilt,
                     double elapsed_s, double accel_x, double accel_y);

bool swing_watch_config_valid(const struct swing_watch_config *cfg);

#endif
