/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The extra-insensitive shaper of three impulses for a damped mode, from its definition (Singhose, Seering, Singer
 * 1994): the residual vibration is the share V at the model's frequency, with no slope there, and nothing at one
 * frequency below and one above. With damping there is no closed form; the published curve fits are good to 5e-4 in
 * amplitude and 0.3 % of a period. Here the conditions are solved by Newton's method, damping raised step by step from
 * the closed form without any, and what comes out is checked.
 *
 * A frequency x without vibration settles the amplitudes: sum A_i exp(z x t_i) = 0 with z = zeta + j sqrt(1 - zeta^2)
 * is two real equations for their two ratios. That leaves four unknowns (t2, t3, the two frequencies) and four
 * conditions.
 */
#ifndef STEADYHAND_MOTION_SWING_EI_H
#define STEADYHAND_MOTION_SWING_EI_H

#include <stdbool.h>

/* Times are omega t, for a mode of 1 rad/s. `damping` 0..0.3, `share` 0.005..0.2. False if no solution was found: never
 * within these ranges. */
bool swing_ei_solve(double damping, double share, double amplitude[3], double time[3]);

#endif
