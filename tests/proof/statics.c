/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Tensions and their anticipation: rig, position, acceleration, reports, wish and state anything, and what the solvers
 * wrench and spread make of them too. So no mistake in those makes a tension, or a factor, something that is no number.
 *
 * analyse: policy/motion/tension.c policy/motion/anticipate.c
 * options: -eva-precision 1 -eva-min-loop-unroll 8 -eva-slevel 24
 */
#include <limits.h>

#include "policy/motion/anticipate.h"
#include "policy/motion/spread.h"
#include "tests/proof/rooms.h"

#define MOST 1e9 /* N */

void wrench_look(const struct wrench_cords *cords, struct vec3 force, struct wrench_survey *out)
{
    ANY(struct wrench_survey, seen);
    (void)cords, (void)force;
    *out = seen;
    out->cord = among(0, VOLUME_MAX_CORDS - 1);
}

bool wrench_balances(const struct wrench_cords *cords, const double tension_n[VOLUME_MAX_CORDS], struct vec3 force)
{
    (void)cords, (void)tension_n, (void)force;
    return either();
}

static bool spread_anyhow(double tension_n[VOLUME_MAX_CORDS])
{
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        ANY(double, t);
        tension_n[k] = t;
    }
    return either();
}

bool spread_free(const struct wrench_cords *cords, struct vec3 force, const double ref_n[VOLUME_MAX_CORDS],
                 double tension_n[VOLUME_MAX_CORDS])
{
    (void)cords, (void)force, (void)ref_n;
    return spread_anyhow(tension_n);
}

bool spread_within(const struct wrench_cords *cords, struct vec3 force, const double ref_n[VOLUME_MAX_CORDS],
                   double tension_n[VOLUME_MAX_CORDS])
{
    (void)cords, (void)force, (void)ref_n;
    return spread_anyhow(tension_n);
}

static void solves(int cords)
{
    ANY(struct tension_rig, rig);
    ANY(struct vec3, position);
    ANY(struct vec3, acceleration);
    struct tension_state s;
    double tension_n[VOLUME_MAX_CORDS], ref_n[VOLUME_MAX_CORDS];
    spread_anyhow(ref_n);
    rig.cords = cords;
    tension_solve(&rig, position, acceleration, &s);
    must_be_within(-MOST, s.margin_n, MOST);
    must_be_within(-MOST, s.reserve_n, MOST);
    must_hold(s.cord >= 0 && s.cord < VOLUME_MAX_CORDS);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        must_be_within(-MOST, s.least_n[k], MOST);
        must_be_within(-MOST, s.most_n[k], MOST);
        must_be_within(-MOST, s.middle_n[k], MOST);
        must_be_within(-MOST, s.min_norm_n[k], MOST);
    }
    tension_nearest(&rig, position, acceleration, ref_n, tension_n);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++)
        must_be_within(-MOST, tension_n[k], MOST);
}

static struct anticipate_config config(int cords)
{
    struct anticipate_config cfg;
    cfg.rig.cords = cords;
    cfg.rig.mass_kg = between(1e-3, TENSION_MAX_KG);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        cfg.rig.anchor[k] = somewhere();
        cfg.rig.min_n[k] = between(0, 1e3);
        cfg.rig.max_n[k] = between(1001, TENSION_MAX_N);
    }
    cfg.look_s = between(1e-3, 100);
    cfg.band_share = between(1e-3, 0.5);
    cfg.trip_s = between(1e-3, 100);
    return cfg;
}

static void looks_ahead(int cords)
{
    struct anticipate_config cfg = config(cords);
    struct anticipate now;
    ANY(struct anticipate_input, in);
    ANY(double, elapsed_s);
    struct anticipate_output out;
    double tension_n[VOLUME_MAX_CORDS];
    int cord;
    spread_anyhow(tension_n);
    anticipate_init(&now);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        now.tension_n[k] = between(-TENSION_MAX_N, TENSION_MAX_N);
        now.smooth_n[k] = between(-1e12, 1e12);
        now.slack_s[k] = between(0, 1000);
        now.over_s[k] = between(0, 1000);
    }
    now.heard = either();
    anticipate_config_valid(&cfg);
    anticipate_hear(&cfg, &now, elapsed_s, tension_n);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        must_be_within(-TENSION_MAX_N, now.tension_n[k], TENSION_MAX_N);
        must_be_finite(now.smooth_n[k]);
        must_be_within(0, now.slack_s[k], 1000);
        must_be_within(0, now.over_s[k], 1000);
    }
    must_hold((unsigned)anticipate_fault(&cfg, &now, &cord) <= ANTICIPATE_OVERLOAD);
    must_hold(cord >= -1 && cord < VOLUME_MAX_CORDS);
    anticipate_look(&cfg, &now, &in, &out);
    must_be_within(0, out.factor, 1);
    must_be_finite(out.margin_n);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++)
        must_be_within(-MOST, out.wanted_n[k], MOST);
    must_hold(out.margin_cord >= 0 && out.margin_cord < VOLUME_MAX_CORDS);
}

int main(void)
{
    solves(among(INT_MIN, 0));
    solves(among(VOLUME_MAX_CORDS + 1, INT_MAX));
    for (int cords = 1; cords <= VOLUME_MAX_CORDS; cords++) {
        solves(cords);
        looks_ahead(cords);
    }
}
