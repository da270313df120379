/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing_watch.h"

#include <math.h>

#include "policy/motion/units.h"

#define QUICK     2.0   /* the observer's poles, in omega */
#define SOONEST   1e-5  /* omega t between two samples; less is lost in rounding */
#define ACCEL_MAX 100.0 /* m/s2; more is no acceleration of a platform */
#define MOST_RAD  10.0  /* of q and u; no tilt within a quarter turn leads there */

/* How the phase turns over a time. */
struct turn {
    double qq, qu, uq, uu; /* from q, u to q, u */
    double push_q, push_u; /* by a/g, held */
};

/* How a sample corrects it. */
struct gain {
    double q, u;
};

void swing_watch_init(struct swing_watch *watch)
{
    *watch = (struct swing_watch){.begun = false};
}

bool swing_watch_config_valid(const struct swing_watch_config *cfg)
{
    return swing_shaper_mode_valid(cfg->mode) && fabs(cfg->zero.x_rad) < UNITS_HALF_TURN / 2 &&
           fabs(cfg->zero.y_rad) < UNITS_HALF_TURN / 2 && cfg->settle_rad > 0 && cfg->unsettle_rad >= cfg->settle_rad &&
           isfinite(cfg->unsettle_rad);
}

/* In q and u a free swing is a rotation that shrinks: q + j u turns by -omega_d t. About the lean -a/g it is the same,
 * so that being pushed is turning about another centre: where u is what zeta makes of q. */
static struct turn turn_over(struct swing_mode mode, double t)
{
    double root = sqrt(1 - mode.damping * mode.damping), lag = mode.damping / root;
    double angle = mode.omega_radps * root * t, shrink = exp(-mode.damping * mode.omega_radps * t);
    double c = shrink * cos(angle), s = shrink * sin(angle);
    struct turn turn = {.qq = c, .qu = s, .uq = -s, .uu = c};
    turn.push_q = -(1 - turn.qq - turn.qu * lag);
    turn.push_u = -(lag - turn.uq - turn.uu * lag);
    return turn;
}

/* Both poles of the error at exp(-2 omega t), t being the time since the last sample: by trace and determinant. */
static struct gain gain_over(struct swing_mode mode, double t)
{
    struct turn turn = turn_over(mode, t);
    double pole = exp(-QUICK * mode.omega_radps * t);
    double left = pole * pole / (turn.qq * turn.uu - turn.qu * turn.uq);
    return (struct gain){.q = 1 - left, .u = (left * turn.qq + turn.uu - 2 * pole) / turn.qu};
}

static double clamped(double x, double most)
{
    return fmin(fmax(x, -most), most);
}

static void predict(struct swing_watch_axis *axis, const struct turn *turn, double accel)
{
    double push = accel / UNITS_GRAVITY_MPS2, q = axis->q, u = axis->u;
    axis->q = clamped(turn->qq * q + turn->qu * u + turn->push_q * push, MOST_RAD);
    axis->u = clamped(turn->uq * q + turn->uu * u + turn->push_u * push, MOST_RAD);
}

static void correct(struct swing_watch_axis *axis, struct gain gain, double sample)
{
    double error = sample - axis->q;
    axis->q = clamped(axis->q + gain.q * error, MOST_RAD);
    axis->u = clamped(axis->u + gain.u * error, MOST_RAD);
}

/* The longer half of the ellipse. */
static double amplitude(const struct swing_watch *w)
{
    double e = w->x.q * w->x.q + w->y.q * w->y.q + w->x.u * w->x.u + w->y.u * w->y.u;
    double l = w->x.q * w->y.u - w->y.q * w->x.u;
    return sqrt((e + sqrt(fmax(e * e - 4 * l * l, 0))) / 2);
}

static void forget(struct swing_watch *watch)
{
    swing_watch_init(watch);
}

static void begin(struct swing_watch *watch, double x, double y)
{
    *watch = (struct swing_watch){.x = {clamped(x, MOST_RAD), 0}, .y = {clamped(y, MOST_RAD), 0}, .begun = true};
    watch->amplitude_rad = amplitude(watch);
}

static void judge(const struct swing_watch_config *cfg, struct swing_watch *watch, double elapsed_s, double half_s)
{
    watch->amplitude_rad = amplitude(watch);
    watch->watched_s = fmin(watch->watched_s + elapsed_s, half_s);
    watch->known = watch->watched_s >= half_s;
    if (!watch->known || watch->amplitude_rad >= cfg->settle_rad)
        watch->quiet_s = 0;
    else
        watch->quiet_s = fmin(watch->quiet_s + elapsed_s, half_s);
    if (watch->quiet_s >= half_s)
        watch->settled = true;
    if (watch->amplitude_rad > cfg->unsettle_rad)
        watch->settled = false;
}

static double known_accel(double accel)
{
    return fabs(accel) <= ACCEL_MAX ? accel : 0;
}

void swing_watch_add(const struct swing_watch_config *cfg, struct swing_watch *watch, struct swing_tilt tilt,
                     double elapsed_s, double accel_x, double accel_y)
{
    double x = tilt.x_rad - cfg->zero.x_rad, y = tilt.y_rad - cfg->zero.y_rad;
    bool sample = fabs(x) < UNITS_HALF_TURN / 2 && fabs(y) < UNITS_HALF_TURN / 2;
    double half_s = UNITS_HALF_TURN / cfg->mode.omega_radps, since = watch->since_s + elapsed_s;
    if (watch->begun && !(elapsed_s > 0 && since <= half_s / 2))
        forget(watch);
    if (!watch->begun) {
        if (sample)
            begin(watch, x, y);
        return;
    }
    struct turn turn = turn_over(cfg->mode, elapsed_s);
    predict(&watch->x, &turn, known_accel(accel_x));
    predict(&watch->y, &turn, known_accel(accel_y));
    watch->since_s = since;
    if (!sample || cfg->mode.omega_radps * since < SOONEST)
        return;
    struct gain gain = gain_over(cfg->mode, since);
    correct(&watch->x, gain, x);
    correct(&watch->y, gain, y);
    watch->since_s = 0;
    judge(cfg, watch, since, half_s);
}
