/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A constant-velocity Kalman filter of position and velocity, and an account of how wrong it can be.
 *
 *   state x = (p, v)      predict over T: p += v T       Q = G G^T s^2 on each axis, G = (T^2/2, T)
 *   update: P = (P^-1 + sum H^T W H)^-1,  dx = P (P^-1 (x- - x) + sum H^T W r),  H = J (I, -older I)
 *
 * Q is that of an acceleration that is constant over T and independent from one T to the next (Bar-Shalom, Li,
 * Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001, 6.3.2); with one source and a constant T
 * the gains settle to those of Kalata (The tracking index, IEEE Trans. AES-20, 1984). s = 2 accel: what a steady
 * acceleration makes the filter lag behind, and what noise gets through it, are then about as small together as they
 * can be (the trade that Blair, Design of nearly constant velocity track filters, 2008, works out; he finds 1 to 4).
 * The update is the information form, whose sum may be singular: readings that do not fix all of the position count
 * for as much as they fix.
 *
 * P is what the gains come from. It is *not* how wrong the filter can be: a real acceleration is not white, nor is what
 * a sensor is off for good. So the error is accounted for by its causes, each carried through the same gains:
 *
 *   noise      a covariance S of its own, by the noise of the sensors alone (no Q):  S = U F S F^T U^T + K R K^T
 *   bias       for each term the error that 1 of it makes:                             c = U F c + K dr/dterm
 *   manoeuvre  for each axis the error that an acceleration of 1 makes:                c = U (F c + G)
 *
 * with U = I - K H = P P-^-1 (the biases' part is the consider-covariance of Schmidt 1966, with bounds for variances).
 * Then
 *   uncertainty = 3.7625 sqrt(largest eigenvalue of S) + sum bias |c| + 1.1 accel |c|      (wrench: 1.4345 |c|)
 *
 * 3.7625^2 = 14.157 is the 99.73 % point of chi-square with 3 degrees of freedom: the error is a vector, and 3 sigma
 * would hold it only 97.1 % of the time. An acceleration that changes sides at the worst moments moves a second-order
 * system with damping 1/sqrt(2), which this one settles to, by coth(pi/2) = 1.0903 times as much as a constant one
 * does; a little more (1.1) for its being discrete. For what is measured to what is estimated it is 1 + 1/sinh(pi/2) =
 * 1.4345: the wrench changes as fast as the acceleration does. Both are integrals of |impulse response| (Doyle,
 * Francis, Tannenbaum, Feedback Control Theory, 1992, chapter 2). All other biases are taken to change slowly.
 */
#ifndef STEADYHAND_MOTION_LOCATE_FILTER_H
#define STEADYHAND_MOTION_LOCATE_FILTER_H

#include "policy/motion/locate_solve.h"

#define LOCATE_SIGMAS 3.7625

enum { LOCATE_COLUMNS = LOCATE_TERMS + 3 }; /* the last three: acceleration along x, y, z */

/* The error that 1 of something makes. */
struct locate_column {
    struct vec3 p, v;
};

struct locate_filter {
    struct vec3 position, velocity; /* m, m/s */
    struct mat6 covariance;         /* P: position, then velocity */
    struct mat6 noise;              /* S */
    struct locate_column column[LOCATE_COLUMNS];
    double bias[LOCATE_TERMS]; /* bounds, as last heard */
    uint32_t terms;            /* that have ever counted */
};

/* How wrong the position, or the velocity, can be: bounds, finite, >= 0. */
struct locate_error {
    double noise, bias, manoeuvre; /* 99.73 % of the time; always; always */
};

/* At a full fix, taken with velocity 0; the velocity is anything up to speed_mps. */
void locate_filter_start(const struct locate_config *cfg, const struct locate_reading *reading,
                         const struct locate_fix *fix, struct locate_filter *filter);

/* T >= 0 seconds on. */
void locate_filter_predict(const struct locate_config *cfg, double elapsed_s, struct locate_filter *filter);

/* Takes in a reading that was linearised with the filter's present velocity; the fix need not be full. False, *filter
 * unchanged, if numbers overflow. */
bool locate_filter_update(const struct locate_reading *reading, const struct locate_fix *fix,
                          struct locate_filter *filter);

struct locate_error locate_filter_position_error(const struct locate_config *cfg, const struct locate_filter *filter);
struct locate_error locate_filter_velocity_error(const struct locate_config *cfg, const struct locate_filter *filter);

/* What a manoeuvre has of the position's error. */
double locate_filter_manoeuvre(const struct locate_config *cfg, const struct locate_filter *filter);

static inline double locate_error_total(struct locate_error e)
{
    return e.noise + e.bias + e.manoeuvre;
}

#endif
