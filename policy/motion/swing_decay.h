/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Frequency and damping of the body's swing from a recording of its tilt while it swings freely: after a step of the
 * rig, with the pivot at rest.
 *
 * Both axes are joined to the direction in which it swings most (the principal axis of the samples). There the swing is
 * c + A exp(-sigma t) cos(omega_d t + phi), and its sign changes cut it into half swings of T/2 each:
 *
 *   omega_d  the slope of the times of zero crossings over their number, times pi
 *   zeta     the logarithmic decrement: half swings shrink by K = exp(-pi zeta / sqrt(1 - zeta^2)), so
 *            delta = -ln K is the slope of ln(size of half swing n) over n, zeta = delta / sqrt(pi^2 + delta^2)
 *            (Rayleigh 1877; e.g. Meirovitch, Fundamentals of Vibrations, 2001, 2.3). A half swing's size is its area,
 *            which shrinks as its peak does and takes the mean of the noise where the peak takes its worst
 *   omega    omega_d / sqrt(1 - zeta^2)
 *   c        what the sensor says at rest: least squares of the three linear unknowns, given omega and zeta; then once
 *            more from the start with crossings of that line, until nothing changes
 *
 * A crossing is the line through all samples between 30 % of the half swing before on one side and the same on the
 * other, so that noise does not make two of one; half swings with a peak below floor_rad end what is looked at, which
 * must be 10 sigma of the noise for that.
 * Both slopes are least squares, of ln(size) weighted with size^2: its noise is that of the size over the size.
 *
 * What is found is what explains the recording, or it is refused: the root mean square of what the decay leaves
 * unexplained may be a quarter of that of the swing.
 *
 * A pendulum in full swings slower by the square of its amplitude over 16 (0.25 % at 0.2 rad), and the estimate is of
 * the mean over the recording: step gently. Pure; nothing is kept, all samples stay the caller's.
 */
#ifndef STEADYHAND_MOTION_SWING_DECAY_H
#define STEADYHAND_MOTION_SWING_DECAY_H

#include "policy/motion/swing_watch.h"

enum {
    SWING_DECAY_SAMPLES_MIN = 24,
    SWING_DECAY_SAMPLES_MAX = 1 << 20,
    SWING_DECAY_HALVES_MIN = 4,  /* whole half swings: two swings */
    SWING_DECAY_HALVES_MAX = 400 /* more are not looked at */
};

struct swing_decay_record {
    const struct swing_tilt *tilt; /* evenly spaced */
    int count;
    double dt_s;      /* > 0 */
    double floor_rad; /* > 0: what is smaller is noise, 10 sigma of a sample */
};

enum swing_decay_verdict {
    SWING_DECAY_OK,
    SWING_DECAY_BAD_RECORD,  /* count, spacing or floor out of range */
    SWING_DECAY_BAD_SAMPLE,  /* not finite, or beyond a quarter turn */
    SWING_DECAY_TOO_SHORT,   /* fewer than two swings above the floor */
    SWING_DECAY_TOO_COARSE,  /* fewer than eight samples a swing */
    SWING_DECAY_GROWS,       /* it does not die away: it is pushed, or is no free swing */
    SWING_DECAY_TOO_DAMPED,  /* beyond SWING_SHAPER_DAMPING_MAX */
    SWING_DECAY_UNEXPLAINED, /* something else than one decaying swing */
    SWING_DECAY_VERDICTS
};

struct swing_decay {
    struct swing_mode mode;
    double omega_sigma, damping_sigma; /* standard deviations, from the scatter about the two slopes */
    struct swing_tilt zero;            /* what the sensor says of a body that hangs still */
    double amplitude_rad;              /* at the first sample */
    double unexplained_rad;            /* root mean square */
    int halves;                        /* half swings that counted */
};

/* *out is all zeros unless the verdict is SWING_DECAY_OK. */
enum swing_decay_verdict swing_decay_identify(const struct swing_decay_record *record, struct swing_decay *out);

/* One sentence: what is wrong and what to do. */
const char *swing_decay_text(enum swing_decay_verdict verdict);

#endif
