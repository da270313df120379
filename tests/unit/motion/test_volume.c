/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume.h"

#include <criterion/criterion.h>

#include "tests/property/random.h"
#include "tests/unit/motion/rooms.h"

static struct volume plain(void)
{
    return rooms_plain().guard.volume;
}

Test(volume, says_which_part_is_nearest_to_what)
{
    struct volume vol = plain();
    struct volume_clearance c = rooms_clearance(&vol, (struct vec3){1, 2, 2});
    cr_assert(c.part == VOLUME_BODY && c.bound == VOLUME_STAGE);
    cr_assert_float_eq(c.distance_m, 1 - 0.15, 1e-6, "the body is 1 m from the left wall");

    c = rooms_clearance(&vol, (struct vec3){4, 2, 2.9});
    cr_assert(c.part == VOLUME_BOOM && c.bound == VOLUME_STAGE);
    cr_assert_float_eq(c.distance_m, 0.1 - 0.02, 1e-6, "the top of the boom is 0.1 m below the ceiling");

    c = rooms_clearance(&vol, (struct vec3){4.5, 3.5, 1.7});
    cr_assert(c.part == VOLUME_BODY && c.bound == VOLUME_KEEPOUT && c.keepout == 0);
    cr_assert_float_eq(c.distance_m, 0.5 - 0.15 - 0.05, 1e-6, "beside the keep-out, padding counted");

    vol.outline.limb[0].radius_m = 0.01;
    vol.keepout[0].padding_m = 0;
    c = rooms_clearance(&vol, (struct vec3){4.9, 3.5, 1.6});
    cr_assert(c.part == VOLUME_BOOM && c.bound == VOLUME_KEEPOUT, "the boom is thicker than that body");
    cr_assert_float_eq(c.distance_m, 0.1 - 0.02, 1e-6);
}

Test(volume, looks_at_every_cord)
{
    struct volume vol = plain();
    struct shape_box box = {{7, 0.5, 2.5}, {7.2, 0.7, 3}}; /* in the way of the second cord alone */
    rooms_box(&vol, 0, box.lo, box.hi, 0);
    struct volume_clearance c = rooms_clearance(&vol, (struct vec3){5.5, 1.5, 2.2});
    cr_assert(c.part == VOLUME_CORD && c.cord == 1 && c.bound == VOLUME_KEEPOUT && c.keepout == 0);
    double alone = shape_box_segment_distance(&box, (struct vec3){5.5, 1.5, 2.2}, vol.outline.anchor[1]);
    cr_assert_float_eq(c.distance_m, alone - 0.003, 1e-6);
    vol.outline.cords = 1;
    c = rooms_clearance(&vol, (struct vec3){5.5, 1.5, 2.2});
    cr_assert_neq(c.part, VOLUME_CORD);
}

Test(volume, depth_is_told_inside_a_keepout)
{
    struct volume vol = plain();
    struct volume_clearance c = rooms_clearance(&vol, (struct vec3){5.5, 3.5, 1.7});
    cr_assert_float_eq(c.distance_m, -0.1 - 0.15 - 0.05, 1e-6, "0.1 m below its top, with radius and padding");
    cr_assert(c.bound == VOLUME_KEEPOUT && c.part == VOLUME_BODY);
}

Test(volume, has_no_clearance_where_there_is_no_position)
{
    struct volume vol = plain();
    cr_assert_eq(rooms_clearance(&vol, (struct vec3){(double)NAN, 2, 2}).distance_m, -(double)INFINITY);
    cr_assert_eq(rooms_path(&vol, rooms_middle, (struct vec3){0, (double)INFINITY, 2}, 1).distance_m,
                 -(double)INFINITY);
}

static struct vec3 somewhere(struct random *r)
{
    return (struct vec3){random_between(r, -0.5, 8.5), random_between(r, -0.5, 6.5), random_between(r, 0.3, 3.2)};
}

