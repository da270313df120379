/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Which forces a set of cords can make at one place, when each cord pulls between its two limits.
 *
 * The forces sum t_k u_k with min_k <= t_k <= max_k fill a convex solid, the *available wrench set*: a zonotope, whose
 * faces are each spanned by two cords. For the normal n = u_i x u_j of such a face and its support
 *   h(n) = sum_k phi_k(n . u_k),   phi_k(c) = c max_k where c > 0, c min_k where c < 0,
 * a force w can be made if and only if n . w <= h(n) for every n and -n ("hyperplane shifting": Bouchard, Gosselin and
 * Moore, 2010; Gouttefarde and Krut, 2010; Pott, Cable-Driven Parallel Robots, 2018, ch. 5). So what others search for
 * with a linear programme has a closed form here, with a number of steps that depends on nothing but the number of
 * cords: at most 28 faces. The same slacks h(n) - n . w give
 *   reserve  least distance from w to a face:                      min (h - n . w) / |n|
 *   margin   all limits drawn in by s until w is on a face:        min (h - n . w) / sum_k |n . u_k|
 *   range    t_m alone, the others anywhere within limits:         for every n without m,
 *            t_m >= max_m - (h - n . w) / |n . u_m| where cord m pulls along n,
 *            t_m <= min_m + (h - n . w) / |n . u_m| where it pulls against n.
 *
 * Cords that all lie in one plane or one line make a flat solid. The force must then lie in it too (to within
 * WRENCH_BALANCE of its size), and the faces are its edges.
 *
 * Every function here needs what wrench_cords says, and a force that is finite; they check nothing.
 */
#ifndef STEADYHAND_MOTION_WRENCH_H
#define STEADYHAND_MOTION_WRENCH_H

#include "policy/motion/volume.h"

#define WRENCH_BALANCE 1e-9 /* of the force: what is left over where forces count as in balance */

/* The cords as they pull on the platform at one position. */
struct wrench_cords {
    int cords;                          /* 1 .. VOLUME_MAX_CORDS */
    struct vec3 unit[VOLUME_MAX_CORDS]; /* |unit| = 1, from the platform to the anchor */
    double length_m[VOLUME_MAX_CORDS];  /* > 0 */
    double min_n[VOLUME_MAX_CORDS];     /* of a real cord >= 0: below it, it counts as slack */
    double max_n[VOLUME_MAX_CORDS];     /* > min_n */
};

struct wrench_survey {
    int rank;         /* 3; 2: all cords in one plane; 1: in one line */
    bool feasible;    /* some tensions within limits make the force */
    double reserve_n; /* any further force up to this, from any side, can be made too; < 0: this much is wanting. At
                         most 0 for rank < 3 */
    double margin_n;  /* all cords can stay at least this far from both of their limits; < 0: they are past them */
    int cord;         /* one that meets a limit when margin_n does */
    bool at_max;      /* which limit of that cord: it is overloaded, or else slack */
    double least_n[VOLUME_MAX_CORDS]; /* the range of each tension; 0 where not feasible */
    double most_n[VOLUME_MAX_CORDS];
};

void wrench_look(const struct wrench_cords *cords, struct vec3 force, struct wrench_survey *out);

/* The reserve alone, as above for rank 3; for less some number <= 0. *normal, if not NULL, gets the unit normal of the
 * face that decides. */
double wrench_reserve(const struct wrench_cords *cords, struct vec3 force, struct vec3 *normal);

/* Range of the tension of one cord of the set `among` (bit k: cord k) that leaves the rest of the set able to make the
 * rest of the force. The rest must have the same rank as the whole set, which must be able to make the force. */
void wrench_range(const struct wrench_cords *cords, unsigned among, int cord, struct vec3 force, double *least_n,
                  double *most_n);

/* What is left of the force, or too much: force - sum t_k u_k. */
struct vec3 wrench_rest(const struct wrench_cords *cords, const double tension_n[VOLUME_MAX_CORDS], struct vec3 force);

/* Is nothing left but WRENCH_BALANCE of the force and rounding? False where anything is not a number. */
bool wrench_balances(const struct wrench_cords *cords, const double tension_n[VOLUME_MAX_CORDS], struct vec3 force);

#endif
