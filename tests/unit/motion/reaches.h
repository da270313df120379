/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Rooms with cords, for the tests of what can be reached in them. */
#ifndef STEADYHAND_TESTS_REACHES_H
#define STEADYHAND_TESTS_REACHES_H

#include "policy/motion/reach_proof.h"
#include "tests/unit/motion/cords.h"

enum { REACHES = 7, REACHES_CELLS = 1 << 18 };

/* A room of 8 x 6 x 3 m with: 0 four cords from one height; 1 from four heights, two of them in the room; 2 three
 * cords; 3 six; 4 eight, every other one from below; 5 four
 * with little between slack and overload; 6 four that must be long. */
static inline struct reach_config reaches_config(int which, double error_m)
{
    static const int cords[REACHES] = {4, 4, 3, 6, 8, 4, 4};
    struct reach_config cfg = {.room = {{0, 0, 0}, {8, 6, 3}},
                               .reserve_mps2 = 0.6,
                               .min_length_m = which == 6 ? 2.5 : 0.3,
                               .error_m = error_m};
    struct tension_rig *rig = &cfg.rig;
    rig->cords = cords[which];
    rig->mass_kg = 2.4;
    for (int k = 0; k < rig->cords; k++) {
        double angle = 6.2832 * (k + 0.5) / rig->cords;
        rig->anchor[k] = (struct vec3){4 + 4.6 * cos(angle), 3 + 3.6 * sin(angle), 3.1};
        if (which == 1)
            rig->anchor[k].z = 2.4 + 0.3 * k;
        if (which == 4 && k % 2 == 1)
            rig->anchor[k].z = -0.1;
        rig->min_n[k] = which == 5 ? 5 : 1;
        rig->max_n[k] = which == 5 ? 22 : 60 + 5 * k;
    }
    return cfg;
}

static inline struct vec3 reaches_random(struct random *r, const struct shape_box *box)
{
    return cords_random_in(r, box->lo, box->hi);
}

/* The definition, by solving for tensions: at rest and with the reserve of acceleration in some directions. */
static inline bool reaches_held(const struct reach_config *cfg, struct vec3 p, struct random *r, int directions)
{
    struct tension_state s;
    for (int k = 0; k < cfg->rig.cords; k++)
        if (vec_norm(vec_sub(cfg->rig.anchor[k], p)) < cfg->min_length_m)
            return false;
    tension_solve(&cfg->rig, p, (struct vec3){0, 0, 0}, &s);
    for (int i = 0; i < directions && s.feasible; i++)
        tension_solve(&cfg->rig, p, vec_scale(cords_random_unit(r), cfg->reserve_mps2), &s);
    return s.feasible;
}

#endif
