/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/profile.h"
#include "policy/motion/profile_tick.h"

#define LONGEST_PHASE 1e6   /* ticks */
#define HALVINGS      40    /* to well below what a rig can follow */
#define LONGEST_WISH  1e100 /* what is longer, so that its square might be no number, counts as not finite */

static bool positive(double x)
{
    return isfinite(x) && x > 0;
}

bool profile_limits_valid(const struct profile_limits *limits, double dt)
{
    return positive(limits->speed) && positive(limits->accel) && positive(limits->jerk) && positive(dt) &&
           limits->accel / limits->jerk <= LONGEST_PHASE * dt && limits->speed / limits->accel <= LONGEST_PHASE * dt;
}

static double within(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

/* False for NaN too. */
static bool sane(const struct profile_limits *limits, double v, double a)
{
    return fabs(v) <= PROFILE_SANE * limits->speed && fabs(a) <= PROFILE_SANE * limits->accel;
}

struct profile profile_sane(const struct profile_limits *limits, struct profile now)
{
    return sane(limits, now.v, now.a) ? now : (struct profile){0};
}

struct profile profile_step(const struct profile_limits *limits, struct profile now, double wanted, double dt)
{
    now = profile_sane(limits, now);
    double goal = isfinite(wanted) ? within(wanted, -limits->speed, limits->speed) : 0;
    double u = limits->jerk * dt, wanting = goal - now.v;
    double best = copysign(lesser(profile_tick_accel(fabs(wanting) / (u * dt)) * u, limits->accel), wanting);
    double a = within(best, now.a - u, now.a + u);
    return (struct profile){.v = now.v + a * dt, .a = a};
}

double profile_eased(const struct profile_limits *limits, struct profile now, double dt)
{
    now = profile_sane(limits, now);
    double u = limits->jerk * dt;
    return now.v + copysign(profile_tick_gained(fabs(now.a) / u - 1) * u * dt, now.a);
}

/*
 * How much of an acceleration (its length, and the cosine of its angle to the velocity) can be kept: within the limit,
 * and so that easing it off ends neither beyond the speed limit nor past rest.
 */
static double eased_in_time(const struct profile_limits *limits, double speed, double accel, double cosine, double dt)
{
    double u = limits->jerk * dt, along = speed * cosine;
    double room = sqrt(greater(along * along + limits->speed * limits->speed - speed * speed, 0)) - along;
    if (cosine < 0)
        room = lesser(room, -speed / cosine);
    return lesser(lesser(accel, limits->accel), (profile_tick_accel(greater(room, 0) / (u * dt)) + 1) * u);
}

struct profile profile_sent(const struct profile_limits *limits, struct profile before, struct profile said,
                            double sent, double dt)
{
    double a = (sent - before.v) / dt;
    if (sent == said.v && sane(limits, said.v, said.a))
        return said;
    if (!sane(limits, sent, 0) || !isfinite(a) || sent == 0)
        return (struct profile){.v = sane(limits, sent, 0) ? sent : 0};
    double kept = eased_in_time(limits, fabs(sent), fabs(a), a * sent < 0 ? -1 : 1, dt);
    return (struct profile){.v = sent, .a = copysign(kept, a)};
}

/* False for NaN too. */
static bool sane3(const struct profile_limits *limits, const struct profile3 *now)
{
    return vec_norm(now->v) <= PROFILE_SANE * limits->speed && vec_norm(now->a) <= PROFILE_SANE * limits->accel;
}

static struct vec3 within_ball(struct vec3 x, double radius)
{
    double length = vec_norm(x);
    return length > radius ? vec_scale(x, radius / length) : x;
}

/* The acceleration [u] after a tick that eases it off, and the velocity [u dt] that easing it off all the way gains. */
static struct vec3 easing(struct vec3 a)
{
    double length = vec_norm(a);
    return length > 1 ? vec_scale(a, (length - 1) / length) : (struct vec3){0};
}

static struct vec3 gained3(struct vec3 a)
{
    double length = vec_norm(a);
    return length > 1 ? vec_scale(a, profile_tick_gained(length) / length) : a; /* up to 1, it gains itself */
}

static struct vec3 accel_for(struct vec3 gain)
{
    double length = vec_norm(gain);
    return length > 1 ? vec_scale(gain, profile_tick_accel(length) / length) : gain;
}

/* All in units of a tick: the acceleration after the next one. It takes where the velocity will end as far towards the
 * wish as may be; all the way, at best, or nowhere, by easing off. */
static struct vec3 turn_to(struct vec3 a, struct vec3 wanting, double limit)
{
    struct vec3 best = easing(a), ends = gained3(best), missing = vec_sub(wanting, ends);
    double cap = greater(limit, vec_norm(best)), done = 0, failed = 1;
    for (int i = 0; i < HALVINGS && done < 1; i++) {
        double part = i == 0 ? 1 : (done + failed) / 2;
        struct vec3 next = accel_for(part < 1 ? vec_along(ends, missing, part) : wanting);
        bool good = vec_norm(vec_sub(next, a)) <= 1 && vec_norm(next) <= cap;
        best = good ? next : best;
        *(good ? &done : &failed) = part;
    }
    return best;
}

struct profile3 profile_step3(const struct profile_limits *limits, const struct profile3 *now, struct vec3 wanted,
                              double dt)
{
    struct profile3 from = sane3(limits, now) ? *now : (struct profile3){0};
    struct vec3 goal = within_ball(vec_norm(wanted) <= LONGEST_WISH ? wanted : (struct vec3){0}, limits->speed);
    double u = limits->jerk * dt;
    struct vec3 wanting = vec_scale(vec_sub(goal, from.v), 1 / (u * dt));
    struct vec3 a = vec_scale(turn_to(vec_scale(from.a, 1 / u), wanting, limits->accel / u), u);
    return (struct profile3){.v = vec_along(from.v, a, dt), .a = a};
}

struct profile3 profile_sent3(const struct profile_limits *limits, const struct profile3 *before,
                              const struct profile3 *said, struct vec3 sent, double dt)
{
    double speed = vec_norm(sent);
    if (vec_norm(vec_sub(sent, said->v)) == 0 && sane3(limits, said))
        return *said;
    if (!(speed <= PROFILE_SANE * limits->speed)) /* or NaN */
        return (struct profile3){0};
    struct vec3 a = vec_scale(vec_sub(sent, before->v), 1 / dt);
    double length = vec_norm(a);
    if (!(length > 0) || !isfinite(length) || !(speed > 0))
        return (struct profile3){.v = sent};
    double cosine = greater(lesser(vec_dot(a, sent) / (length * speed), 1), -1);
    double kept = eased_in_time(limits, speed, length, cosine, dt);
    return (struct profile3){.v = sent, .a = vec_scale(a, lesser(kept / length, 1))};
}
