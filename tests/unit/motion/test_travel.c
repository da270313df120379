/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/travel.h"

#include "tests/property/random.h"
#include "tests/unit/motion/cases.h"
#include "tests/unit/motion/rooms.h"

#define CLOSE_M 1e-5 /* well within VOLUME_ERROR_M, in rooms as plain as these */

/*
 * Cases cbf-discrete-0 and -1: the exact discrete speed limit at a wall (set of Ames et al. 2019, discrete form derived
 * for these cases). Acceleration is held over a tick, so half a tick of the new speed is the reaction.
 */
static void follow_to_the_wall(const char *id)
{
    json_t *one = reference_case("motion.json", id), *row;
    double a = cases_number(reference_input(one, "a")), up = cases_number(reference_input(one, "a_up"));
    double dt = cases_number(reference_input(one, "dt")), wall = cases_number(reference_input(one, "x_max"));
    double x = cases_number(reference_input(one, "x0")), v = cases_number(reference_input(one, "v0"));
    double wanted = cases_number(reference_input(one, "v_cmd"));
    size_t i;
    cr_assert_gt(json_array_size(reference_expect(one, "rows")), 20);
    json_array_foreach(reference_expect(one, "rows"), i, row)
    {
        double limit = travel_speed_limit(wall - x - v * dt / 2, dt / 2, a, dt);
        double v1 = fmin(fmin(wanted, v + up * dt), limit);
        cr_assert_float_eq(x, cases_number(json_array_get(row, 1)), 1e-9, "%s row %zu: x %.12g", id, i, x);
        cr_assert_float_eq(v, cases_number(json_array_get(row, 2)), 1e-9, "%s row %zu: v %.12g", id, i, v);
        cr_assert_float_eq(v1, cases_number(json_array_get(row, 3)), 1e-9, "%s row %zu: v1 %.12g", id, i, v1);
        cr_assert_float_eq(wall - x - travel_stop_distance(v, a, dt), cases_number(json_array_get(row, 4)), 1e-9);
        x += (v + v1) * dt / 2;
        v = v1;
    }
    json_decref(one);
}

Test(travel, reaches_a_wall_as_published)
{
    follow_to_the_wall("cbf-discrete-0");
    follow_to_the_wall("cbf-discrete-1");
}

/* Case brake-constant: v t_r + v^2 / 2a, and its inverse. In ticks it is that, or more by at most a dt^2 / 8. */
Test(travel, stops_as_published)
{
    json_t *one = reference_case("motion.json", "brake-constant"), *row;
    size_t i;
    json_array_foreach(reference_expect(one, "rows"), i, row)
    {
        double v = cases_number(json_object_get(row, "v")), a = cases_number(json_object_get(row, "a"));
        double react = cases_number(json_object_get(row, "t_r")), way = cases_number(json_object_get(row, "distance"));
        for (double dt = 0.1; dt > 1e-5; dt /= 3) {
            double ticks = v * react + travel_stop_distance(v, a, dt);
            cr_assert(ticks >= way - 1e-12 && ticks <= way + a * dt * dt / 8 + 1e-12, "row %zu: %.12g", i, ticks);
        }
        cr_assert_float_eq(travel_speed_limit(way, react, a, 1e-7), v, 1e-6, "row %zu", i);
    }
    json_decref(one);
}

Test(travel, speed_limit_is_the_largest_speed_that_fits)
{
    struct random r = {10};
    for (int i = 0; i < 100000; i++) {
        double room = exp(random_between(&r, -12, 4)), reaction = random_chance(&r, 0.2) ? 0 : random_between(&r, 0, 1);
        double brake = exp(random_between(&r, -3, 2)), dt = exp(random_between(&r, -7, -2));
        double v = travel_speed_limit(room, reaction, brake, dt);
        double way = v * reaction + travel_stop_distance(v, brake, dt), more = v * 1.0001 + 1e-9;
        cr_assert_float_eq(way, room, room * 1e-9, "%d: %.12g for %.12g", i, way, room);
        cr_assert_gt(more * reaction + travel_stop_distance(more, brake, dt), room);
    }
    cr_assert_eq(travel_speed_limit(0, 0.1, 1, 0.01), 0);
    cr_assert_eq(travel_speed_limit(-1, 0.1, 1, 0.01), 0);
    cr_assert_eq(travel_speed_limit((double)NAN, 0.1, 1, 0.01), 0);
    cr_assert_eq(travel_stop_distance(0, 1, 0.01), 0);
}

