/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/show_reach.h"

#include <math.h>
#include <stdlib.h>

#include "policy/motion/units.h"

static const double error_m = 0.05;  /* of the edge: well below what margins are */
static const double around_m = 0.35; /* beyond the stage, so that the edge of what was looked at is never felt */

struct shape_box show_reach_places(const struct show *show)
{
    const struct volume *volume = &show->policy.guard.volume;
    struct shape_box box = shape_prism_box(volume->stage, volume->stages);
    box.lo.z += volume->outline.boom_m;
    return box;
}

struct volume_now show_reach_now(const struct show *show)
{
    const struct limits *cell = &show->policy.limits.cell[LANE_OPERATOR][LIMITS_SHOW];
    struct volume_now now = volume_now_usual();
    now.floor_m = cell->floor_m;
    now.ceiling_m = cell->ceiling_m;
    now.yaw_off_rad = UNITS_TURN;
    return now;
}

static struct reach_config config_of(const struct show *show)
{
    const struct vec3 around = {around_m, around_m, around_m};
    struct shape_box box = show_reach_places(show);
    return (struct reach_config){
        .rig = show->cords.rig,
        .room = {vec_sub(box.lo, around), vec_add(box.hi, around)},
        .reserve_mps2 = show->cords.reserve_mps2,
        .min_length_m = show->cords.min_length_m,
        .error_m = error_m,
    };
}

static bool home_in_reach(const struct show *show, const struct reach *reach, const char *name, FILE *err)
{
    double margin = show->policy.guard.margin_m, distance = reach_distance(reach, show->home);
    if (distance >= margin)
        return true;
    fprintf(
        err,
        "%s: /room/home_m: expected a place at least margin_m (%g m) inside where the cords hold the camera with their "
        "reserve, found it %.3g m %s. Hint: survey draws where they do; move home, or look at /rig/cords.\n",
        name, margin, fabs(distance), distance >= 0 ? "inside" : "outside");
    return false;
}

/* What was not needed, so that core can lock what is left into memory. */
static void give_back(struct show_reach *out)
{
    uint32_t *cell = realloc(out->cell, out->reach.cells * sizeof *cell);
    if (!cell)
        return;
    out->cell = out->reach.cell = cell;
    out->reach.capacity = out->reach.cells;
}

bool show_reach_build(struct show *show, const char *name, struct show_reach *out, FILE *err)
{
    struct reach_config cfg = config_of(show);
    *out = (struct show_reach){.cell = NULL};
    show->policy.guard.volume.reach = NULL;
    if (!show->cords.given)
        return true;
    out->cell = malloc(REACH_USUAL_CELLS * sizeof *out->cell);
    if (!out->cell || reach_build(&out->reach, &cfg, out->cell, REACH_USUAL_CELLS) == REACH_INVALID) {
        fprintf(err, "%s: /rig/cords: expected to work out where the cords hold the camera, found %s.\n", name,
                out->cell ? "that these numbers make no sense together" : "no memory for it");
        return false;
    }
    show->policy.guard.volume.reach = &out->reach;
    give_back(out);
    return home_in_reach(show, &out->reach, name, err);
}

void show_reach_free(struct show *show, struct show_reach *reach)
{
    show->policy.guard.volume.reach = NULL;
    free(reach->cell);
    reach->cell = NULL;
}

/* Body and boom inside the stage, whatever the keep-outs: those may be moved. */
static bool on_stage(const struct volume *volume, struct vec3 at)
{
    struct vec3 body = {at.x, at.y, at.z - volume->outline.boom_m};
    for (int i = 0; i < volume->stages; i++)
        if (shape_prism_distance(&volume->stage[i], body) <= -volume->outline.limb[0].radius_m &&
            shape_prism_distance(&volume->stage[i], at) <= -volume->outline.boom_radius_m)
            return true;
    return false;
}

static int slices(double size, double step)
{
    return (int)fmin(fmax(ceil(size / step), 1), 1000);
}

static void look_at(const struct show *show, struct vec3 at, double m3, struct show_reach_survey *out)
{
    const struct volume *volume = &show->policy.guard.volume;
    struct tension_state t;
    if (!on_stage(volume, at))
        return;
    out->stage_m3 += m3;
    if (reach_distance(volume->reach, at) <= 0)
        return;
    out->reachable_m3 += m3;
    tension_solve(&show->cords.rig, at, (struct vec3){0, 0, 0}, &t);
    if (t.margin_n >= out->margin_n)
        return;
    out->margin_n = t.margin_n;
    out->worst = at;
    out->cord = t.cord;
    out->at_max = t.at_max;
}

bool show_reach_look(const struct show *show, struct show_reach_survey *out)
{
    enum { PLACES = 20000 };
    *out = (struct show_reach_survey){.margin_n = INFINITY};
    if (!show->policy.guard.volume.reach)
        return false;
    struct shape_box box = show_reach_places(show);
    struct vec3 size = vec_sub(box.hi, box.lo);
    double step = cbrt(size.x * size.y * size.z / PLACES);
    int nx = slices(size.x, step), ny = slices(size.y, step), nz = slices(size.z, step);
    double m3 = size.x / nx * (size.y / ny) * (size.z / nz);
    for (int i = 0; i < nx; i++)
        for (int j = 0; j < ny; j++)
            for (int k = 0; k < nz; k++)
                look_at(show,
                        (struct vec3){box.lo.x + (i + 0.5) * size.x / nx, box.lo.y + (j + 0.5) * size.y / ny,
                                      box.lo.z + (k + 0.5) * size.z / nz},
                        m3, out);
    return true;
}
