/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Clearance in rooms of every kind of thing, against brute force and against itself. */
#include <criterion/criterion.h>

#include "policy/motion/outline.h"
#include "tests/unit/motion/sampled.h"

#define CORD_SPACING_M 0.17 /* of points on the longest cord or tether */

static double yaw_of(const struct volume_now *now, double share)
{
    return now->yaw_rad + share * now->yaw_off_rad;
}

/* Never more than there is at any yaw that the body may have; and where the yaw is known no less, but for the spacing
 * of what it is held against. */
Test(volume_look, clearance_is_that_of_the_nearest_points)
{
    struct random r = {141};
    static struct volume vol;
    int clear = 0;
    for (int i = 0; i < 3000; i++) {
        sampled_room(&vol, &r);
        if (!volume_prepare(&vol))
            continue;
        struct volume_now now = sampled_now(&r);
        struct vec3 at = sampled_place(&r);
        double here = volume_clearance(&vol, &now, at).distance_m, most = INFINITY;
        for (int k = -4; k <= 4; k++)
            most = fmin(most, sampled_clearance(&vol, &now, at, yaw_of(&now, k / 4.0)));
        if (most > 0)
            cr_assert_leq(here, most + 1e-6, "%d: %g, sampled %g", i, here, most);
        else
            cr_assert_leq(here, 1e-6, "%d: %g, sampled %g", i, here, most);
        if (most > 0 && now.yaw_off_rad <= 0)
            cr_assert_geq(here, most - CORD_SPACING_M / 2, "%d: %g, sampled %g", i, here, most);
        clear += most > 0.02;
    }
    cr_assert_gt(clear, 200);
}

/* The same along a way. */
Test(volume_look, path_clearance_is_that_of_the_worst_place_on_it)
{
    struct random r = {142};
    static struct volume vol;
    static struct volume_near near;
    int clear = 0;
    for (int i = 0; i < 4000; i++) {
        if (i % 10 == 0) {
            do
                sampled_room(&vol, &r);
            while (!volume_prepare(&vol));
        }
        struct volume_now now = sampled_now(&r);
        struct vec3 from = sampled_place(&r), to = vec_add(from, random_in_ball(&r, 0.6)), d = vec_sub(to, from);
        volume_look(&near, &vol, &now, from, INFINITY);
        double path = volume_path_clearance(&near, from, to, INFINITY).distance_m, most = INFINITY;
        if (near.nearest.distance_m < -0.02 && path <= 0)
            continue; /* that is clear enough */
        for (int k = 0; k <= SAMPLED_ON_WAY; k++)
            most = fmin(most, sampled_clearance(&vol, &now, vec_along(from, d, (double)k / SAMPLED_ON_WAY),
                                                yaw_of(&now, (k % 5 - 2) / 2.0)));
        cr_assert_leq(path, fmax(most, 0) + 1e-6, "%d: %g, sampled %g", i, path, most);
        double spacing = CORD_SPACING_M / 2 + vec_norm(d) / SAMPLED_ON_WAY;
        if (most > 0 && now.yaw_off_rad <= 0 && vol.stages == 1)
            cr_assert_geq(path, most - spacing, "%d: %g, sampled %g", i, path, most);
        clear += path > 0.02;
    }
    cr_assert_gt(clear, 150);
}

/* Looking at less gives the same, or says no more than that it did not look further. */
Test(volume_look, what_was_looked_at_once_answers_as_looking_at_all_does)
{
    struct random r = {143};
    static struct volume vol;
    static struct volume_near all, some;
    int told = 0;
    for (int i = 0; i < 20000; i++) {
        if (i % 10 == 0) {
            do
                sampled_room(&vol, &r);
            while (!volume_prepare(&vol));
            if (random_chance(&r, 0.3))
                vol.outline.tether = (struct volume_tether){VOLUME_TETHER_HANGING, {0, 3, 2}, 6, 0.01, 0.05, 0};
        }
        struct volume_now now = sampled_now(&r);
        struct vec3 at = sampled_place(&r);
        double within = random_between(&r, 0, 1.5);
        struct vec3 from = vec_add(at, random_in_ball(&r, within)), to = vec_add(at, random_in_ball(&r, within));
        volume_look(&all, &vol, &now, at, INFINITY);
        volume_look(&some, &vol, &now, at, within);
        cr_assert_float_eq(some.nearest.distance_m, all.nearest.distance_m, 1e-6, "%d", i);
        double moved = fmax(vec_norm(vec_sub(from, at)), vec_norm(vec_sub(to, at))), left = within - moved;
        double enough = random_chance(&r, 0.5) ? INFINITY : random_between(&r, 0, 0.5);
        struct volume_clearance a = volume_path_clearance(&all, from, to, enough);
        struct volume_clearance b = volume_path_clearance(&some, from, to, enough);
        cr_assert_leq(b.distance_m, fmax(a.distance_m, 0) + VOLUME_ERROR_M, "%d: %g, %g", i, b.distance_m,
                      a.distance_m);
        if (a.distance_m > 0)
            cr_assert_geq(b.distance_m, fmin(a.distance_m, left) - VOLUME_ERROR_M, "%d: %g, %g of %g", i, b.distance_m,
                          a.distance_m, left);
        told += a.distance_m > 0 && b.distance_m < left - 1e-3 && b.distance_m < enough;
    }
    cr_assert_gt(told, 500);
}

