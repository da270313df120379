/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Input shapers for the swing of the body below the platform: a wish is split into a few impulses, so timed that the
 * swings they excite cancel each other.
 *
 * The body is a pendulum, for small angles of one mode: frequency omega = sqrt(g / L), damping ratio zeta,
 * omega_d = omega sqrt(1 - zeta^2), half a swing takes T/2 = pi / omega_d, and each is K = exp(-pi zeta /
 * sqrt(1 - zeta^2)) times the one before.
 *
 *   ZV   zero vibration: A = [1, K] / (1 + K), t = [0, T/2]. Smith 1957; Singer, Seering, "Preshaping Command Inputs to
 *        Reduce System Vibration", ASME J. Dynamic Systems, Measurement and Control 112, 1990
 *   ZVD  zero vibration and derivative: ZV twice, A = [1, 2K, K^2] / (1 + K)^2, t = [0, T/2, T]. Singer, Seering 1990
 *   EI   extra insensitive: the share V of the vibration is put up with at the model itself, to have no more than V
 * over the widest band. Undamped A = [(1+V)/4, (1-V)/2, (1+V)/4], t = [0, T/2, T]; damped, see swing_ei.h. Singhose,
 *        Seering, Singer, "Residual Vibration Reduction Using Vector Diagrams to Generate Shaped Inputs", ASME J.
 *        Mechanical Design 116, 1994; Singhose, Porter, Tuttle, Singer, "Vibration Reduction Using Multi-Hump Input
 *        Shapers", ASME J. Dynamic Systems, Measurement and Control 119, 1997
 *
 * Residual vibration, as a share of what one impulse at the time of the last would leave (Singer, Seering 1990):
 *   V(omega, zeta) = exp(-zeta omega t_n) sqrt(C^2 + S^2),
 *   C = sum A_i exp(zeta omega t_i) cos(omega_d t_i), S the same with sin.
 *
 * Pure functions; the caller owns all memory.
 */
#ifndef STEADYHAND_MOTION_SWING_SHAPER_H
#define STEADYHAND_MOTION_SWING_SHAPER_H

#include <stdbool.h>

#define SWING_SHAPER_DAMPING_MAX 0.3   /* a body on a boom has 0.002 .. 0.1 */
#define SWING_SHAPER_SHARE_MIN   0.005 /* of EI: with less it is ZVD */
#define SWING_SHAPER_SHARE_MAX   0.2

enum swing_shaper_kind { SWING_SHAPER_NONE, SWING_SHAPER_ZV, SWING_SHAPER_ZVD, SWING_SHAPER_EI, SWING_SHAPER_KINDS };

enum { SWING_SHAPER_IMPULSES = 3 };

struct swing_mode {
    double omega_radps; /* > 0, undamped */
    double damping;     /* zeta, 0 .. SWING_SHAPER_DAMPING_MAX */
};

struct swing_shaper {
    int impulses;
    double amplitude[SWING_SHAPER_IMPULSES]; /* > 0, together 1 */
    double time_s[SWING_SHAPER_IMPULSES];    /* rising, the first 0 */
};

/* Relative to the frequency the shaper was made for. */
struct swing_band {
    double low, high;
};

/* What a body hanging `boom_m` below its pivot does (a point mass; identify it where it is none). Without a boom
 * nothing swings: that mode is not valid, and there is nothing to shape. */
struct swing_mode swing_shaper_mode(double boom_m, double damping);

/* `share` is EI's V, SWING_SHAPER_SHARE_MIN .. MAX; the others do not look at it. False, and *out is NONE, if anything
 * is out of range. */
bool swing_shaper_design(enum swing_shaper_kind kind, struct swing_mode mode, double share, struct swing_shaper *out);

/* V of this shaper if the body really swings like `mode`; mode as for the design, any frequency >= 0. */
double swing_shaper_residual(const struct swing_shaper *shaper, struct swing_mode mode);

/* The band of frequencies around mode.omega_radps with no more residual vibration than `limit` in 0..1; both ends 1 if
 * there is more at the middle already. Never beyond 0..2 (ZV serves the third harmonic again: not meant). Undamped
 * widths are 4/pi asin V (ZV), 4/pi asin sqrt V (ZVD), 2/pi acos((1-3V)/(1+V)) (EI). */
struct swing_band swing_shaper_band(const struct swing_shaper *shaper, struct swing_mode mode, double limit);

/* Angle [rad] at which the body hangs while its pivot accelerates: atan(a/g), against the acceleration. */
double swing_shaper_lean(double accel_mps2);

/* No more than this angle [rad] from rest when that acceleration comes at once and stays: 2 atan(a/g), exact without
 * damping, as the swing is symmetric about the lean. */
double swing_shaper_peak(double accel_mps2);

bool swing_shaper_mode_valid(struct swing_mode mode);

#endif
