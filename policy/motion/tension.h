/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What every cord has to pull, and how far that is from its limits.
 *
 * Balance of a point mass on N cords, u_k from the platform to anchor k:
 *   A t = w,  A = (u_1 .. u_N),  w = m (g z + a),  min_k <= t_k <= max_k
 * (Pott, Cable-Driven Parallel Robots, 2018, ch. 3; Bruckmann, Mikelsons, Brandt, Hiller and Schramm, 2008). Three
 * cords that do not lie in one plane leave one solution. Four leave a line of them, t = t_0 + l n, n_k the signed 3 x 3
 * minors of A: the feasible piece is where the intervals of the four cords meet. More cords: see wrench.h and spread.h,
 * which also know what to do with fewer, or with cords in one plane. A platform on one or two cords, or on cords in one
 * plane, only balances where it hangs; it is feasible there (to 1e-9 of the load) and nowhere beside it.
 *
 * Slack and overload are both faults: below min a cord counts as slack, whatever it still pulls.
 *
 * All inputs may be anything, infinite and not-a-number included: what makes no sense is not feasible, and what comes
 * out is always finite.
 */
#ifndef STEADYHAND_MOTION_TENSION_H
#define STEADYHAND_MOTION_TENSION_H

#include "policy/motion/wrench.h"

enum {
    TENSION_MAX_KG = 100000,
    TENSION_MAX_N = 10000000,
    TENSION_MAX_MPS2 = 10000,
    TENSION_NO_MARGIN_N = -1000000000, /* stands where nothing could be computed */
};

/* What hangs on what. */
struct tension_rig {
    int cords; /* 1 .. VOLUME_MAX_CORDS */
    struct vec3 anchor[VOLUME_MAX_CORDS];
    double mass_kg;                 /* > 0: all that hangs, boom, body and tether included */
    double min_n[VOLUME_MAX_CORDS]; /* >= 0: below it a cord counts as slack */
    double max_n[VOLUME_MAX_CORDS]; /* > min_n: working limit */
};

struct tension_state {
    bool feasible;
    /* How near the cords are to their limits, whichever way the load is spread over them: all can stay at least
     * margin_n away from both limits, and where that shrinks to 0, `cord` meets its upper (at_max) or lower limit. <= 0
     * where not feasible: by so much limits would have to give way. */
    double margin_n;
    int cord;
    bool at_max;
    double reserve_n; /* any further force on the platform up to this, from any side, is held within limits too; <= 0
                         where not feasible. reserve_n / mass is the acceleration in reserve */
    /* The range of each tension on its own, 0 where not feasible. */
    double least_n[VOLUME_MAX_CORDS];
    double most_n[VOLUME_MAX_CORDS];
    /* In balance and within limits, and nearest to the middle of all ranges: for four cords the middle of the feasible
     * piece. It changes steadily with position and acceleration. 0 where not feasible. */
    double middle_n[VOLUME_MAX_CORDS];
    /* In balance with the least sum of squares, whatever the limits: for three cords the only tensions there are. 0
     * where no tensions balance the load. */
    double min_norm_n[VOLUME_MAX_CORDS];
};

bool tension_rig_valid(const struct tension_rig *rig);

/* Directions, lengths and limits at a position. False, with out->cords = 0, if the rig is not valid, or the position is
 * not finite, beyond SHAPE_FAR_M or within a micrometre of an anchor. */
bool tension_cords(const struct tension_rig *rig, struct vec3 position, struct wrench_cords *out);

/* m (g z + a) [N] */
struct vec3 tension_load(const struct tension_rig *rig, struct vec3 acceleration);

/* acceleration [m/s2], each axis within TENSION_MAX_MPS2. Fills *out entirely. */
void tension_solve(const struct tension_rig *rig, struct vec3 position, struct vec3 acceleration,
                   struct tension_state *out);

/* The tensions in balance and within limits that are nearest (least squares) to ref_n, whose values must be within
 * TENSION_MAX_N. False, with all 0, where there are none. */
bool tension_nearest(const struct tension_rig *rig, struct vec3 position, struct vec3 acceleration,
                     const double ref_n[VOLUME_MAX_CORDS], double tension_n[VOLUME_MAX_CORDS]);

/* Of tensions as they are, say as measured: the least distance to a limit [N], < 0 beyond it; which cord, and which
 * limit (either may be NULL). TENSION_NO_MARGIN_N for a tension that is not finite. The rig must be valid. */
double tension_margin(const struct tension_rig *rig, const double tension_n[VOLUME_MAX_CORDS], int *cord, bool *at_max);

/* For four cords that do not lie in one plane: the unit null vector of A, its sum not negative. Else false, and 0. */
bool tension_null(const struct wrench_cords *cords, double null[4]);

#endif
