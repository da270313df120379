/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume.h"

#include <criterion/criterion.h>

#include "policy/motion/reach.h"
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
    vol.outline.anchor[1] = (struct vec3){5.5, 1.5, 5}; /* plumb above */
    rooms_box(&vol, 0, (struct vec3){5.6, 1, 3}, (struct vec3){7, 2, 4}, 0);
    c = rooms_clearance(&vol, (struct vec3){5.5, 1.5, 2.2});
    cr_assert(c.part == VOLUME_CORD && c.cord == 1);
    cr_assert_float_eq(c.distance_m, 0.1 - 0.003, 1e-6);
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
    struct volume_near near = rooms_look(&vol, rooms_middle);
    struct vec3 nowhere = {0, (double)INFINITY, 2};
    cr_assert_eq(volume_path_clearance(&near, rooms_middle, nowhere, 1).distance_m, -(double)INFINITY);
    cr_assert_eq(volume_path_clearance(&near, nowhere, rooms_middle, 1).distance_m, -(double)INFINITY);
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

/* ---- What changes from tick to tick ---- */

Test(volume, keeps_to_the_floor_and_ceiling_of_the_mode)
{
    struct volume vol = plain();
    struct volume_now now = volume_now_usual();
    now.floor_m = 1.2;
    now.ceiling_m = 2.4;
    struct volume_clearance c = volume_clearance(&vol, &now, (struct vec3){4, 2, 1.8});
    cr_assert(c.part == VOLUME_BODY && c.bound == VOLUME_FLOOR);
    cr_assert_float_eq(c.distance_m, 0.3 - 0.15, 1e-12);
    c = volume_clearance(&vol, &now, (struct vec3){4, 2, 2.3});
    cr_assert(c.part == VOLUME_BOOM && c.bound == VOLUME_CEILING);
    cr_assert_float_eq(c.distance_m, 0.1 - 0.02, 1e-12);
}

Test(volume, a_keepout_yields_only_if_it_may_and_is_told_to)
{
    struct volume vol = plain();
    struct volume_now now = volume_now_usual();
    struct vec3 in_it = {5.5, 3.5, 1.7};
    now.yielded = true;
    cr_assert_eq(volume_clearance(&vol, &now, in_it).bound, VOLUME_KEEPOUT);
    vol.keepout[0].yields = true;
    cr_assert_eq(volume_clearance(&vol, &now, in_it).bound, VOLUME_STAGE);
    now.yielded = false;
    cr_assert_eq(volume_clearance(&vol, &now, in_it).bound, VOLUME_KEEPOUT);
    vol.keepout[0].shape = (struct shape){SHAPE_HALF_SPACE, .as.half_space = {{0, 0, 1}, 1}};
    cr_assert(volume_prepare(&vol));
    cr_assert(volume_valid(&vol));
    cr_assert_eq(volume_clearance(&vol, &now, (struct vec3){4, 2, 1.5}).bound, VOLUME_KEEPOUT, "a half-space too");
    now.yielded = true;
    cr_assert_eq(volume_clearance(&vol, &now, (struct vec3){4, 2, 1.5}).bound, VOLUME_STAGE);
}

Test(volume, keeps_off_whoever_is_there)
{
    struct volume vol = plain();
    struct volume_now now = volume_now_usual();
    now.subject = true;
    now.subject_at = (struct vec3){3, 2, 7}; /* the height is not looked at */
    now.subject_radius_m = 0.4;
    now.subject_height_m = 1.5;
    vol.outline.cords = 0;
    struct volume_clearance c = volume_clearance(&vol, &now, (struct vec3){4, 2, 1.7});
    cr_assert(c.part == VOLUME_BODY && c.bound == VOLUME_SUBJECT);
    cr_assert_float_eq(c.distance_m, 1 - 0.4 - 0.15, 1e-6, "beside them");
    c = volume_clearance(&vol, &now, (struct vec3){3, 2, 2.45});
    cr_assert(c.part == VOLUME_BODY && c.bound == VOLUME_SUBJECT);
    cr_assert_float_eq(c.distance_m, 2.15 - 0.15 - (1.5 + 0.4), 1e-6, "and above: they reach a radius higher");
    now.subject_walk_m = 2.5;
    c = volume_clearance(&vol, &now, (struct vec3){5, 2, 2.45});
    cr_assert_float_eq(c.distance_m, 2.15 - 0.15 - (1.5 + 0.4), 1e-6, "wherever they may walk, they do not rise");
    c = volume_clearance(&vol, &now, (struct vec3){5, 2, 1.4});
    cr_assert_float_eq(c.distance_m, -(0.4 + 0.4 + 0.15), 1e-6, "deep in it, the way out is up: 1.1 to 1.5 m");
    now.subject_walk_m = 0;
    vol.outline.cords = 4;
    vol.outline.boom_m = 0;
    now.subject_at = (struct vec3){1.5, 1.5, 0};
    now.subject_height_m = 2.5;
    c = volume_clearance(&vol, &now, (struct vec3){4, 3.2, 2.6});
    cr_assert(c.part == VOLUME_CORD && c.cord == 0 && c.bound == VOLUME_SUBJECT, "a cord over their head");
    now.subject = false;
    cr_assert_neq(volume_clearance(&vol, &now, (struct vec3){4, 3.2, 2.6}).bound, VOLUME_SUBJECT);
}

