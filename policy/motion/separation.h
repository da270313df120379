/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The distance kept from somebody who may walk: S = K T + C, in the form of ISO 13855 (case separation-13855 of
 * tests/reference/motion.json). K is their speed, T the time from when they were seen to when the machine is at rest,
 * C what else they may be nearer than they seem: their reach, and how far off they may be reported.
 *
 * ISO/TS 15066 adds what the machine itself runs meanwhile and how wrong its own position is, S_p = v_h (T_r + T_s) +
 * v_r T_r + S_s + C + Z_d + Z_r (case separation-15066). Those two are the braking path and the margin of the guard,
 * and are not counted here a second time.
 */
#ifndef STEADYHAND_MOTION_SEPARATION_H
#define STEADYHAND_MOTION_SEPARATION_H

/* [m] of speed_mps, time_s, reach_m >= 0. */
static inline double separation_kept(double speed_mps, double time_s, double reach_m)
{
    return speed_mps * time_s + reach_m;
}

#endif