Test(travel, free_way_ends_at_the_margin)
{
    struct volume vol = rooms_plain().guard.volume;
    struct volume_clearance block;
    struct volume_near near = rooms_look(&vol, rooms_middle);
    double way = travel_free(&near, rooms_middle, (struct vec3){-1, 0, 0}, 0.1, 10, &block);
    cr_assert(way <= 4 - 0.15 - 0.1 && way >= 4 - 0.15 - 0.1 - 0.5e-3, "%.6f", way);
    cr_assert(block.bound == VOLUME_STAGE && block.part == VOLUME_BODY);
    way = travel_free(&near, (struct vec3){4, 3.5, 1.6}, (struct vec3){1, 0, 0}, 0.1, 10, &block);
    cr_assert(way <= 1 - 0.15 - 0.05 - 0.1 && way >= 1 - 0.15 - 0.05 - 0.1 - 0.5e-3, "%.6f", way);
    cr_assert(block.bound == VOLUME_KEEPOUT && block.keepout == 0);
    cr_assert_eq(travel_free(&near, rooms_middle, (struct vec3){-1, 0, 0}, 0.1, 1, NULL), 1, "no further than asked");
    cr_assert_eq(travel_free(&near, rooms_middle, (struct vec3){-1, 0, 0}, 5, 1, NULL), 0, "no margin to begin with");
    cr_assert_eq(travel_free(&near, rooms_middle, (struct vec3){-1, 0, 0}, 0.1, 0, NULL), 0);
}

/* Never too long: nowhere on it is there less than the margin; and a little further there is. */
Test(travel, free_way_is_clear_and_no_shorter_than_it_must_be)
{
    struct random r = {11};
    struct volume vol = rooms_plain().guard.volume;
    int blocked = 0;
    for (int i = 0; i < 3000; i++) {
        struct vec3 from = {random_between(&r, 0.5, 7.5), random_between(&r, 0.5, 5.5), random_between(&r, 1.2, 2.8)};
        struct vec3 way = random_direction(&r);
        struct volume_near near = rooms_look(&vol, from);
        double margin = random_between(&r, 0, 0.2), free = travel_free(&near, from, way, margin, 2, NULL);
        if (rooms_clearance(&vol, from).distance_m < margin) {
            cr_assert_eq(free, 0);
            continue;
        }
        for (int k = 0; k <= 50; k++)
            cr_assert_geq(rooms_clearance(&vol, vec_along(from, way, free * k / 50)).distance_m, margin - CLOSE_M);
        struct vec3 beyond = vec_along(from, way, free + 0.6e-3);
        if (free < 2)
            cr_assert_lt(rooms_path(&vol, from, beyond, (double)INFINITY).distance_m, margin + CLOSE_M);
        blocked += free < 2;
    }
    cr_assert_gt(blocked, 1000);
}

Test(travel, way_out_leads_out)
{
    struct volume vol = rooms_plain().guard.volume;
    struct vec3 at_wall = {0.1, 2, 2}; /* 5 cm into the wall */
    struct volume_near near = rooms_look(&vol, at_wall);
    cr_assert_lt(rooms_clearance(&vol, at_wall).distance_m, 0);
    cr_assert_eq(travel_away(&near, at_wall, (struct vec3){1, 0, 0}, 0.5), 0.5);
    cr_assert_eq(travel_away(&near, at_wall, (struct vec3){-1, 0, 0}, 0.5), 0);
    cr_assert_eq(travel_away(&near, at_wall, (struct vec3){0, 1, 0}, 0.5), 0, "along the wall is not out");
    cr_assert_eq(travel_away(&near, at_wall, (struct vec3){0.6, 0.8, 0}, 0.5), 0.5, "but aslant is");
    cr_assert_eq(travel_away(&near, at_wall, (struct vec3){0.4, 0.9165, 0}, 0.5), 0, "if it gains half");
    cr_assert_eq(travel_away(&near, at_wall, (struct vec3){1, 0, 0}, 0), 0);
    double way = travel_away(&near, at_wall, (struct vec3){1, 0, 0}, 30);
    cr_assert(way > 0.5 && way < 8, "it ends before the other wall: %g", way);
}

