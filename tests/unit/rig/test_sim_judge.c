/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>
#include <string.h>

#include "gateway/rig/sim_judge.h"
#include "gateway/rig/sim_noise.h"
#include "tests/unit/rig/rig_bench.h"

/* Read once, kept to the end. */
static json_t *cases_in(json_t **doc, const char *file)
{
    if (!*doc)
        *doc = json_load_file(file, 0, NULL);
    cr_assert(*doc);
    return json_object_get(*doc, "cases");
}

static json_t *cases(void)
{
    static json_t *doc;
    return cases_in(&doc, REFERENCE "/rig.json");
}

static json_t *shape_cases(void)
{
    static json_t *doc;
    return cases_in(&doc, REFERENCE "/shapes.json");
}

static double number(const json_t *c, const char *part, const char *key)
{
    return json_number_value(json_object_get(json_object_get(c, part), key));
}

static double at(const json_t *list, size_t i)
{
    return json_number_value(json_array_get(list, i));
}

static struct vec3 vec_of(const json_t *c, const char *key)
{
    const json_t *a = json_object_get(json_object_get(c, "input"), key);
    return (struct vec3){at(a, 0), at(a, 1), at(a, 2)};
}

static bool is(const json_t *c, const char *prefix)
{
    return strncmp(json_string_value(json_object_get(c, "id")), prefix, strlen(prefix)) == 0;
}

Test(judge, box_distances_are_the_published_ones)
{
    size_t i, seen = 0;
    json_t *c;
    json_array_foreach(cases(), i, c)
    {
        if (!is(c, "geom-pt-aabb"))
            continue;
        struct shape_box box = {vec_of(c, "lo"), vec_of(c, "hi")};
        cr_assert_float_eq(sim_judge_box_distance(&box, vec_of(c, "point")), number(c, "expect", "distance"), 1e-9);
        seen++;
    }
    cr_assert_eq(seen, 6);
}

static struct shape_prism prism_of(const json_t *c)
{
    struct shape_prism s = {.z_lo = number(c, "input", "z0"), .z_hi = number(c, "input", "z1")};
    const json_t *polygon = json_object_get(json_object_get(c, "input"), "polygon");
    s.corners = (int)json_array_size(polygon);
    for (size_t k = 0; k < json_array_size(polygon); k++) {
        s.x[k] = at(json_array_get(polygon, k), 0);
        s.y[k] = at(json_array_get(polygon, k), 1);
    }
    return s;
}

Test(judge, stage_depths_are_the_published_distances_with_the_sign_turned)
{
    size_t i, seen = 0;
    json_t *c;
    json_array_foreach(cases(), i, c)
    {
        if (!is(c, "geom-pt-prism"))
            continue;
        struct shape_prism s = prism_of(c);
        cr_assert_float_eq(sim_judge_stage_depth(&s, vec_of(c, "point")), -number(c, "expect", "distance"), 1e-9, "%s",
                           json_string_value(json_object_get(c, "id")));
        seen++;
    }
    cr_assert_eq(seen, 6);
}

/* R = Rz(yaw) Ry(pitch) Rx(roll), its columns as published row by row. */
static struct shape turned_box_of(const json_t *c)
{
    const json_t *rows = json_object_get(json_object_get(c, "input"), "R");
    struct shape s = {SHAPE_BOX, .as.block = {vec_of(c, "centre"), vec_of(c, "half"), {{0, 0, 0}}}};
    for (size_t k = 0; k < 3; k++)
        s.as.block.axis[k] = (struct vec3){at(json_array_get(rows, 0), k), at(json_array_get(rows, 1), k),
                                           at(json_array_get(rows, 2), k)};
    return s;
}

Test(judge, turned_boxes_are_as_far_as_published)
{
    size_t i, seen = 0;
    json_t *c;
    json_array_foreach(shape_cases(), i, c)
    {
        if (!is(c, "geom-pt-obb"))
            continue;
        struct shape box = turned_box_of(c);
        cr_assert_float_eq(sim_judge_distance(&box, vec_of(c, "point")), number(c, "expect", "distance"), 1e-9);
        seen++;
    }
    cr_assert_eq(seen, 3);
}