Test(volume_look, clearance_is_lipschitz)
{
    struct random r = {144};
    static struct volume vol;
    for (int i = 0; i < 20000; i++) {
        if (i % 10 == 0) {
            do
                sampled_room(&vol, &r);
            while (!volume_prepare(&vol));
            if (random_chance(&r, 0.3))
                vol.outline.tether = (struct volume_tether){VOLUME_TETHER_HANGING, {0, 3, 2}, 6, 0.01, 0.05, 0};
        }
        struct volume_now now = sampled_now(&r);
        struct vec3 a = sampled_place(&r), step = random_in_ball(&r, random_between(&r, 0, 0.3));
        double steep = vol.outline.tether.kind == VOLUME_TETHER_HANGING ? VOLUME_TETHER_STEEP : 1;
        double one = volume_clearance(&vol, &now, a).distance_m;
        double two = volume_clearance(&vol, &now, vec_add(a, step)).distance_m;
        cr_assert_leq(fabs(one - two), steep * vec_norm(step) + VOLUME_ERROR_M, "%d: %g, %g, %g apart", i, one, two,
                      vec_norm(step));
    }
}

/* A longer way has no more clearance. */
Test(volume_look, path_clearance_falls_with_the_way)
{
    struct random r = {145};
    static struct volume vol;
    static struct volume_near near;
    for (int i = 0; i < 4000; i++) {
        if (i % 10 == 0) {
            do
                sampled_room(&vol, &r);
            while (!volume_prepare(&vol));
        }
        struct volume_now now = sampled_now(&r);
        struct vec3 from = sampled_place(&r), way = random_in_ball(&r, 0.5);
        double last = INFINITY;
        volume_look(&near, &vol, &now, from, INFINITY);
        for (int k = 0; k <= 10; k++) {
            double c = volume_path_clearance(&near, from, vec_along(from, way, k / 10.0), INFINITY).distance_m;
            if (vol.stages == 1)
                cr_assert_leq(fmax(c, 0), fmax(last, 0) + VOLUME_ERROR_M, "%d, %d: %g after %g", i, k, c, last);
            last = c;
        }
    }
}

/* Turning changes clearance by no more than what it moves; and it is that of the turned body. */
Test(volume_look, turned_clearance_is_that_of_the_turned_body)
{
    struct random r = {146};
    static struct volume vol;
    static struct volume_near near, turned;
    for (int i = 0; i < 6000; i++) {
        if (i % 10 == 0) {
            do
                sampled_room(&vol, &r);
            while (!volume_prepare(&vol));
        }
        struct volume_now now = sampled_now(&r), then = now;
        struct vec3 at = sampled_place(&r), to = vec_add(at, random_in_ball(&r, 0.2));
        then.yaw_rad += random_between(&r, -0.6, 0.6);
        then.yaw_off_rad = random_between(&r, 0, 2);
        volume_look(&near, &vol, &now, at, 1.5);
        volume_look(&turned, &vol, &then, at, 1.5);
        double a = volume_turned_clearance(&near, at, to, then.yaw_rad, then.yaw_off_rad, 0.3).distance_m;
        double b = volume_path_clearance(&turned, at, to, 0.3).distance_m;
        if (b > 0)
            cr_assert_float_eq(a, b, VOLUME_ERROR_M, "%d: %g, %g", i, a, b);
        else
            cr_assert_leq(a, VOLUME_ERROR_M);
        volume_look(&near, &vol, &now, at, random_between(&r, 0, 0.5));
        double less = volume_turned_clearance(&near, at, to, then.yaw_rad, then.yaw_off_rad, 0.3).distance_m;
        cr_assert_leq(less, fmax(b, 0) + VOLUME_ERROR_M, "%d: no more than was looked at", i);
        volume_look(&near, &vol, &now, at, 1.5);
        double c = volume_path_clearance(&near, at, at, INFINITY).distance_m;
        double d = volume_turned_clearance(&near, at, at, now.yaw_rad + 0.1, now.yaw_off_rad, INFINITY).distance_m;
        cr_assert_leq(fabs(c - d), 0.1 * outline_radius(&vol.outline) + VOLUME_ERROR_M, "%d: %g, %g", i, c, d);
    }
}
