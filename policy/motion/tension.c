/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/tension.h"
#include "policy/motion/spread.h"
#include "policy/motion/units.h"

#include <stddef.h>

#define AT_ANCHOR_M 1e-6
#define FLAT        1e-9

static bool within(double v, double limit)
{
    return fabs(v) <= limit; /* false for NaN */
}

static bool all_within(struct vec3 v, double limit)
{
    return within(v.x, limit) && within(v.y, limit) && within(v.z, limit);
}

bool tension_rig_valid(const struct tension_rig *rig)
{
    if (rig->cords < 1 || rig->cords > VOLUME_MAX_CORDS)
        return false;
    if (!(rig->mass_kg > 0) || !within(rig->mass_kg, TENSION_MAX_KG))
        return false;
    for (int k = 0; k < rig->cords; k++) {
        if (!all_within(rig->anchor[k], SHAPE_FAR_M))
            return false;
        if (!(rig->min_n[k] >= 0) || !(rig->max_n[k] > rig->min_n[k]) || !within(rig->max_n[k], TENSION_MAX_N))
            return false;
    }
    return true;
}

bool tension_cords(const struct tension_rig *rig, struct vec3 position, struct wrench_cords *out)
{
    *out = (struct wrench_cords){.cords = 0};
    if (!tension_rig_valid(rig) || !all_within(position, SHAPE_FAR_M))
        return false;
    for (int k = 0; k < rig->cords; k++) {
        struct vec3 to_anchor = vec_sub(rig->anchor[k], position);
        double length = vec_norm(to_anchor);
        if (!(length > AT_ANCHOR_M))
            return false;
        out->length_m[k] = length;
        out->unit[k] = vec_scale(to_anchor, 1 / length);
        out->min_n[k] = rig->min_n[k];
        out->max_n[k] = rig->max_n[k];
    }
    out->cords = rig->cords;
    return true;
}

struct vec3 tension_load(const struct tension_rig *rig, struct vec3 a)
{
    a.z += UNITS_GRAVITY_MPS2;
    return vec_scale(a, rig->mass_kg);
}

static double minor3(struct vec3 a, struct vec3 b, struct vec3 c)
{
    return vec_dot(vec_cross(a, b), c);
}

bool tension_null(const struct wrench_cords *c, double null[4])
{
    const struct vec3 *u = c->unit;
    for (int k = 0; k < 4; k++)
        null[k] = 0;
    if (c->cords != 4)
        return false;
    double n[4] = {minor3(u[1], u[2], u[3]), -minor3(u[0], u[2], u[3]), minor3(u[0], u[1], u[3]),
                   -minor3(u[0], u[1], u[2])};
    double norm = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2] + n[3] * n[3]);
    if (!(norm > FLAT))
        return false;
    double sign = n[0] + n[1] + n[2] + n[3] < 0 ? -1 : 1;
    for (int k = 0; k < 4; k++)
        null[k] = n[k] * sign / norm;
    return true;
}

/* The lower limit for what is not a number. */
static double clip(const struct wrench_cords *c, int k, double tension)
{
    return tension >= c->min_n[k] ? lesser(tension, c->max_n[k]) : c->min_n[k];
}

/* Where along t_0 + l n the four intervals meet. */
static bool meet(const struct wrench_cords *c, const double t0[], const double null[4], double *from, double *to)
{
    *from = -INFINITY;
    *to = INFINITY;
    for (int k = 0; k < 4; k++) {
        double low = c->min_n[k] - t0[k], high = c->max_n[k] - t0[k];
        if (fabs(null[k]) < FLAT) { /* this cord's tension is the same everywhere on the line */
            if (low > 0 || high < 0)
                return false;
            continue;
        }
        *from = greater(*from, (null[k] > 0 ? low : high) / null[k]);
        *to = lesser(*to, (null[k] > 0 ? high : low) / null[k]);
    }
    return *from <= *to;
}

static bool solve_four(const struct wrench_cords *c, const double null[4], struct tension_state *out)
{
    double from, to;
    if (!meet(c, out->min_norm_n, null, &from, &to))
        return false;
    for (int k = 0; k < 4; k++) {
        double a = clip(c, k, out->min_norm_n[k] + from * null[k]);
        double b = clip(c, k, out->min_norm_n[k] + to * null[k]);
        out->least_n[k] = lesser(a, b);
        out->most_n[k] = greater(a, b);
        out->middle_n[k] = clip(c, k, out->min_norm_n[k] + (from + to) / 2 * null[k]);
    }
    return true;
}

