/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a survey says in numbers, by looking at places evenly over the stage. */
#ifndef STEADYHAND_SURVEY_FIGURES_H
#define STEADYHAND_SURVEY_FIGURES_H

#include "gateway/survey/site.h"
#include "policy/motion/reach.h"

struct figures_tension {
    double tension_n; /* the margin to a limit, or what the cord pulls */
    int cord;
    bool at_max;
    struct vec3 at;
};

struct figures {
    double step_m;                  /* between two places that were looked at */
    double stage_m3;                /* the stage, whatever fits in */
    double fits_m3;                 /* of the platform's places: boom and body within the stage */
    double clear_m3;                /* of those: clear of keep-outs, cords too */
    double reachable_m3;            /* of those that fit: proven within every cord's limits with the reserve */
    double usable_m3;               /* clear and reachable */
    double low_m, high_m;           /* of the platform, where it fits */
    struct figures_tension worst;   /* least margin, where it fits */
    struct figures_tension best;    /* greatest margin */
    struct figures_tension highest; /* greatest share of its limit that a cord is wanted to pull, within reach */
    struct volume_clearance at_home;
    double home_n[VOLUME_MAX_CORDS]; /* wanted tensions at home */
    bool home_holds;                 /* there are such */
};

/* reach: NULL where the show gives no limits of the cords; then nothing of tensions is filled. */
void figures_take(struct figures *f, const struct site *site, const struct reach *reach);

/* reach_distance(), at once also where nothing is reachable, which would else be looked for in every cell. */
double figures_held(const struct reach *reach, struct vec3 platform);

#endif
