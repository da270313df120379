/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/fall_plan.h"

#include <stdlib.h>

#include "policy/motion/units.h"

enum { FIRST_CELLS = 300, DEEPEST = 6, MOST_OPEN = 8 * DEEPEST + 1 };

/* A box of places, and the directions in which it may still get further than what was found. */
struct cell {
    struct vec3 middle, half;
    int level, live;
    short side[FOOTPRINT_MAX_SIDES];
};

struct search {
    const struct site *site;
    int cord;
    double give_m, tolerance_m;
    struct footprint_hull *hull; /* what was found, the tolerance not added */
    int open;
    struct cell cell[MOST_OPEN];
};

bool fall_plan_from(const struct site *site, struct vec3 place, int cord, double give_m, struct footprint *fp)
{
    struct footprint_bounds bounds = {.floor_m = fmin(0, site->stage_box.lo.z), .give_m = give_m};
    /* no winch pulls once something is wrong, so it rises by its speed alone */
    bounds.ceiling_m = place.z + give_m + site->speed_mps * site->speed_mps / (2 * UNITS_GRAVITY_MPS2);
    return footprint_init(fp, &site->room.outline, place, 1u << cord, &bounds);
}

static double angle_of(const struct search *s, int side)
{
    return UNITS_TURN * side / s->hull->sides;
}

/* What its middle itself gets to. */
static void find(struct search *s, const struct cell *c)
{
    struct footprint fp;
    if (!site_fits(s->site, c->middle, 0) || !fall_plan_from(s->site, c->middle, s->cord, s->give_m, &fp))
        return;
    for (int i = 0; i < c->live; i++) {
        double *best = &s->hull->reach_m[c->side[i]];
        *best = fmax(*best, footprint_reach(&fp, angle_of(s, c->side[i])));
    }
}

/* Which directions are worth to cut it up for. What is too small to be cut counts as found. */
static void bound(struct search *s, struct cell *c)
{
    struct footprint fp;
    double apart = vec_norm(c->half);
    int live = 0;
    if (!site_fits(s->site, c->middle, apart) || !fall_plan_from(s->site, c->middle, s->cord, s->give_m + apart, &fp)) {
        c->live = 0;
        return;
    }
    for (int i = 0; i < c->live; i++) {
        double *best = &s->hull->reach_m[c->side[i]];
        double most = footprint_reach(&fp, angle_of(s, c->side[i])) - s->tolerance_m;
        if (most > *best && c->level == DEEPEST)
            *best = most;
        else if (most > *best)
            c->side[live++] = c->side[i];
    }
    c->live = live;
}

static void cut(struct search *s, const struct cell *c)
{
    for (int part = 0; part < 8; part++) {
        struct cell *next = &s->cell[s->open++];
        *next = *c;
        next->level++;
        next->half = vec_scale(c->half, 0.5);
        next->middle.x += part & 1 ? next->half.x : -next->half.x;
        next->middle.y += part & 2 ? next->half.y : -next->half.y;
        next->middle.z += part & 4 ? next->half.z : -next->half.z;
        find(s, next);
    }
}

static void search_cell(struct search *s, const struct cell *first)
{
    s->cell[0] = *first;
    s->open = 1;
    while (s->open > 0) {
        struct cell c = s->cell[--s->open];
        bound(s, &c);
        if (c.live > 0)
            cut(s, &c);
    }
}

/* Twice over the stage: first what every cell's middle gets to, as the more is found, the less is to be searched. */
static void search_stage(struct search *s)
{
    struct shape_box box = s->site->stage_box;
    struct vec3 size = vec_sub(box.hi, box.lo);
    double step = cbrt(size.x * size.y * size.z / FIRST_CELLS);
    int n[3] = {(int)ceil(size.x / step), (int)ceil(size.y / step), (int)ceil(size.z / step)};
    struct cell c = {.half = {size.x / n[0] / 2, size.y / n[1] / 2, size.z / n[2] / 2}};
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < n[0] * n[1] * n[2]; i++) {
            c.middle = (struct vec3){box.lo.x + (2 * (i % n[0]) + 1) * c.half.x,
                                     box.lo.y + (2 * (i / n[0] % n[1]) + 1) * c.half.y,
                                     box.lo.z + (2 * (i / n[0] / n[1]) + 1) * c.half.z};
            c.live = s->hull->sides;
            for (int side = 0; side < c.live; side++)
                c.side[side] = (short)side;
            if (pass == 0)
                find(s, &c);
            else
                search_cell(s, &c);
        }
}

/* A side that does not touch the polygon of the others is moved to its nearest corner: that polygon stays as it is, and
 * its corners follow each other. Found with a tolerance, some sides do not. */
static void tighten(struct footprint_hull *hull)
{
    double across = 2 * cos(UNITS_TURN / hull->sides);
    bool moved = true;
    for (int round = 0; moved && round < 1000; round++) {
        moved = false;
        for (int i = 0; i < hull->sides; i++) {
            int before = (i + hull->sides - 1) % hull->sides, after = (i + 1) % hull->sides;
            double corner = (hull->reach_m[before] + hull->reach_m[after]) / across;
            moved = moved || hull->reach_m[i] > corner + 1e-6;
            hull->reach_m[i] = fmin(hull->reach_m[i], corner);
        }
    }
}

bool fall_plan_find(const struct site *site, int cord, double give_m, double tolerance_m, struct footprint_hull *hull)
{
    struct search *s = malloc(sizeof *s);
    if (!s)
        return false;
    *s = (struct search){.site = site, .cord = cord, .give_m = give_m, .tolerance_m = tolerance_m, .hull = hull};
    search_stage(s);
    for (int i = 0; i < hull->sides; i++)
        hull->reach_m[i] += tolerance_m;
    tighten(hull);
    free(s);
    return true;
}