/* A room so wide that only the keep-out counts. */
static struct volume wide_room(void)
{
    struct volume room = {.stages = 1, .keepouts = 1};
    room.stage[0] =
        (struct shape_prism){.corners = 4, .x = {-99, 99, 99, -99}, .y = {-99, -99, 99, 99}, .z_lo = -99, .z_hi = 99};
    return room;
}

/* A cord from b to a platform at a, and nothing else that has a size. */
Test(judge, a_cord_and_a_boom_keep_the_published_distance_from_a_box)
{
    size_t i, seen = 0;
    json_t *c;
    json_array_foreach(cases(), i, c)
    {
        if (!is(c, "geom-seg-aabb"))
            continue;
        struct volume room = wide_room();
        struct sim_judge cord, boom;
        struct vec3 a = vec_of(c, "a"), b = vec_of(c, "b");
        struct shape_box box = {vec_of(c, "lo"), vec_of(c, "hi")};
        room.keepout[0].shape = rig_bench_box(box);
        room.outline.cords = 1;
        room.outline.anchor[0] = b;
        sim_judge_init(&cord);
        sim_judge_observe(&room, &cord, &(struct sim_truth){.position = a, .body = a});
        cr_assert_float_eq(fmax(0, cord.clearance_m), number(c, "expect", "distance"), SIM_JUDGE_STEP_M / 2);
        room.outline.cords = 0;
        room.outline.boom_radius_m = number(c, "input", "radius");
        sim_judge_init(&boom);
        sim_judge_observe(&room, &boom, &(struct sim_truth){.position = a, .body = b});
        double uncut = fmax(0, boom.clearance_m + room.outline.boom_radius_m) - room.outline.boom_radius_m;
        cr_assert_float_eq(fmax(0, uncut), number(c, "expect", "capsule"), SIM_JUDGE_STEP_M / 2);
        seen++;
    }
    cr_assert_eq(seen, 6);
}

/* A boom as thick as the capsule against a sphere, and the sphere as a capsule of no length. */
Test(judge, spheres_and_capsules_are_as_far_as_published)
{
    size_t i, seen = 0;
    json_t *c;
    json_array_foreach(shape_cases(), i, c)
    {
        if (!is(c, "geom-capsule-sphere"))
            continue;
        struct volume room = wide_room();
        double radius = number(c, "input", "R"), expect = number(c, "expect", "distance");
        struct shape solid[] = {{SHAPE_SPHERE, .as.sphere = {vec_of(c, "centre"), radius}},
                                {SHAPE_CAPSULE, .as.capsule = {vec_of(c, "centre"), vec_of(c, "centre"), radius}}};
        room.outline.boom_radius_m = number(c, "input", "radius");
        for (int k = 0; k < 2; k++) {
            struct sim_judge judge;
            room.keepout[0].shape = solid[k];
            sim_judge_init(&judge);
            sim_judge_observe(&room, &judge, &(struct sim_truth){.position = vec_of(c, "a"), .body = vec_of(c, "b")});
            cr_assert_float_eq(fmax(0, judge.clearance_m), expect, SIM_JUDGE_STEP_M / 2, "case %zu, %d", i, k);
        }
        seen++;
    }
    cr_assert_eq(seen, 4);
}

Test(judge, half_spaces_and_prisms_have_a_sign)
{
    struct shape ground = {SHAPE_HALF_SPACE, .as.half_space = {{0, 0, 1}, 0.5}};
    cr_assert_float_eq(sim_judge_distance(&ground, (struct vec3){7, 8, 2}), 1.5, 1e-12);
    cr_assert_float_eq(sim_judge_distance(&ground, (struct vec3){7, 8, 0.2}), -0.3, 1e-12);
    struct shape post = {SHAPE_PRISM, .as.prism = {4, {0, 1, 1, 0}, {0, 0, 1, 1}, 0, 2}};
    cr_assert_float_eq(sim_judge_distance(&post, (struct vec3){4, 0.5, 1}), 3, 1e-12);
    cr_assert_float_eq(sim_judge_distance(&post, (struct vec3){0.6, 0.5, 1}), -0.4, 1e-12);
}

