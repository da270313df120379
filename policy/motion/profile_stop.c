/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/profile.h"
#include "policy/motion/profile_tick.h"

#define ROUNDED_UP (1 + 1e-9)

/* A state with the signs changed so that it moves forward: v >= 0, and what brakes is positive. */
struct forward {
    double v, brake;
    bool flipped;
};

static struct forward forward_of(const struct profile_limits *limits, struct profile now)
{
    now = profile_sane(limits, now);
    bool flipped = now.v < 0 || (now.v == 0 && now.a < 0);
    return (struct forward){.v = fabs(now.v), .brake = flipped ? now.a : -now.a, .flipped = flipped};
}

static struct profile_stop as_it_was(struct profile_stop stop, bool flipped)
{
    stop.highest = greater(stop.highest, 0); /* against rounding */
    stop.lowest = lesser(stop.lowest, 0);
    if (!flipped)
        return stop;
    return (struct profile_stop){
        .time = stop.time, .highest = -stop.lowest, .lowest = -stop.highest, .peak = stop.peak};
}

/* Distance run in t from v on, braking at b and that growing by j. */
static double run(double v, double b, double j, double t)
{
    return t * (v - t * (b / 2 + t * j / 6));
}

/* v >= 0, and b eases off in time. */
static struct profile_stop smooth_stop(const struct profile_limits *limits, double v, double b)
{
    double j = limits->jerk, cap = limits->accel, x = 0, time = 0;
    if (b > cap) {
        time = (b - cap) / j;
        x = run(v, b, -j, time);
        v = greater(v - time * (b + cap) / 2, 0);
        b = cap;
    }
    double peak = greater(lesser(sqrt(greater(j * v + b * b / 2, 0)), cap), b);
    double rise = (peak - b) / j, fall = peak / j, last = fall * peak / 2;
    double before = greater(v - rise * (b + peak) / 2, last);
    double hold = peak >= cap ? (before - last) / peak : 0; /* below the cap, rise and fall are all */
    x += run(v, b, j, rise) + hold * (before + last) / 2 + run(last, peak, -j, fall);
    return (struct profile_stop){.time = time + rise + hold + fall, .highest = x, .peak = peak};
}

struct profile_stop profile_stop(const struct profile_limits *limits, struct profile now)
{
    struct forward at = forward_of(limits, now);
    double j = limits->jerk, left = at.brake * at.brake - 2 * j * at.v;
    if (!(at.brake > 0 && left > 0))
        return as_it_was(smooth_stop(limits, at.v, at.brake), at.flipped);
    double turns = (at.brake - sqrt(left)) / j;
    struct profile_stop back = smooth_stop(limits, 0, -sqrt(left));
    double ahead = run(at.v, at.brake, -j, turns);
    back.lowest = lesser(ahead - back.highest, 0);
    back.highest = ahead;
    back.time += turns;
    back.peak = greater(back.peak, at.brake);
    return as_it_was(back, at.flipped);
}

/* From here on in units of a tick: acceleration in jerk dt, velocity in jerk dt^2, distance in jerk dt^3. */

struct phase {
    double v, ticks, x; /* the velocity it ends with, how long it takes, how far it runs */
};

/* n ticks from v on, braking at b + g, b + 2g, ...: v_i = v - i b - g i (i + 1) / 2, and the sum of their means. */
static struct phase ramp(double v, double b, double g, double n)
{
    double end = v - n * b - g * n * (n + 1) / 2;
    double sum = n * (v - (n + 1) * (b / 2 + g * (n + 2) / 6));
    return (struct phase){.v = end, .ticks = n, .x = sum + (v - end) / 2};
}

/* Braking grows until it is the most (cap) or must ease off again: tick k still may if G(b + k) <= v before it, solved
 * for k; f is the part of b that no tick changes. */
static struct phase onset(double v, double b, double cap)
{
    double f = b - floor(b), most = sqrt(greater(v + (b * (b + 1) - f * (1 - f)) / 2, 0));
    return ramp(v, b, 1, greater(floor(lesser(most, cap) - b), 0));
}

/* Braking held at the cap, as long as easing off from it still fits. */
static struct phase hold(double v, double cap)
{
    double spare = v - profile_tick_gained(cap);
    return ramp(v, cap, 0, spare >= 0 ? floor(spare / cap) + 1 : 0);
}

/* Braking eases off: v_i = G(b - i). */
static struct phase landing(double v)
{
    double b = profile_tick_accel(v), m = floor(b);
    return (struct phase){.ticks = ceil(b), .x = v / 2 + m * (m + 1) / 2 * (b - (2 * m + 1) / 3)};
}

/* v >= 0, and b eases off in time. */
static struct phase stop_ahead(double v, double b, double cap)
{
    struct phase first = b - 1 > cap ? ramp(v, b, -1, floor(b - cap)) : onset(v, b, cap);
    struct phase second = hold(greater(first.v, 0), cap), third = landing(greater(second.v, 0));
    return (struct phase){.ticks = first.ticks + second.ticks + third.ticks, .x = first.x + second.x + third.x};
}

/* The braking b is more than can be eased off in time: the tick in which the velocity passes nought, then a stop the
 * other way from there. */
static struct profile_stop stop_turning_back(double v, double b, double cap)
{
    double lead = b - 0.5, passes = floor(lead - sqrt(greater(lead * lead - 2 * v, 0))) + 1;
    struct phase ahead = ramp(v, b, -1, passes - 1), across = ramp(ahead.v, b - passes + 1, -1, 1);
    double back_v = greater(-across.v, 0);
    struct phase back = stop_ahead(back_v, passes - b, cap);
    return (struct profile_stop){
        .time = passes + back.ticks,
        .highest = ahead.x + greater(ahead.v, 0) / 2,
        .lowest = lesser(ahead.x - back_v / 2 - back.x, 0),
    };
}

struct profile_stop profile_stop_in_ticks(const struct profile_limits *limits, struct profile now, double dt)
{
    struct forward at = forward_of(limits, now);
    double u = limits->jerk * dt, v = at.v / (u * dt), b = at.brake / u, cap = limits->accel / u;
    struct profile_stop stop = {0};
    if (b > 1 && v < profile_tick_gained(b - 1)) {
        stop = stop_turning_back(v, b, cap);
    } else {
        struct phase ahead = stop_ahead(v, b, cap);
        stop = (struct profile_stop){.time = ahead.ticks, .highest = ahead.x};
    }
    stop.time *= dt;
    stop.highest *= u * dt * dt * ROUNDED_UP;
    stop.lowest *= u * dt * dt * ROUNDED_UP;
    return as_it_was(stop, at.flipped);
}
