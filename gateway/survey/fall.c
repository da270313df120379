/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/fall.h"

#include <stdlib.h>

#include "gateway/survey/fall_plan.h"

enum { PLACES = 10000, CELLS = 90, FEW_CORDS = 4 };

/* ---- In plan ---- */

static void outline_of(const struct footprint_hull *hull, struct fall_outline *out)
{
    out->any = isfinite(hull->reach_m[0]);
    for (int i = 0; out->any && i < hull->sides; i++)
        footprint_hull_corner(hull, i, &out->corner[i].x, &out->corner[i].y);
}

static void find_furthest(struct fall *fall, const struct site *site)
{
    for (int k = 0; k < fall->cords; k++)
        for (int i = 0; fall->cord[k].any && i < fall->sides; i++) {
            struct plan_point c = fall->cord[k].corner[i];
            double beyond = -site_stage_depth_in_plan(site, c.x, c.y);
            if (beyond > fall->beyond_m + 1e-6) {
                fall->beyond_m = beyond;
                fall->beyond_cord = k;
                fall->beyond_at = c;
            }
        }
}

/* As high as it was, and as its boom and body may swing up. */
static void bound(struct fall *fall, const struct site *site, const struct footprint_hull *all)
{
    struct footprint fp;
    struct vec3 top = {site->home.x, site->home.y, site->stage_box.hi.z};
    fall->box = site->stage_box;
    if (!fall->all.any || !fall_plan_from(site, top, 0, FALL_GIVE_M, &fp))
        return;
    int quarter = fall->sides / 4;
    fall->box = (struct shape_box){{-all->reach_m[2 * quarter], -all->reach_m[3 * quarter], fp.z_lo},
                                   {all->reach_m[0], all->reach_m[quarter], fp.z_hi + fp.grow_m}};
}

static bool in_plan(struct fall *fall, const struct site *site)
{
    struct footprint_hull hull, all;
    footprint_hull_init(&all, fall->sides);
    for (int k = 0; k < fall->cords; k++) {
        footprint_hull_init(&hull, fall->sides);
        if (!fall_plan_find(site, k, FALL_GIVE_M, fall->tolerance_m, &hull))
            return false;
        outline_of(&hull, &fall->cord[k]);
        for (int i = 0; i < fall->sides; i++)
            all.reach_m[i] = fmax(all.reach_m[i], hull.reach_m[i]);
    }
    outline_of(&all, &fall->all);
    fall->area_m2 = fall->all.any ? plan_area(fall->all.corner, fall->sides) : 0;
    find_furthest(fall, site);
    bound(fall, site, &all);
    return true;
}

/* ---- In elevation ---- */

/* Is there a point of the (grown) solid behind this point of the view? */
static bool behind(const struct footprint *fp, enum drawable_view view, double across, double up)
{
    double lo = -INFINITY, hi = INFINITY;
    if (up < fp->z_lo || up > fp->z_hi + fp->grow_m)
        return false;
    for (int k = 0; k < fp->balls; k++) {
        double da = across - pane_across(view, fp->centre[k]), du = up - fp->centre[k].z;
        double radius = fp->radius_m[k] + fp->grow_m, square = radius * radius - da * da - du * du;
        if (square < 0)
            return false;
        lo = fmax(lo, drawable_depth(view, fp->centre[k]) - sqrt(square));
        hi = fmin(hi, drawable_depth(view, fp->centre[k]) + sqrt(square));
    }
    return lo <= hi;
}

static void see(struct fall *fall, const struct footprint *fp)
{
    for (int view = DRAWABLE_FRONT; view <= DRAWABLE_SIDE; view++) {
        struct contour_grid *g = &fall->seen[view];
        for (int i = 0; i < g->columns * g->rows; i++)
            if (g->value[i] <= 0 && behind(fp, (enum drawable_view)view, g->x + i % g->columns * g->step,
                                           g->y + (double)(i / g->columns) * g->step))
                g->value[i] = 1;
    }
}

/* Places evenly, each standing for all around it by more give: too wide at the sides, where the plan's bounds cut it.
 */
static void in_elevation(struct fall *fall, const struct site *site)
{
    struct shape_box box = site->stage_box;
    struct vec3 size = vec_sub(box.hi, box.lo);
    double step = cbrt(size.x * size.y * size.z * fmax(fall->cords, 1) / PLACES);
    int n[3] = {(int)ceil(size.x / step), (int)ceil(size.y / step), (int)ceil(size.z / step)};
    struct vec3 cell = {size.x / n[0], size.y / n[1], size.z / n[2]};
    double apart = vec_norm(cell) / 2;
    for (int i = 0; i < n[0] * n[1] * n[2]; i++) {
        struct vec3 p = {box.lo.x + (i % n[0] + 0.5) * cell.x, box.lo.y + (i / n[0] % n[1] + 0.5) * cell.y,
                         box.lo.z + (i / n[0] / n[1] + 0.5) * cell.z};
        struct footprint fp;
        if (!site_fits(site, p, apart))
            continue;
        for (int k = 0; k < fall->cords; k++)
            if (fall_plan_from(site, p, k, FALL_GIVE_M + apart, &fp))
                see(fall, &fp);
    }
}

static bool grid_new(struct fall *fall, enum drawable_view view)
{
    struct contour_grid *g = &fall->seen[view];
    struct vec3 size = vec_sub(fall->box.hi, fall->box.lo);
    g->step = fmax(pane_across(view, size), size.z) / CELLS;
    g->columns = (int)ceil(pane_across(view, size) / g->step) + 1;
    g->rows = (int)ceil(size.z / g->step) + 1;
    g->x = pane_across(view, fall->box.lo);
    g->y = fall->box.lo.z;
    g->value = calloc((size_t)g->columns * (size_t)g->rows, sizeof *g->value);
    return g->value;
}

bool fall_new(struct fall *fall, const struct site *site)
{
    *fall = (struct fall){.cords = site->room.outline.cords, .sides = FALL_SIDES, .tolerance_m = 0.1};
    if (fall->cords > FEW_CORDS) { /* more of them bound it in more ways, which takes longer: seconds, not a minute */
        fall->sides = FALL_SIDES / 2;
        fall->tolerance_m = 0.3;
    }
    if (!in_plan(fall, site) || !grid_new(fall, DRAWABLE_FRONT) || !grid_new(fall, DRAWABLE_SIDE)) {
        fall_free(fall);
        return false;
    }
    in_elevation(fall, site);
    return true;
}

void fall_free(struct fall *fall)
{
    for (int view = 0; view < DRAWABLE_VIEWS; view++)
        free(fall->seen[view].value);
    *fall = (struct fall){.cords = 0};
}