static struct vec3 anywhere(struct sim_noise *noise)
{
    double x = 4 * sim_noise_uniform(noise), y = 4 * sim_noise_uniform(noise), z = 4 * sim_noise_uniform(noise);
    return (struct vec3){x, y, z};
}

/* The search along a cord, past several boxes, against plain dense sampling. */
Test(judge, the_search_misses_nothing_that_dense_sampling_finds)
{
    struct sim_noise noise = {3};
    for (int k = 0; k < 300; k++) {
        struct volume room = wide_room();
        struct sim_judge judge;
        struct vec3 a = anywhere(&noise), b = anywhere(&noise);
        double least = INFINITY;
        room.keepouts = 4;
        for (int box = 0; box < 4; box++) {
            struct vec3 lo = anywhere(&noise);
            struct shape_box solid = {lo, vec_along(lo, anywhere(&noise), 0.1)};
            room.keepout[box].shape = rig_bench_box(solid);
            for (int j = 0; j <= 8000; j++)
                least = fmin(least, sim_judge_box_distance(&solid, vec_along(a, vec_sub(b, a), j / 8000.0)));
        }
        room.outline.cords = 1;
        room.outline.anchor[0] = b;
        sim_judge_init(&judge);
        sim_judge_observe(&room, &judge, &(struct sim_truth){.position = a, .body = a});
        cr_assert_float_eq(judge.clearance_m, least, SIM_JUDGE_STEP_M);
    }
}

static struct volume small_room(void)
{
    struct volume room = {.stages = 1, .keepouts = 1};
    room.stage[0] = (struct shape_prism){.corners = 4, .x = {0, 4, 4, 0}, .y = {0, 0, 4, 4}, .z_lo = 0, .z_hi = 3};
    struct shape_box box = {{2, 0, 0}, {4, 4, 1}};
    room.keepout[0] = (struct volume_keepout){.shape = rig_bench_box(box), .padding_m = 0.2};
    room.outline = (struct volume_outline){
        .limbs = 1, .limb = {{.radius_m = 0.1}}, .boom_m = 0.5, .boom_radius_m = 0.02, .cords = 1};
    room.outline.anchor[0] = (struct vec3){0, 2, 3};
    return room;
}

static struct sim_truth truth_at(double t, double x, double z, double vx)
{
    struct sim_truth truth = {.t_s = t, .position = {x, 2, z}, .velocity = {vx, 0, 0}, .body = {x, 2, z - 0.5}};
    truth.tension_n[0] = 5;
    return truth;
}

static void see(struct sim_judge *judge, struct sim_truth truth)
{
    struct volume room = small_room();
    sim_judge_observe(&room, judge, &truth);
}

Test(judge, every_part_counts_with_its_own_size_and_padding_does_not)
{
    struct sim_judge judge;
    sim_judge_init(&judge);
    see(&judge, truth_at(0, 1.5, 1.4, 0)); /* body beside the box: 0.5 away less 0.1 */
    cr_assert_float_eq(judge.clearance_m, 0.4, 1e-9);
    see(&judge, truth_at(1, 1.0, 2.9, 0)); /* boom under the ceiling: 0.1 less 0.02 */
    cr_assert_float_eq(judge.clearance_m, 0.08, 1e-9);
    see(&judge, truth_at(2, 3.0, 0.99 + 0.5, 0)); /* body in the box, 0.01 deep and its radius */
    cr_assert_float_eq(judge.clearance_m, -0.11, 1e-9);
    see(&judge, truth_at(3, 1.0, 1.5, 0));
    cr_assert_float_eq(judge.min_clearance_m, -0.11, 1e-9);
}

Test(judge, a_swinging_body_is_where_it_is)
{
    struct sim_judge judge;
    struct sim_truth truth = truth_at(0, 1.5, 1.4, 0);
    sim_judge_init(&judge);
    truth.body.x = 1.9;
    see(&judge, truth);
    cr_assert_float_eq(judge.clearance_m, 0.0, 1e-9);
}

