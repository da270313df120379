/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The places where every cord can stay within its limits, and the distance to the nearest place where one cannot.
 *
 * A place is reachable if the platform can be held there at rest and pushed or accelerated by up to a stated reserve in
 * any direction, with every cord between its limits all the while: wrench_reserve >= mass * reserve (wrench.h), and no
 * nearer to any anchor than a stated length. ("Static and wrench-feasible workspace": Pott, Cable-Driven Parallel
 * Robots, 2018, ch. 5; Bouchard, Gosselin and Moore, 2010.)
 *
 * Computed once, when a show is loaded: a room is cut into cells, which are cut into eight while it matters (an
 * octree). What comes out errs to one side only: what is called reachable has been proven for every point of the cell,
 * not for sampled ones; all else, the world outside the room included, counts as unreachable.
 *
 * The proof for a cell. Write the tensions as force densities q_k = t_k / l_k (Schek, 1974): balance at x is
 *   sum_k q_k (A_k - x) = w,  Q = sum_k q_k
 * If corner x_i has such q^i, then the mix of them with weights a_i ~ b_i / Q_i balances the *same* load exactly at
 * p = sum b_i x_i: so every point of the cell can be held by mixes of what holds its corners. Its tensions are those of
 * the corners times S_k = l_k(p) sum_i a_i / l_k(x_i), and with r half the cell's diagonal, l and L the least and the
 * greatest length of cord k in the cell, and R the ratio of the greatest to the least Q,
 *   |S_k - 1| <= ((R - 1) r / l + (r / l)^2) L / l
 * (Taylor of 1 / l_k about p; |grad| = 1 / l^2, |Hessian| <= 2 / l^3). So a cell is reachable if its eight corners are
 * with limits drawn in by that. R is bounded by the height of the anchors over the cell, since the vertical part of the
 * balance says Q * height = vertical load; where some are below it, by the limits themselves.
 *
 * How far that is from the truth is known as well, after it was built: see error_m.
 */
#ifndef STEADYHAND_MOTION_REACH_H
#define STEADYHAND_MOTION_REACH_H

#include <stddef.h>
#include <stdint.h>

#include "policy/motion/tension.h"

enum {
    REACH_MAX_LEVELS = 16,      /* a cell is halved at most so often */
    REACH_USUAL_CELLS = 1 << 20 /* 4 MiB: ample for a room of 8 x 6 x 3 m to 5 cm; see reach.cells for what was used */
};

struct reach_config {
    struct tension_rig rig;
    struct shape_box room; /* what to look at: at least the stage and a little more, as outside is unreachable */
    double reserve_mps2;   /* > 0: acceleration to be had in any direction, the braking included */
    double min_length_m;   /* > 0: never nearer to an anchor */
    double error_m;        /* > 0: wanted; see struct reach */
};

/* Filled by reach_build, then only read. The cells stay in the caller's memory. */
struct reach {
    struct shape_box room;
    int roots[3];     /* the room is cut into so many cells along x, y, z first */
    struct vec3 root; /* their size */
    uint32_t *cell;
    uint32_t cells, capacity;
    double reachable_m3; /* proven */
    /* The true distance from a position to what is unreachable or outside the room is never more than this above
     * max(reach_distance, 0). Proven too: near every point that counts as unreachable, one that is was found. */
    double error_m;
};

enum reach_result {
    REACH_BUILT,   /* error_m as wanted, or better */
    REACH_COARSE,  /* as safe, but error_m is more than wanted: more cells would help, unless there are plenty left */
    REACH_INVALID, /* a config that makes no sense, or no memory at all: nothing is reachable */
};

/*
 * cell: room for `capacity` cells (64 at least), which must outlive *reach. The time is that of looking at so many
 * cells, a microsecond each for four cords, some fifteen for eight that also pull down. Memory and time grow with
 * (size / error)^2. Where the memory ends, it has been spent evenly, and all is as safe, only coarser.
 */
enum reach_result reach_build(struct reach *reach, const struct reach_config *cfg, uint32_t *cell, size_t capacity);

/*
 * Signed distance [m] to the unreachable: positive where reachable, negative (minus the distance to the nearest
 * reachable cell) elsewhere. Never more than the true distance, and 1-Lipschitz, so that it can stand beside the
 * boundaries of volume.h. -SHAPE_FAR_M everywhere if nothing is reachable; -INFINITY for a position that is not finite.
 */
double reach_distance(const struct reach *reach, struct vec3 position);

/* The least of it all along the straight way between two positions, exactly; where the way touches the unreachable it
 * is not positive, but need not say by how much. Only distances below `enough` are looked for: a result of at least
 * `enough` means just that. */
double reach_path_distance(const struct reach *reach, struct vec3 from, struct vec3 to, double enough);

bool reach_config_valid(const struct reach_config *cfg);

#endif
