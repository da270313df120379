/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the survey says in numbers, against other ways of finding it. */
#include <criterion/criterion.h>
#include <stdlib.h>

#include "gateway/survey/fall.h"
#include "gateway/survey/figures.h"
#include "policy/motion/units.h"
#include "tests/unit/survey/rooms.h"

enum { CELLS = 1 << 17 };

static struct show show;
static struct site site;

static void take(struct figures *f)
{
    static uint32_t cell[CELLS];
    static struct reach reach;
    struct shape_box box = site.stage_box;
    struct reach_config cfg = {site.cords->rig, box, site.cords->reserve_mps2, site.cords->min_length_m, 0.1};
    cr_assert_neq(reach_build(&reach, &cfg, cell, CELLS), REACH_INVALID);
    figures_take(f, &site, &reach);
}

/* The camera (0.15 m) hangs 0.35 m below the platform, on a boom of 0.02 m. */
Test(figures, volumes_of_a_plain_room)
{
    struct figures f;
    rooms_plain(&show);
    site_from_show(&site, &show);
    take(&f);
    double fits = (6 - 0.3) * (4 - 0.3) * (2 - 0.35 - 0.15 - 0.02);
    cr_assert_float_eq(f.stage_m3, 48, 1e-9);
    cr_assert_float_eq(f.fits_m3, fits, 0.02 * fits);
    cr_assert(f.clear_m3 < f.fits_m3 && f.clear_m3 > 0.8 * f.fits_m3);
    cr_assert(f.usable_m3 <= f.clear_m3 && f.usable_m3 <= f.reachable_m3 && f.reachable_m3 <= f.fits_m3);
    cr_assert(f.low_m >= 1.5 && f.low_m < 1.6 && f.high_m <= 2.98 && f.high_m > 2.88);
}

/* Per cord, at the centre of four: W / (4 sin alpha) = 0.35, 0.50, 0.97, 1.44, 2.87 W at 45, 30, 15, 10, 5 degrees (the
 * balance of forces by hand). */
Test(figures, tension_at_the_centre_is_that_of_the_balance_by_hand)
{
    static const double by_hand[][2] = {{45, 0.35}, {30, 0.50}, {15, 0.97}, {10, 1.44}, {5, 2.87}};
    for (size_t i = 0; i < 5; i++) {
        struct figures f;
        rooms_plain(&show);
        show.cords.rig.min_n[0] = show.cords.rig.min_n[1] = show.cords.rig.min_n[2] = show.cords.rig.min_n[3] = 0;
        show.home = (struct vec3){4, 4, 4 - 4 * sqrt(2) * tan(by_hand[i][0] * M_PI / 180)};
        site_from_show(&site, &show);
        take(&f);
        cr_assert(f.home_holds);
        for (int k = 0; k < 4; k++)
            cr_assert_float_eq(f.home_n[k] / (2.4 * UNITS_GRAVITY_MPS2), by_hand[i][1], 0.005, "%g degrees: %g",
                               by_hand[i][0], f.home_n[k]);
    }
}

/* No corner of where the camera fits is worse than what the survey found by more than a cell can make. */
Test(figures, the_worst_margin_is_the_worst)
{
    struct figures f;
    struct tension_state s;
    rooms_plain(&show);
    site_from_show(&site, &show);
    take(&f);
    tension_solve(&site.cords->rig, f.worst.at, (struct vec3){0, 0, 0}, &s);
    cr_assert_float_eq(s.margin_n, f.worst.tension_n, 1e-9);
    cr_assert_eq(s.cord, f.worst.cord);
    cr_assert_eq(s.at_max, f.worst.at_max);
    srand(1);
    for (int i = 0; i < 20000; i++) {
        struct vec3 p = {1 + 6.0 * rand() / RAND_MAX, 2 + 4.0 * rand() / RAND_MAX, 1 + 2.0 * rand() / RAND_MAX};
        tension_solve(&site.cords->rig, p, (struct vec3){0, 0, 0}, &s);
        if (site_fits(&site, p, 0))
            cr_assert(s.margin_n >= f.worst.tension_n - 3, "%g at %g %g %g, worst was %g", s.margin_n, p.x, p.y, p.z,
                      f.worst.tension_n);
    }
    cr_assert(f.highest.tension_n > 0 && f.highest.tension_n <= site.cords->rig.max_n[f.highest.cord]);
}

/* ---- The footprint, against falls at random ---- */

static double uniform(double lo, double hi)
{
    return lo + (hi - lo) * rand() / RAND_MAX;
}