Test(volume, now_that_makes_no_sense_leaves_no_clearance)
{
    struct volume vol = plain();
    const struct volume_now good = {0, 5, .subject = true, .subject_at = {9, 9, 0}, .subject_radius_m = 1};
    cr_assert_gt(volume_clearance(&vol, &good, rooms_middle).distance_m, 0);
    struct volume_now now = good;
    double *const number[] = {&now.floor_m,      &now.ceiling_m,        &now.subject_at.x,     &now.subject_at.y,
                              &now.subject_at.z, &now.subject_radius_m, &now.subject_height_m, &now.subject_walk_m};
    static const double bad[] = {(double)NAN, (double)INFINITY, -2e6};
    for (int i = 0; i < 8; i++) {
        for (int k = 0; k < 3; k++) {
            static struct volume_near near;
            now = good;
            *number[i] = bad[k];
            cr_assert_eq(volume_clearance(&vol, &now, rooms_middle).distance_m, -(double)INFINITY, "%d %d", i, k);
            volume_look(&near, &vol, &now, rooms_middle, 1);
            cr_assert_eq(volume_path_clearance(&near, rooms_middle, rooms_middle, 1).distance_m, -(double)INFINITY);
        }
    }
    struct volume_near near;
    now = good;
    volume_look(&near, &vol, &now, rooms_middle, (double)NAN);
    cr_assert_eq(near.nearest.distance_m, -(double)INFINITY);
    cr_assert_eq(volume_path_clearance(&near, rooms_middle, rooms_middle, 1).distance_m, -(double)INFINITY);
}

/* ---- Tether and reach ---- */

Test(volume, a_tether_meets_what_it_meets_and_has_an_end)
{
    struct volume vol = plain();
    vol.outline.tether = (struct volume_tether){VOLUME_TETHER_STRAIGHT, {7, 5, 0.5}, 6, 0.01, 0, 0};
    struct volume_clearance c = rooms_clearance(&vol, (struct vec3){4, 2.2, 2.2});
    cr_assert(c.part == VOLUME_TETHER && c.bound == VOLUME_KEEPOUT && c.distance_m < 0, "through the keep-out");
    vol.outline.tether.length_m = 4;
    c = rooms_clearance(&vol, (struct vec3){7, 1.3, 1.9});
    cr_assert(c.part == VOLUME_TETHER && c.bound == VOLUME_TETHER_END);
    cr_assert_float_eq(c.distance_m, 4 - sqrt(3.7 * 3.7 + 1.1 * 1.1), 1e-12);
    vol.outline.tether.kind = VOLUME_TETHER_HANGING;
    c = rooms_clearance(&vol, (struct vec3){6.3, 3.5, 2.4});
    cr_assert(c.part == VOLUME_TETHER && c.bound == VOLUME_KEEPOUT, "what hangs slack may be lower than its ends");
}

Test(volume, keeps_where_cords_can_hold)
{
    static uint32_t cell[1 << 16];
    struct volume vol = plain();
    struct reach reach;
    struct reach_config cfg = {
        .room = {{0, 0, 0}, {8, 6, 3.2}}, .reserve_mps2 = 0.6, .min_length_m = 0.3, .error_m = 0.2};
    cfg.rig.cords = 4;
    cfg.rig.mass_kg = 2.4;
    for (int k = 0; k < 4; k++) {
        cfg.rig.anchor[k] = vol.outline.anchor[k];
        cfg.rig.min_n[k] = 1;
        cfg.rig.max_n[k] = 60;
    }
    cr_assert_neq(reach_build(&reach, &cfg, cell, 1 << 16), REACH_INVALID);
    vol.reach = &reach;
    struct vec3 high = {4, 3, 2.95};
    struct volume_clearance c = rooms_clearance(&vol, high);
    cr_assert(c.part == VOLUME_BOOM && c.bound == VOLUME_REACH, "too flat for the cords before it is at the ceiling");
    cr_assert_float_eq(c.distance_m, reach_distance(&reach, high), 1e-12);
    struct vec3 low = {4, 2, 2};
    c = rooms_path(&vol, low, high, (double)INFINITY);
    cr_assert(c.bound == VOLUME_REACH && c.distance_m <= reach_path_distance(&reach, low, high, INFINITY) + 1e-12);
    cr_assert_geq(rooms_path(&vol, low, (struct vec3){4.2, 2, 2}, 0.05).distance_m, 0.05);
}