Test(judge, a_touch_is_counted_when_it_begins)
{
    struct sim_judge judge;
    sim_judge_init(&judge);
    static const double x[] = {1.5, 1.95, 2.1, 1.95, 1.5, 1.95, 1.0};
    for (size_t i = 0; i < sizeof x / sizeof *x; i++)
        see(&judge, truth_at((double)i, x[i], 1.4, 0));
    cr_assert_eq(judge.touched, 2);
    struct sim_truth gone = truth_at(9, (double)NAN, 1.4, 0);
    see(&judge, gone);
    cr_assert_eq(judge.touched, 3);
    cr_assert_eq(judge.min_clearance_m, -(double)INFINITY);
}

Test(judge, slack_is_counted_when_it_begins)
{
    struct sim_judge judge;
    sim_judge_init(&judge);
    static const double tension[] = {5, 0, 0, 5, 0, 5};
    for (size_t i = 0; i < 6; i++) {
        struct sim_truth truth = truth_at((double)i, 1, 2, 0);
        truth.tension_n[0] = tension[i];
        see(&judge, truth);
    }
    cr_assert_eq(judge.slack, 2);
}

Test(judge, at_rest_is_a_tenth_of_a_second_without_moving)
{
    struct sim_judge judge;
    sim_judge_init(&judge);
    see(&judge, truth_at(10.00, 1, 2, 0.2));
    cr_assert_not(sim_judge_at_rest(&judge));
    see(&judge, truth_at(10.05, 1, 2, 0.009));
    cr_assert_not(sim_judge_at_rest(&judge));
    see(&judge, truth_at(10.11, 1, 2, 0.0));
    cr_assert(sim_judge_at_rest(&judge));
    see(&judge, truth_at(10.12, 1, 2, 0.011));
    cr_assert_not(sim_judge_at_rest(&judge));
}

/* An arm that is turned with the body, out of one prism of the stage into another. */
Test(judge, limbs_turn_and_a_stage_may_be_of_several_prisms)
{
    struct volume room = small_room();
    struct sim_judge judge;
    struct sim_truth truth = {.position = {3.5, 2, 2.5}, .body = {3.5, 2, 2}, .tension_n = {5}};
    room.keepouts = 0;
    room.outline.limbs = 2;
    room.outline.limb[1] = (struct volume_limb){{0, 0, 0}, {0.8, 0, 0}, 0.05};
    sim_judge_init(&judge);
    sim_judge_observe(&room, &judge, &truth);
    cr_assert_float_eq(judge.clearance_m, -0.35, 1e-9, "through the wall at x = 4");
    truth.yaw_rad = 3.14159265358979 / 2;
    sim_judge_observe(&room, &judge, &truth);
    cr_assert_float_eq(judge.clearance_m, 0.4, 1e-9, "the body is nearest now");
    truth.yaw_rad = 0;
    room.stage[1] = (struct shape_prism){.corners = 4, .x = {3, 6, 6, 3}, .y = {1, 1, 3, 3}, .z_lo = 1, .z_hi = 3};
    room.stages = 2;
    sim_judge_observe(&room, &judge, &truth);
    cr_assert_float_eq(judge.clearance_m, 0.4, 1e-3);
    truth.yaw_rad = (double)NAN;
    sim_judge_observe(&room, &judge, &truth);
    cr_assert_eq(judge.clearance_m, -INFINITY);
}

Test(judge, a_straight_tether_counts_and_what_yields_does_not)
{
    struct volume room = small_room();
    struct sim_judge judge;
    struct sim_truth truth = {.position = {1, 2, 2}, .body = {1, 2, 1.5}, .tension_n = {5}};
    room.outline.tether = (struct volume_tether){VOLUME_TETHER_STRAIGHT, {3.9, 2, 0.5}, 5, 0.01, 0, 0};
    sim_judge_init(&judge);
    sim_judge_observe(&room, &judge, &truth);
    cr_assert_lt(judge.clearance_m, 0);
    room.keepout[0].yields = true;
    sim_judge_observe(&room, &judge, &truth);
    cr_assert_gt(judge.clearance_m, 0.3);
}