static bool in_polygon(const struct plan_point *p, int n, double x, double y)
{
    for (int i = 0; i < n; i++) {
        struct plan_point a = p[i], b = p[(i + 1) % n];
        if ((b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x) < -1e-9)
            return false;
    }
    return true;
}

/* Where the platform might be after a cord of a rig at `from` has parted; false if this guess is not one. */
static bool may_fall_to(struct vec3 from, struct vec3 to, int parted)
{
    const struct volume_outline *o = &site.room.outline;
    for (int k = 0; k < o->cords; k++)
        if (k != parted && vec_norm(vec_sub(o->anchor[k], to)) > vec_norm(vec_sub(o->anchor[k], from)))
            return false;
    return to.z >= 0 && to.z <= from.z;
}

static bool seen(const struct contour_grid *g, double across, double up)
{
    for (int d = 0; d < 4; d++) {
        int x = (int)((across - g->x) / g->step) + (d & 1), y = (int)((up - g->y) / g->step) + (d >> 1);
        if (x >= 0 && y >= 0 && x < g->columns && y < g->rows && g->value[x + y * g->columns] > 0)
            return true;
    }
    return false;
}

static struct vec3 near(struct vec3 p, double by)
{
    return vec_add(p, (struct vec3){uniform(-by, by), uniform(-by, by), uniform(-by, by)});
}

/* How far the camera can get in a direction, by trying from many places: what is as far as the best so far is kept. */
static double furthest_fall(double angle, int parted)
{
    struct vec3 dir = {cos(angle), sin(angle), 0};
    double best = -INFINITY;
    for (int again = 0; again < 30; again++) {
        struct vec3 from = {uniform(1.2, 6.8), uniform(2.2, 5.8), uniform(1.5, 2.9)}, to = from;
        for (int i = 0; i < 4000; i++) {
            double by = pow(10, uniform(-3, 0.3));
            struct vec3 move = near((struct vec3){0, 0, 0}, by), start = i % 3 == 1 ? from : vec_add(from, move);
            struct vec3 end = i % 3 == 0 ? to : vec_add(to, move);
            if (vec_dot(end, dir) >= vec_dot(to, dir) && site_fits(&site, start, 0) &&
                may_fall_to(start, end, parted)) {
                from = start;
                to = end;
            }
        }
        best = fmax(best, vec_dot(to, dir) + 0.5);
    }
    return best;
}

Test(fall, nothing_that_falls_leaves_the_footprint_and_it_is_not_much_too_large, .timeout = 300)
{
    struct fall fall;
    int fell = 0;
    rooms_plain(&show);
    site_from_show(&site, &show);
    cr_assert(fall_new(&fall, &site));
    srand(2);
    for (int i = 0; i < 4000000; i++) {
        struct vec3 from = {uniform(1, 7), uniform(2, 6), uniform(1, 3)}, to = {uniform(-3, 11), uniform(-3, 11), 0};
        int parted = i % 4;
        to.z = i % 3 ? uniform(0, 3) : from.z;
        if (!site_fits(&site, from, 0) || !may_fall_to(from, to, parted))
            continue;
        double turn = uniform(0, 2 * M_PI), out = uniform(0, 0.5); /* the camera swings out to a side */
        double x = to.x + out * cos(turn), y = to.y + out * sin(turn), z = fmax(0, to.z - sqrt(0.25 - out * out));
        fell++;
        cr_assert(in_polygon(fall.cord[parted].corner, fall.sides, x, y), "cord %d: %g %g", parted, x, y);
        cr_assert(in_polygon(fall.all.corner, fall.sides, x, y));
        cr_assert(seen(&fall.seen[DRAWABLE_FRONT], x, z) && seen(&fall.seen[DRAWABLE_SIDE], y, z), "%g %g %g", x, y, z);
    }
    cr_assert(fell > 2000, "%d", fell);
    for (int s = 0; s < fall.sides; s += 6)
        for (int k = 0; k < 4; k++) {
            double angle = 2 * M_PI * s / fall.sides, found = furthest_fall(angle, k);
            double reach = fall.cord[k].corner[s].x * cos(angle) + fall.cord[k].corner[s].y * sin(angle);
            cr_assert(reach >= found - 1e-9 && reach < found + 0.6, "cord %d, %g rad: %g, found %g", k, angle, reach,
                      found);
        }
    cr_assert(fall.beyond_m > 0.5 && fall.beyond_m < 4);
    cr_assert_float_eq(-site_stage_depth_in_plan(&site, fall.beyond_at.x, fall.beyond_at.y), fall.beyond_m, 1e-9);
    fall_free(&fall);
}