/* A room with an alcove and more to bump into. */
static struct volume cluttered(void)
{
    struct volume vol = plain();
    vol.stage[0] = (struct shape_prism){8, {0, 3, 3, 5, 5, 8, 8, 0}, {0, 0, 2, 2, 0, 0, 6, 6}, 0.5, 3};
    vol.keepouts = 3;
    rooms_box(&vol, 2, (struct vec3){2, 2, 1}, (struct vec3){3, 3, 1.2}, 0);
    rooms_box(&vol, 1, (struct vec3){1, 4, 0}, (struct vec3){1.1, 4.1, 3}, 0);
    return vol;
}

Test(volume, clearance_is_1_lipschitz)
{
    struct random r = {7};
    struct volume vol = cluttered();
    for (int i = 0; i < 20000; i++) {
        double d = random_between(&r, 0, 0.3);
        struct vec3 a = somewhere(&r), b = vec_add(a, random_in_ball(&r, d));
        double change = rooms_clearance(&vol, a).distance_m - rooms_clearance(&vol, b).distance_m;
        cr_assert_leq(fabs(change), vec_norm(vec_sub(a, b)) + 1e-6, "%d: %g for %g", i, change, d);
    }
}

/* The path's answer against the least of many positions on it: equal to within the sampling where nothing is touched.
 */
Test(volume, path_clearance_is_that_of_the_worst_place_on_it)
{
    struct random r = {8};
    struct volume vol = cluttered();
    const int n = 200;
    int clear = 0;
    for (int i = 0; i < 3000; i++) {
        struct vec3 a = somewhere(&r), b = somewhere(&r), d = vec_sub(b, a);
        double least = INFINITY;
        for (int k = 0; k <= n; k++)
            least = fmin(least, rooms_clearance(&vol, vec_along(a, d, (double)k / n)).distance_m);
        double path = rooms_path(&vol, a, b, (double)INFINITY).distance_m, step = vec_norm(d) / n;
        if (least > 0)
            cr_assert(path <= least + 1e-6 && path >= least - step, "%d: %g, sampled %g", i, path, least);
        else
            cr_assert_leq(path, 0, "%d: %g, sampled %g", i, path, least);
        clear += least > 0.01;
    }
    cr_assert_gt(clear, 50);
}

Test(volume, path_clearance_is_exact_below_enough)
{
    struct random r = {9};
    struct volume vol = cluttered();
    for (int i = 0; i < 3000; i++) {
        struct vec3 a = somewhere(&r), b = vec_add(a, random_in_ball(&r, 1));
        struct volume_clearance all = rooms_path(&vol, a, b, (double)INFINITY);
        struct volume_clearance some = rooms_path(&vol, a, b, 0.2);
        if (all.distance_m < 0.2 - 1e-6)
            cr_assert(fabs(some.distance_m - all.distance_m) <= 1e-6 && some.part == all.part &&
                      some.bound == all.bound && some.keepout == all.keepout);
        else
            cr_assert_geq(some.distance_m, 0.2 - 1e-6);
    }
}

Test(volume, is_valid_only_as_documented)
{
    const struct volume good = cluttered();
    enum { BAD = 16 };
    static struct volume bad[BAD];
    for (int i = 0; i < BAD; i++)
        bad[i] = good;
    bad[0].stage[0].corners = 2;
    bad[1].keepouts = VOLUME_MAX_KEEPOUTS + 1;
    bad[2].keepouts = -1;
    bad[3].keepout[1].shape.as.block.half.x = 0;
    bad[4].keepout[2].padding_m = -0.01;
    bad[5].keepout[2].padding_m = (double)NAN;
    bad[6].outline.limb[0].radius_m = 0;
    bad[7].outline.boom_m = -1;
    bad[8].outline.cords = VOLUME_MAX_CORDS + 1;
    bad[9].outline.anchor[3].y = (double)INFINITY;
    bad[10].outline.boom_radius_m = (double)NAN;
    bad[11].outline.cord_radius_m = -1;
    bad[12].outline.cords = -1;
    bad[13].outline.limb[0].radius_m = 2e6;
    bad[14].outline.anchor[0].x = (double)NAN;
    bad[15].outline.anchor[0].z = 2e6;
    cr_assert(volume_valid(&good));
    for (int i = 0; i < BAD; i++)
        cr_assert_not(volume_valid(&bad[i]), "%d", i);
}
