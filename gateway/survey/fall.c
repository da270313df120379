/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/fall.h"

#include <stdlib.h>

#include "gateway/survey/silhouette.h"

enum { PLACES = 10000, CELLS = 90 }; /* times cords: more of them bound it in more ways, which takes longer */

static const double gravity = 9.80665;

/* Called for every place and cord. */
typedef void each_footprint(void *context, const struct footprint *fp, int cord);

static void part_each(const struct site *site, struct vec3 p, double give_m, each_footprint *take, void *context)
{
    const struct volume_outline *outline = &site->volume->outline;
    struct footprint fp;
    struct footprint_bounds bounds = {.floor_m = fmin(0, site->stage_box.lo.z), .give_m = give_m};
    /* no winch pulls once something is wrong, so it rises by its speed alone */
    bounds.ceiling_m = p.z + give_m + site->speed_mps * site->speed_mps / (2 * gravity);
    for (int k = 0; k < outline->cords; k++)
        if (footprint_init(&fp, outline, p, 1u << k, &bounds))
            take(context, &fp, k);
}

static int from_all_places(const struct site *site, double *apart, each_footprint *take, void *context)
{
    struct shape_box box = site->stage_box;
    struct vec3 size = vec_sub(box.hi, box.lo);
    double step = cbrt(size.x * size.y * size.z * fmax(site->volume->outline.cords, 1) / PLACES);
    int n[3] = {(int)ceil(size.x / step), (int)ceil(size.y / step), (int)ceil(size.z / step)}, places = 0;
    struct vec3 cell = {size.x / n[0], size.y / n[1], size.z / n[2]};
    *apart = vec_norm(cell) / 2;
    for (int i = 0; i < n[0] * n[1] * n[2]; i++) {
        struct vec3 p = {box.lo.x + (i % n[0] + 0.5) * cell.x, box.lo.y + (i / n[0] % n[1] + 0.5) * cell.y,
                         box.lo.z + (i / n[0] / n[1] + 0.5) * cell.z};
        if (!site_fits(site, p, *apart))
            continue;
        part_each(site, p, FALL_GIVE_M + *apart, take, context);
        places++;
    }
    return places;
}

/* ---- In plan ---- */

struct hulls {
    struct footprint_hull cord[VOLUME_MAX_CORDS];
    double z_lo, z_hi, grow_m;
};

static void add_to_hull(void *context, const struct footprint *fp, int cord)
{
    struct hulls *hulls = context;
    footprint_hull_add(&hulls->cord[cord], fp);
    hulls->z_lo = fmin(hulls->z_lo, fp->z_lo);
    hulls->z_hi = fmax(hulls->z_hi, fp->z_hi);
    hulls->grow_m = fp->grow_m;
}

static void outline_of(const struct footprint_hull *hull, struct fall_outline *out)
{
    out->any = isfinite(hull->reach_m[0]);
    for (int i = 0; out->any && i < FALL_SIDES; i++)
        footprint_hull_corner(hull, i, &out->corner[i].x, &out->corner[i].y);
}

static void find_furthest(struct fall *fall, const struct site *site)
{
    for (int k = 0; k < fall->cords; k++)
        for (int i = 0; fall->cord[k].any && i < FALL_SIDES; i++) {
            struct svg_point c = fall->cord[k].corner[i];
            double beyond = -site_stage_depth_in_plan(site, c.x, c.y);
            if (beyond > fall->beyond_m + 1e-6) {
                fall->beyond_m = beyond;
                fall->beyond_cord = k;
                fall->beyond_at = c;
            }
        }
}

static void in_plan(struct fall *fall, const struct site *site, struct hulls *hulls)
{
    struct footprint_hull all;
    footprint_hull_init(&all, FALL_SIDES);
    for (int k = 0; k < fall->cords; k++) {
        outline_of(&hulls->cord[k], &fall->cord[k]);
        for (int i = 0; i < FALL_SIDES; i++)
            all.reach_m[i] = fmax(all.reach_m[i], hulls->cord[k].reach_m[i]);
    }
    outline_of(&all, &fall->all);
    fall->area_m2 = fall->all.any ? silhouette_area(fall->all.corner, FALL_SIDES) : 0;
    find_furthest(fall, site);
    fall->box = site->stage_box;
    if (fall->all.any)
        fall->box = (struct shape_box){{-all.reach_m[FALL_SIDES / 2], -all.reach_m[FALL_SIDES * 3 / 4], hulls->z_lo},
                                       {all.reach_m[0], all.reach_m[FALL_SIDES / 4], hulls->z_hi + hulls->grow_m}};
}

/* ---- In elevation ---- */

/* Is there a point of the (grown) solid behind this point of the view? */
static bool behind(const struct footprint *fp, enum pane_view view, double across, double up)
{
    double lo = -INFINITY, hi = INFINITY;
    if (up < fp->z_lo || up > fp->z_hi + fp->grow_m)
        return false;
    for (int k = 0; k < fp->balls; k++) {
        double da = across - pane_across(view, fp->centre[k]), du = up - fp->centre[k].z;
        double radius = fp->radius_m[k] + fp->grow_m, square = radius * radius - da * da - du * du;
        if (square < 0)
            return false;
        lo = fmax(lo, pane_depth(view, fp->centre[k]) - sqrt(square));
        hi = fmin(hi, pane_depth(view, fp->centre[k]) + sqrt(square));
    }
    return lo <= hi;
}

static void add_to_elevations(void *context, const struct footprint *fp, int cord)
{
    struct fall *fall = context;
    (void)cord;
    for (int view = PANE_FRONT; view <= PANE_SIDE; view++) {
        struct contour_grid *g = &fall->seen[view];
        for (int i = 0; i < g->columns * g->rows; i++)
            if (g->value[i] <= 0 && behind(fp, (enum pane_view)view, g->x + i % g->columns * g->step,
                                           g->y + (double)(i / g->columns) * g->step))
                g->value[i] = 1;
    }
}

static bool grid_new(struct fall *fall, enum pane_view view)
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
    struct hulls *hulls = malloc(sizeof *hulls);
    *fall = (struct fall){.cords = site->volume->outline.cords};
    if (!hulls)
        return false;
    *hulls = (struct hulls){.z_lo = INFINITY, .z_hi = -INFINITY};
    for (int k = 0; k < VOLUME_MAX_CORDS; k++)
        footprint_hull_init(&hulls->cord[k], FALL_SIDES);
    fall->places = from_all_places(site, &fall->apart_m, add_to_hull, hulls);
    in_plan(fall, site, hulls);
    free(hulls);
    if (!grid_new(fall, PANE_FRONT) || !grid_new(fall, PANE_SIDE)) {
        fall_free(fall);
        return false;
    }
    from_all_places(site, &fall->apart_m, add_to_elevations, fall);
    return true;
}

void fall_free(struct fall *fall)
{
    for (int view = 0; view < PANE_VIEWS; view++)
        free(fall->seen[view].value);
    *fall = (struct fall){.places = 0};
}
