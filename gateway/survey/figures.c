/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/figures.h"

enum { PLACES = 60000 };

static const struct vec3 at_rest = {0, 0, 0};

static double stage_volume(const struct site *site)
{
    const struct shape_prism *s = &site->stage[0];
    double twice = 0;
    for (int i = 0; i < s->corners; i++) {
        int next = (i + 1) % s->corners;
        twice += s->x[i] * s->y[next] - s->x[next] * s->y[i];
    }
    return fabs(twice) / 2 * (s->z_hi - s->z_lo);
}

double figures_held(const struct reach *reach, struct vec3 platform)
{
    return reach->reachable_m3 > 0 ? reach_distance(reach, platform) : -SHAPE_FAR_M;
}

static void look_at_tension(struct figures *f, const struct site *site, struct vec3 p, bool reachable)
{
    struct tension_state s;
    tension_solve(&site->cords->rig, p, at_rest, &s);
    if (s.margin_n < f->worst.tension_n)
        f->worst = (struct figures_tension){s.margin_n, s.cord, s.at_max, p};
    if (s.margin_n > f->best.tension_n)
        f->best = (struct figures_tension){s.margin_n, s.cord, s.at_max, p};
    for (int k = 0; reachable && s.feasible && k < site->cords->rig.cords; k++) {
        double limit = site->cords->rig.max_n[f->highest.cord];
        if (s.middle_n[k] / site->cords->rig.max_n[k] > f->highest.tension_n / limit)
            f->highest = (struct figures_tension){s.middle_n[k], k, true, p};
    }
}

/* How much of a cell is inside, of which the middle is this deep inside: exact for a flat boundary along an axis. */
static double share(double depth, double cell)
{
    return fmin(fmax(0.5 + depth / cell, 0), 1);
}

static void look_at(struct figures *f, const struct site *site, const struct reach *reach, struct vec3 p,
                    double cell_m3)
{
    double fits = volume_clearance(&site->bare, &site->now, p).distance_m;
    f->stage_m3 += cell_m3 * share(site_stage_depth(site, p), f->step_m);
    if (share(fits, f->step_m) <= 0)
        return;
    double clear = fmin(fits, volume_clearance(&site->room, &site->now, p).distance_m);
    double held = reach ? fmin(fits, figures_held(reach, p)) : -INFINITY;
    f->fits_m3 += cell_m3 * share(fits, f->step_m);
    f->clear_m3 += cell_m3 * share(clear, f->step_m);
    f->reachable_m3 += cell_m3 * share(held, f->step_m);
    f->usable_m3 += cell_m3 * share(fmin(clear, held), f->step_m);
    if (fits < 0)
        return;
    f->low_m = fmin(f->low_m, p.z);
    f->high_m = fmax(f->high_m, p.z);
    if (reach)
        look_at_tension(f, site, p, held > 0);
}

void figures_take(struct figures *f, const struct site *site, const struct reach *reach)
{
    struct shape_box box = site->stage_box;
    struct vec3 size = vec_sub(box.hi, box.lo);
    *f = (struct figures){.low_m = INFINITY, .high_m = -INFINITY};
    f->worst.tension_n = INFINITY;
    f->best.tension_n = -INFINITY;
    f->step_m = cbrt(size.x * size.y * size.z / PLACES);
    int n[3] = {(int)ceil(size.x / f->step_m), (int)ceil(size.y / f->step_m), (int)ceil(size.z / f->step_m)};
    struct vec3 cell = {size.x / n[0], size.y / n[1], size.z / n[2]};
    for (int iz = 0; iz < n[2]; iz++)
        for (int iy = 0; iy < n[1]; iy++)
            for (int ix = 0; ix < n[0]; ix++) {
                struct vec3 p = {box.lo.x + (ix + 0.5) * cell.x, box.lo.y + (iy + 0.5) * cell.y,
                                 box.lo.z + (iz + 0.5) * cell.z};
                look_at(f, site, reach, p, cell.x * cell.y * cell.z);
            }
    if (site->stages == 1)
        f->stage_m3 = stage_volume(site);
    f->at_home = volume_clearance(&site->room, &site->now, site->home);
    if (reach) {
        struct tension_state s;
        tension_solve(&site->cords->rig, site->home, at_rest, &s);
        f->home_holds = s.feasible;
        for (int k = 0; k < site->cords->rig.cords; k++)
            f->home_n[k] = s.middle_n[k];
    }
}