/* 10 cm into a wall, with a pole on the way out: nine times as far as what was looked at, all would look well again. */
Test(travel, way_out_passes_nothing_unseen)
{
    struct volume vol = rooms_plain().guard.volume;
    vol.keepouts = 0;
    rooms_box(&vol, vol.keepouts++, (struct vec3){0.345, 2.035, 0}, (struct vec3){0.355, 2.045, 1.7}, 0);
    cr_assert(volume_prepare(&vol) && volume_valid(&vol));
    struct vec3 at_wall = {0.05, 2, 2};
    struct volume_near near = rooms_look(&vol, at_wall);
    double way = travel_away(&near, at_wall, (struct vec3){1, 0, 0}, 0.729);
    cr_assert(way > 0.01 && way < 0.3, "%g", way);
}

Test(travel, way_out_never_comes_closer_than_it_began)
{
    struct random r = {12};
    struct volume vol = rooms_plain().guard.volume;
    int out = 0;
    for (int i = 0; i < 20000; i++) {
        struct vec3 from = {random_between(&r, 4.6, 6.4), random_between(&r, 2.6, 4.4), random_between(&r, 1.2, 2.2)};
        struct vec3 way = random_direction(&r);
        struct volume_near near = rooms_look(&vol, from);
        double start = near.nearest.distance_m, far = travel_away(&near, from, way, 0.4);
        for (int k = 1; k <= 40; k++)
            cr_assert_geq(rooms_clearance(&vol, vec_along(from, way, far * k / 40)).distance_m,
                          start - 0.3e-3 - CLOSE_M);
        if (far > 0)
            cr_assert_geq(rooms_clearance(&vol, vec_along(from, way, far)).distance_m, start + far / 2 - CLOSE_M);
        out += far >= 0.4;
    }
    cr_assert_gt(out, 2000);
}

/* ---- Turning ---- */

/* An arm that stands out by 0.5 m, in a room with a wall on its left. */
static struct volume with_arm(void)
{
    struct volume vol = rooms_plain().guard.volume;
    vol.outline.limbs = 2;
    vol.outline.limb[0].radius_m = 0.05;
    vol.outline.limb[1] = (struct volume_limb){{0, 0, 0}, {0.5, 0, 0}, 0.03};
    vol.outline.yaw = VOLUME_YAW_REPORTED;
    vol.keepouts = 0;
    cr_assert(volume_prepare(&vol) && volume_valid(&vol));
    return vol;
}

/* 0.4 m from a wall the tip is at margin 0.1 where 0.5 cos(angle to the wall) = 0.4 - 0.1 - 0.03. */
Test(travel, turns_until_a_limb_is_at_its_margin)
{
    struct volume vol = with_arm();
    struct vec3 at = {4, 0.4, 2}; /* the wall is at y = 0 */
    struct volume_now now = volume_now_usual();
    struct volume_near near;
    struct volume_clearance block = {.limb = -1};
    volume_look(&near, &vol, &now, at, 2);
    double to_wall = 3.14159265358979 / 2 - acos(0.27 / 0.5); /* from level, down to that */
    double right = travel_turn(&near, at, at, 0, -1, 0.1, 6, &block);
    cr_assert(right <= to_wall && right > to_wall - 0.004, "%g of %g", right, to_wall);
    cr_assert(block.part == VOLUME_BODY && block.limb == 1 && block.bound == VOLUME_STAGE);
    double left = travel_turn(&near, at, at, 0, 1, 0.1, 6, NULL);
    cr_assert(left <= 3.14159265358979 + to_wall && left > 3.14159265358979 + to_wall - 0.004, "%g", left);
    cr_assert_eq(travel_turn(&near, at, at, 0, -1, 0.1, 0.3, NULL), 0.3, "no further than asked");
    cr_assert_eq(travel_turn(&near, at, at, 0, 1, 0.1, 0, NULL), 0);
    cr_assert_eq(travel_turn(&near, at, at, -1.2, 1, 0.1, 1, NULL), 0, "no margin to begin with");
    struct vec3 far = {4, 3, 2};
    cr_assert_eq(travel_turn(&near, far, far, 0, 1, 0.1, 1, NULL), 0, "what was not looked at counts as full");
    volume_look(&near, &vol, &now, far, 2);
    cr_assert_eq(travel_turn(&near, far, far, 0, 1, 0.1, 100, NULL), 100, "nothing in the way, all round");
    vol.outline.yaw = VOLUME_YAW_FIXED;
    volume_look(&near, &vol, &now, at, 2);
    cr_assert_eq(travel_turn(&near, at, at, 0, -1, 0.1, 6, NULL), 6, "a body that does not turn meets nothing");
}

