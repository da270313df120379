/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/shape.h"
#include "tests/property/random.h"
#include "tests/unit/motion/cases.h"

static const struct shape_box unit = {{0, 0, 0}, {1, 1, 1}};

static struct shape_box box_of(const json_t *one)
{
    return (struct shape_box){cases_point(reference_input(one, "lo")), cases_point(reference_input(one, "hi"))};
}

/* Cases geom-pt-aabb and geom-seg-aabb: computed, cross-checked by constrained minimisation. */
Test(shape, box_distance_is_as_published)
{
    char id[32];
    for (int i = 0; i < 6; i++) {
        snprintf(id, sizeof id, "geom-pt-aabb-%d", i);
        json_t *one = reference_case("motion.json", id);
        struct shape_box box = box_of(one);
        double d = shape_box_distance(&box, cases_point(reference_input(one, "point")));
        cr_assert_float_eq(d, cases_number(reference_expect(one, "distance")), 1e-9, "%s: %.12g", id, d);
        json_decref(one);
    }
}

Test(shape, box_segment_distance_is_as_published)
{
    char id[32];
    for (int i = 0; i < 6; i++) {
        snprintf(id, sizeof id, "geom-seg-aabb-%d", i);
        json_t *one = reference_case("motion.json", id);
        struct shape_box box = box_of(one);
        double d = shape_box_segment_distance(&box, cases_point(reference_input(one, "a")),
                                              cases_point(reference_input(one, "b")));
        cr_assert_float_eq(d, cases_number(reference_expect(one, "distance")), 1e-9, "%s: %.12g", id, d);
        cr_assert_float_eq(fmax(0, d - cases_number(reference_input(one, "radius"))),
                           cases_number(reference_expect(one, "capsule")), 1e-9, "%s", id);
        json_decref(one);
    }
}

static struct vec3 somewhere(struct random *r)
{
    return vec_add((struct vec3){0.5, 0.5, 0.5}, random_in_ball(r, 2.5));
}

Test(shape, segments_agree_with_sampling)
{
    struct random r = {1};
    const int n = 400;
    int touching = 0;
    for (int i = 0; i < 3000; i++) {
        struct vec3 a = somewhere(&r), b = somewhere(&r);
        double exact = shape_box_segment_distance(&unit, a, b), sampled = INFINITY;
        for (int k = 0; k <= n; k++)
            sampled = fmin(sampled, fmax(0, shape_box_distance(&unit, vec_along(a, vec_sub(b, a), (double)k / n))));
        cr_assert(exact <= sampled + 1e-12 && exact >= sampled - vec_norm(vec_sub(b, a)) / n, "%d", i);
        touching += exact <= 0;
    }
    cr_assert_gt(touching, 100);
}

/* Moved by d, an answer changes by at most d: what free travel and the way out rest on. */
Test(shape, every_distance_is_1_lipschitz)
{
    struct random r = {2};
    for (int i = 0; i < 20000; i++) {
        double d = random_between(&r, 0, 0.3);
        struct vec3 a = somewhere(&r), b = somewhere(&r);
        struct vec3 a2 = vec_add(a, random_in_ball(&r, d)), b2 = vec_add(b, random_in_ball(&r, d));
        double slack = d + 1e-12;
        cr_assert_leq(fabs(shape_box_distance(&unit, a) - shape_box_distance(&unit, a2)), slack);
        cr_assert_leq(fabs(shape_box_segment_distance(&unit, a, b) - shape_box_segment_distance(&unit, a2, b2)), slack);
    }
}

Test(shape, box_is_valid_only_with_room_in_it)
{
    cr_assert(shape_box_valid(&unit));
    double *number[6];
    for (int i = 0; i < 6; i++) {
        static const double bad[] = {(double)NAN, (double)INFINITY, -(double)INFINITY, 2e6, -2e6};
        for (size_t k = 0; k < sizeof bad / sizeof *bad; k++) {
            struct shape_box box = unit;
            double *all[6] = {&box.lo.x, &box.lo.y, &box.lo.z, &box.hi.x, &box.hi.y, &box.hi.z};
            memcpy(number, all, sizeof number);
            *number[i] = bad[k];
            cr_assert_not(shape_box_valid(&box), "number %d = %g", i, bad[k]);
        }
    }
    for (int axis = 0; axis < 3; axis++) {
        struct shape_box flat = unit;
        *(axis == 0 ? &flat.hi.x : axis == 1 ? &flat.hi.y : &flat.hi.z) = 0;
        cr_assert_not(shape_box_valid(&flat), "axis %d is flat", axis);
    }
}