/* ---- Preparing ---- */

/* A comb with so many teeth needs that many pieces; 64 of them are too many. */
Test(volume, too_many_pieces_are_refused)
{
    static struct volume vol;
    vol = plain();
    struct shape comb = {SHAPE_PRISM, .as.prism = {.corners = 32, .z_lo = 0, .z_hi = 1}};
    for (int i = 0; i < 32; i++) {
        comb.as.prism.x[i] = i / 31.0;
        comb.as.prism.y[i] = i == 0 || i == 31 ? 0 : i % 2 ? 1 : 0.5;
    }
    cr_assert(shape_valid(&comb));
    vol.keepouts = 8;
    for (int k = 0; k < VOLUME_MAX_KEEPOUTS; k++)
        vol.keepout[k] = (struct volume_keepout){.shape = comb};
    cr_assert(volume_prepare(&vol) && volume_valid(&vol));
    vol.keepouts = VOLUME_MAX_KEEPOUTS;
    cr_assert_not(volume_prepare(&vol));
    cr_assert_eq(vol.pieces, 0);
    cr_assert_not(volume_valid(&vol));
    for (int k = 0; k < VOLUME_MAX_KEEPOUTS; k++)
        rooms_box(&vol, k, (struct vec3){k, 0, 0}, (struct vec3){k + 0.5, 1, 1}, 0);
    cr_assert(volume_prepare(&vol) && volume_valid(&vol), "so many boxes are not");
    vol.keepouts = VOLUME_MAX_KEEPOUTS + 1;
    cr_assert_not(volume_prepare(&vol));
    vol.keepouts = 0;
    cr_assert(volume_prepare(&vol) && volume_valid(&vol));
}

Test(volume, is_valid_only_as_prepared)
{
    static struct volume vol;
    vol = cluttered();
    cr_assert(volume_valid(&vol));
    vol.keepout[1].shape.as.block.centre.x += 0.1;
    cr_assert_not(volume_valid(&vol), "moved, and not prepared anew");
    cr_assert(volume_prepare(&vol) && volume_valid(&vol));
    vol.piece_of[1] = 0;
    cr_assert_not(volume_valid(&vol));
    struct hull *piece = &vol.piece[2];
    double *const number[] = {&piece->ball_m,      &piece->disc_m,      &piece->tall_m,      &piece->point[1].x,
                              &piece->point[2].y,  &piece->point[3].z,  &piece->around.lo.x, &piece->around.lo.y,
                              &piece->around.lo.z, &piece->around.hi.x, &piece->around.hi.y, &piece->around.hi.z};
    for (int i = 0; i < 12; i++) {
        volume_prepare(&vol);
        *number[i] += 0.1;
        cr_assert_not(volume_valid(&vol), "%d", i);
    }
    volume_prepare(&vol);
    vol.piece[2].points--;
    cr_assert_not(volume_valid(&vol));
    volume_prepare(&vol);
    vol.pieces--;
    cr_assert_not(volume_valid(&vol));
    vol.pieces = VOLUME_MAX_PIECES + 1;
    cr_assert_not(volume_valid(&vol));
    vol.pieces = -1;
    cr_assert_not(volume_valid(&vol));
    vol.keepout[0].shape.as.block.half.x = -1;
    cr_assert_not(volume_prepare(&vol));
    cr_assert_not(volume_valid(&vol));
}

Test(volume, is_valid_only_as_documented)
{
    const struct volume good = cluttered();
    enum { BAD = 21 };
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
    bad[16].stages = 0;
    bad[17].stages = VOLUME_MAX_STAGES + 1;
    bad[18].stages = 2; /* of which the second has no corners */
    bad[19].outline.limbs = 0;
    bad[20].keepout[2].padding_m = 2e6;
    cr_assert(volume_valid(&good));
    for (int i = 0; i < BAD; i++)
        cr_assert_not(volume_valid(&bad[i]), "%d", i);
}