static bool solve_any(const struct wrench_cords *c, struct vec3 load, const struct wrench_survey *seen,
                      struct tension_state *out)
{
    double ref[VOLUME_MAX_CORDS] = {0};
    for (int k = 0; k < c->cords; k++) {
        out->least_n[k] = seen->least_n[k];
        out->most_n[k] = seen->most_n[k];
        ref[k] = (seen->least_n[k] + seen->most_n[k]) / 2;
    }
    return spread_within(c, load, ref, out->middle_n);
}

static void clear(double tension_n[VOLUME_MAX_CORDS])
{
    for (int k = 0; k < VOLUME_MAX_CORDS; k++)
        tension_n[k] = 0;
}

/* False, and 0 stands there, if something is not a number. */
static bool only_numbers(double tension_n[VOLUME_MAX_CORDS])
{
    bool all = true;
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        if (within(tension_n[k], -TENSION_NO_MARGIN_N))
            continue;
        tension_n[k] = 0;
        all = false;
    }
    return all;
}

/* A margin as far as it counts; what is not a number is none. */
static double told(double margin_n)
{
    if (!(margin_n >= TENSION_NO_MARGIN_N))
        return TENSION_NO_MARGIN_N;
    return lesser(margin_n, -TENSION_NO_MARGIN_N);
}

/* What is said to be feasible has been tried: the tensions balance the load. Anything else, say cords so nearly in one
 * plane that rounding decides, is not. */
static void settle(const struct wrench_cords *c, struct vec3 load, struct tension_state *out)
{
    bool least = only_numbers(out->least_n), most = only_numbers(out->most_n), middle = only_numbers(out->middle_n);
    if (out->feasible && least && most && middle && wrench_balances(c, out->middle_n, load))
        return;
    out->feasible = false;
    out->margin_n = lesser(out->margin_n, 0);
    out->reserve_n = lesser(out->reserve_n, 0);
    clear(out->least_n);
    clear(out->most_n);
    clear(out->middle_n);
}

void tension_solve(const struct tension_rig *rig, struct vec3 position, struct vec3 acceleration,
                   struct tension_state *out)
{
    struct wrench_cords c;
    struct wrench_survey seen;
    double null[4];
    const double none[VOLUME_MAX_CORDS] = {0};
    *out = (struct tension_state){.margin_n = TENSION_NO_MARGIN_N, .reserve_n = TENSION_NO_MARGIN_N};
    if (!tension_cords(rig, position, &c) || !all_within(acceleration, TENSION_MAX_MPS2))
        return;
    struct vec3 load = tension_load(rig, acceleration);
    wrench_look(&c, load, &seen);
    out->margin_n = told(seen.margin_n);
    out->reserve_n = told(seen.reserve_n);
    out->cord = seen.cord;
    out->at_max = seen.at_max;
    if (!spread_free(&c, load, none, out->min_norm_n) || !only_numbers(out->min_norm_n))
        clear(out->min_norm_n);
    if (seen.feasible)
        out->feasible = tension_null(&c, null) ? solve_four(&c, null, out) : solve_any(&c, load, &seen, out);
    settle(&c, load, out);
}

bool tension_nearest(const struct tension_rig *rig, struct vec3 position, struct vec3 acceleration,
                     const double ref_n[VOLUME_MAX_CORDS], double tension_n[VOLUME_MAX_CORDS])
{
    struct wrench_cords c;
    struct wrench_survey seen;
    clear(tension_n);
    if (!tension_cords(rig, position, &c) || !all_within(acceleration, TENSION_MAX_MPS2))
        return false;
    for (int k = 0; k < c.cords; k++)
        if (!within(ref_n[k], TENSION_MAX_N))
            return false;
    struct vec3 load = tension_load(rig, acceleration);
    wrench_look(&c, load, &seen);
    if (seen.feasible && spread_within(&c, load, ref_n, tension_n) && only_numbers(tension_n))
        return true;
    clear(tension_n);
    return false;
}

double tension_margin(const struct tension_rig *rig, const double tension_n[VOLUME_MAX_CORDS], int *cord, bool *at_max)
{
    double least = INFINITY;
    int which = 0;
    bool high = false;
    for (int k = 0; k < rig->cords; k++) {
        double above = tension_n[k] - rig->min_n[k], below = rig->max_n[k] - tension_n[k];
        double margin = isfinite(tension_n[k]) ? lesser(above, below) : TENSION_NO_MARGIN_N;
        if (margin >= least)
            continue;
        least = margin;
        which = k;
        high = below < above;
    }
    if (cord != NULL)
        *cord = which;
    if (at_max != NULL)
        *at_max = high;
    return least;
}
