/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing_shaper.h"

#include <math.h>

#include "policy/motion/swing_ei.h"
#include "policy/motion/units.h"

#define BAND_STEP 0.002 /* narrower than any hump of V */
#define BAND_MAX  2.0
#define ROUNDING  1e-12 /* EI just touches its limit in the middle */

enum { HALVINGS = 60 };

bool swing_shaper_mode_valid(struct swing_mode mode)
{
    return mode.omega_radps > 0 && isfinite(mode.omega_radps) && mode.damping >= 0 &&
           mode.damping <= SWING_SHAPER_DAMPING_MAX;
}

struct swing_mode swing_shaper_mode(double boom_m, double damping)
{
    return (struct swing_mode){.omega_radps = boom_m > 0 ? sqrt(UNITS_GRAVITY_MPS2 / boom_m) : 0, .damping = damping};
}

static double damped(struct swing_mode mode)
{
    return mode.omega_radps * sqrt(1 - mode.damping * mode.damping);
}

/* K: how much of a swing is left half a swing later. */
static double kept(double damping)
{
    return exp(-UNITS_HALF_TURN * damping / sqrt(1 - damping * damping));
}

static struct swing_shaper zero_vibration(struct swing_mode mode)
{
    double k = kept(mode.damping);
    return (struct swing_shaper){
        .impulses = 2, .amplitude = {1 / (1 + k), k / (1 + k)}, .time_s = {0, UNITS_HALF_TURN / damped(mode)}};
}

static struct swing_shaper zero_derivative(struct swing_mode mode)
{
    double k = kept(mode.damping), sum = (1 + k) * (1 + k), half = UNITS_HALF_TURN / damped(mode);
    return (struct swing_shaper){
        .impulses = 3, .amplitude = {1 / sum, 2 * k / sum, k * k / sum}, .time_s = {0, half, 2 * half}};
}

static bool extra_insensitive(struct swing_mode mode, double share, struct swing_shaper *out)
{
    if (!(share >= SWING_SHAPER_SHARE_MIN && share <= SWING_SHAPER_SHARE_MAX))
        return false;
    struct swing_shaper found = {.impulses = 3};
    if (!swing_ei_solve(mode.damping, share, found.amplitude, found.time_s))
        return false;
    for (int i = 0; i < found.impulses; i++)
        found.time_s[i] /= mode.omega_radps;
    *out = found;
    return true;
}

bool swing_shaper_design(enum swing_shaper_kind kind, struct swing_mode mode, double share, struct swing_shaper *out)
{
    *out = (struct swing_shaper){.impulses = 1, .amplitude = {1}};
    if (!swing_shaper_mode_valid(mode))
        return false;
    switch (kind) {
    case SWING_SHAPER_NONE:
        return true;
    case SWING_SHAPER_ZV:
        *out = zero_vibration(mode);
        return true;
    case SWING_SHAPER_ZVD:
        *out = zero_derivative(mode);
        return true;
    case SWING_SHAPER_EI:
        return extra_insensitive(mode, share, out);
    case SWING_SHAPER_KINDS:
    default:
        return false;
    }
}

double swing_shaper_residual(const struct swing_shaper *shaper, struct swing_mode mode)
{
    double c = 0, s = 0, last = shaper->time_s[shaper->impulses - 1];
    for (int i = 0; i < shaper->impulses; i++) {
        double size = shaper->amplitude[i] * exp(mode.damping * mode.omega_radps * (shaper->time_s[i] - last));
        double angle = damped(mode) * shaper->time_s[i];
        c += size * cos(angle);
        s += size * sin(angle);
    }
    return sqrt(c * c + s * s);
}

static bool within(const struct swing_shaper *shaper, struct swing_mode mode, double x, double limit)
{
    mode.omega_radps *= x;
    return swing_shaper_residual(shaper, mode) <= limit;
}

/* Out from the middle to the first step that is too much, then halved. */
static double edge(const struct swing_shaper *shaper, struct swing_mode mode, double limit, double step)
{
    double inside = 1, outside = 1;
    for (int i = 1; i * BAND_STEP <= BAND_MAX - 1; i++) {
        outside = 1 + i * step;
        if (!within(shaper, mode, outside, limit))
            break;
        inside = outside;
    }
    for (int i = 0; i < HALVINGS && inside != outside; i++) {
        double x = (inside + outside) / 2;
        if (within(shaper, mode, x, limit))
            inside = x;
        else
            outside = x;
    }
    return inside;
}

struct swing_band swing_shaper_band(const struct swing_shaper *shaper, struct swing_mode mode, double limit)
{
    if (!within(shaper, mode, 1, limit * (1 + ROUNDING) + ROUNDING))
        return (struct swing_band){1, 1};
    return (struct swing_band){edge(shaper, mode, limit, -BAND_STEP), edge(shaper, mode, limit, BAND_STEP)};
}

double swing_shaper_lean(double accel_mps2)
{
    return atan(accel_mps2 / UNITS_GRAVITY_MPS2);
}

double swing_shaper_peak(double accel_mps2)
{
    return 2 * swing_shaper_lean(accel_mps2);
}
