/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The head's ways home, outside its forbidden regions.
 *
 * Pan, tilt and roll span a box; each forbidden region is a box in it, grown by `clear`. Their faces cut the whole into
 * cells, each wholly free or wholly forbidden (the exact cell decomposition for boxes; Latombe, "Robot Motion
 * Planning", 1991, ch. 5). A flood from the cell of home gives every cell the neighbour that is nearer to home, so the
 * answer at run time is a look-up, and there is none only if there is no way. Cells inside regions lead to the nearest
 * cell that has a way.
 *
 * A way changes one axis at a time, except in the cell of home; moving anywhere inside a cell never leaves it, so it
 * does not matter how fast an axis goes compared to the others.
 */
#ifndef STEADYHAND_MOTION_HEAD_WAY_H
#define STEADYHAND_MOTION_HEAD_WAY_H

#include <stdbool.h>
#include <stdint.h>

enum {
    HEAD_TURNING = 3, /* pan, tilt, roll */
    HEAD_MAX_REGIONS = 4,
    HEAD_WAY_SLICES = 2 * HEAD_MAX_REGIONS + 1,
    HEAD_WAY_CUTS = HEAD_WAY_SLICES + 1,
    HEAD_WAY_CELLS = HEAD_WAY_SLICES * HEAD_WAY_SLICES * HEAD_WAY_SLICES,
};

/* The head vibrates where all three are inside. An axis that does not matter has -INFINITY and INFINITY. */
struct head_region {
    double from[HEAD_TURNING], to[HEAD_TURNING]; /* rad, from < to */
};

struct head_span {
    double min, max, home; /* rad, min <= home <= max */
};

struct head_way {
    struct head_span span[HEAD_TURNING];
    double cut[HEAD_TURNING][HEAD_WAY_CUTS]; /* rising, from min to max */
    int slices[HEAD_TURNING];
    uint8_t next[HEAD_WAY_CELLS];
    bool forbidden[HEAD_WAY_CELLS];
};

/* Any number of regions up to HEAD_MAX_REGIONS; clear >= 0 [rad]. Home inside a grown region: no cell has a way. */
void head_way_plan(struct head_way *way, const struct head_span span[HEAD_TURNING], const struct head_region region[],
                   int regions, double clear);

/*
 * Where each axis should go now, from `at` (finite) towards home; an axis that should stay has its own position. Asked
 * again each tick, the targets move on as cells are passed. False, and the targets are `at`, where no way leads home.
 */
bool head_way_target(const struct head_way *way, const double at[HEAD_TURNING], double target[HEAD_TURNING]);

/* Whether `at` (finite) is outside all grown regions and a way leads home from there. */
bool head_way_open(const struct head_way *way, const double at[HEAD_TURNING]);

#endif
