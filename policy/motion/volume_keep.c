/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume_keep.h"

#include <stddef.h>

#include "policy/motion/reach.h"
#include "policy/motion/stage.h"
#include "policy/motion/tether.h"
#include "policy/motion/volume_meet.h"

#define ROUNDING_M 5e-6 /* hull distances may be short by a micrometre each */

/* One part, at the start and on the way. */
struct pair_of_ways {
    const struct volume_near *near;
    double margin_m, moved_m;
    int part;
    struct outline_swept still, swept;
};

static bool kept(double before, double after, double margin_m)
{
    return after >= lesser(before, margin_m) - ROUNDING_M;
}

static bool keeps_pair(const struct pair_of_ways *w, const struct volume_pair *pair, struct volume_clearance *block)
{
    double steep = w->part == OUTLINE_TETHER ? VOLUME_TETHER_STEEP : 1;
    struct vec3 along = {0, 0, 0};
    if ((double)pair->apart_m - steep * w->moved_m >= w->margin_m)
        return true;
    double after = volume_meet_target(w->near, w->part, &w->swept, pair->target, w->margin_m, &along);
    if (after >= w->margin_m)
        return true;
    double before = volume_meet_target(w->near, w->part, &w->still, pair->target, w->margin_m, &along);
    if (kept(before, after, w->margin_m))
        return true;
    *block = (struct volume_clearance){.distance_m = INFINITY};
    volume_meet_told(w->near, w->part, pair->target, after, block);
    return false;
}

static double lowest(const struct outline_swept *s)
{
    const struct vec3 *c = s->end;
    return lesser(lesser(c[0].z, c[1].z), lesser(c[2].z, c[3].z)) - s->hull.ball_m;
}

static double highest(const struct outline_swept *s)
{
    const struct vec3 *c = s->end;
    return greater(greater(c[0].z, c[1].z), greater(c[2].z, c[3].z)) + s->hull.ball_m;
}

static bool tells(struct volume_clearance *block, int part, enum volume_bound bound, double distance_m)
{
    *block = (struct volume_clearance){.distance_m = distance_m, .bound = bound};
    block->part = part < OUTLINE_BOOM ? VOLUME_BODY : part == OUTLINE_TETHER ? VOLUME_TETHER : VOLUME_BOOM;
    block->limb = part < OUTLINE_BOOM ? part : 0;
    return false;
}

static double depth(const struct pair_of_ways *w, const struct outline_swept *s)
{
    return stage_depth(w->near->vol, s->end, s->hull.disc_m, s->hull.ball_m, w->margin_m + ROUNDING_M);
}

/* Stage, floor and ceiling, one by one. */
static bool keeps_edges(const struct pair_of_ways *w, struct volume_clearance *block)
{
    const struct volume_now *now = &w->near->now;
    double inside = depth(w, &w->swept), above = lowest(&w->swept) - now->floor_m;
    double below = now->ceiling_m - highest(&w->swept);
    if (inside < w->margin_m && !kept(depth(w, &w->still), inside + STAGE_ERROR_M, w->margin_m))
        return tells(block, w->part, VOLUME_STAGE, inside);
    if (!kept(lowest(&w->still) - now->floor_m, above, w->margin_m))
        return tells(block, w->part, VOLUME_FLOOR, above);
    if (!kept(now->ceiling_m - highest(&w->still), below, w->margin_m))
        return tells(block, w->part, VOLUME_CEILING, below);
    return true;
}

static bool keeps_part(struct pair_of_ways *w, struct vec3 to, struct volume_clearance *block)
{
    const struct volume_near *near = w->near;
    const struct volume_outline *o = &near->vol->outline;
    outline_sweep(o, &near->turn, w->part, near->at, near->at, &w->still);
    outline_sweep(o, &near->turn, w->part, near->at, to, &w->swept);
    for (int i = 0; i < near->pairs[w->part]; i++) {
        if (!keeps_pair(w, &near->pair[w->part][i], block))
            return false;
    }
    return w->part >= VOLUME_BODY_PARTS || keeps_edges(w, block);
}

static bool keeps_reach(const struct pair_of_ways *w, struct vec3 to, struct volume_clearance *block)
{
    const struct reach *reach = w->near->vol->reach;
    struct vec3 at = w->near->at;
    if (reach == NULL)
        return true;
    double after = reach_path_distance(reach, at, to, w->margin_m);
    if (after >= w->margin_m || kept(reach_path_distance(reach, at, at, w->margin_m), after, w->margin_m))
        return true;
    return tells(block, OUTLINE_BOOM, VOLUME_REACH, after);
}

static bool keeps_tether(const struct pair_of_ways *w, struct vec3 to, struct volume_clearance *block)
{
    const struct volume_outline *o = &w->near->vol->outline;
    const struct vec3 down = {0, 0, -o->boom_m};
    struct vec3 at = vec_add(w->near->at, down), end = vec_add(to, down);
    if (o->tether.kind == VOLUME_TETHER_NONE)
        return true;
    double after = tether_left(&o->tether, at, end);
    if (kept(tether_left(&o->tether, at, at), after, w->margin_m))
        return true;
    return tells(block, OUTLINE_TETHER, VOLUME_TETHER_END, after);
}

bool volume_keep(const struct volume_near *near, struct vec3 to, double margin_m, struct volume_clearance *block)
{
    struct volume_clearance unused;
    struct volume_clearance *told = block != NULL ? block : &unused;
    struct pair_of_ways w = {.near = near, .margin_m = margin_m, .moved_m = vec_norm(vec_sub(to, near->at))};
    if (!shape_point_valid(to) || !(near->within_m >= 0))
        return false;
    for (int part = 0; part < VOLUME_PARTS; part++) {
        w.part = part;
        if (outline_has(&near->vol->outline, part) && !keeps_part(&w, to, told))
            return false;
    }
    return keeps_reach(&w, to, told) && keeps_tether(&w, to, told);
}