/* Never too much, wherever the platform is on its way. */
Test(travel, turning_keeps_the_margin_all_the_way)
{
    struct random r = {13};
    struct volume vol = with_arm();
    static struct volume_near near;
    int blocked = 0;
    rooms_box(&vol, vol.keepouts++, (struct vec3){5, 3, 0}, (struct vec3){6, 4, 1.5}, 0.05);
    volume_prepare(&vol);
    for (int i = 0; i < 1000; i++) {
        struct volume_now now = volume_now_usual();
        struct vec3 from = {random_between(&r, 4.2, 6.8), random_between(&r, 2.4, 4.6), random_between(&r, 1, 2.6)};
        struct vec3 to = vec_add(from, random_in_ball(&r, 0.1));
        double yaw = random_between(&r, -4, 4), margin = random_between(&r, 0, 0.2), limit = random_between(&r, 1, 6);
        int way = random_chance(&r, 0.5) ? 1 : -1;
        now.yaw_off_rad = random_chance(&r, 0.5) ? 0 : 0.1;
        now.yaw_rad = yaw + random_between(&r, -0.2, 0.2);
        volume_look(&near, &vol, &now, from, 1.5);
        double turned = travel_turn(&near, from, to, yaw, way, margin, limit, NULL);
        cr_assert(turned >= 0 && turned <= limit);
        double slack = now.yaw_off_rad; /* the noise is swept as well, so points of it are clear too */
        for (int k = 0; k <= 30 && turned > 0; k++) {
            now.yaw_rad = yaw + way * turned * k / 30 + random_between(&r, -slack, slack);
            struct volume_now exact = {now.floor_m, now.ceiling_m, .yaw_rad = now.yaw_rad};
            struct vec3 at = vec_along(from, vec_sub(to, from), random_between(&r, 0, 1));
            cr_assert_geq(volume_clearance(&vol, &exact, at).distance_m, margin - CLOSE_M, "%d", i);
        }
        blocked += turned > 0 && turned < limit;
    }
    cr_assert_gt(blocked, 50, "%d", blocked);
}

/* A hanging tether's envelope moves faster than the platform: the way out allows for that. */
Test(travel, way_out_from_a_tether_never_comes_closer_than_it_began)
{
    struct random r = {14};
    struct volume vol = rooms_plain().guard.volume;
    static struct volume_near near;
    int out = 0;
    vol.outline.cords = 0;
    vol.outline.tether = (struct volume_tether){VOLUME_TETHER_HANGING, {2, 5, 2.5}, 4.6, 0.01, 0.05, 0};
    struct volume_now now = volume_now_usual();
    for (int i = 0; i < 6000; i++) {
        struct vec3 from = {random_between(&r, 4.4, 6.6), random_between(&r, 2.4, 4.4), random_between(&r, 1.2, 2.8)};
        struct vec3 way = random_direction(&r);
        volume_look(&near, &vol, &now, from, 1);
        double start = near.nearest.distance_m, far = travel_away(&near, from, way, 0.4);
        if (near.nearest.part != VOLUME_TETHER)
            continue;
        for (int k = 1; k <= 20; k++)
            cr_assert_geq(rooms_clearance(&vol, vec_along(from, way, far * k / 20)).distance_m,
                          start - 0.8e-3 - CLOSE_M, "%d", i);
        out += far >= 0.4;
    }
    cr_assert_gt(out, 200);
}
