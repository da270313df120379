/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/shape.h"
#include "tests/property/random.h"
#include "tests/unit/motion/cases.h"

/* An L, as in the cases geom-pt-prism. */
static const struct shape_prism ell = {6, {0, 3, 3, 1, 1, 0}, {0, 0, 1, 1, 3, 3}, 0.2, 1.2};

static struct shape_prism prism_of(const json_t *one)
{
    struct shape_prism prism = {.z_lo = cases_number(reference_input(one, "z0")),
                                .z_hi = cases_number(reference_input(one, "z1"))};
    size_t i;
    json_t *corner;
    json_array_foreach(reference_input(one, "polygon"), i, corner)
    {
        prism.x[i] = cases_number(json_array_get(corner, 0));
        prism.y[i] = cases_number(json_array_get(corner, 1));
        prism.corners++;
    }
    return prism;
}

/* Computed, cross-checked by constrained minimisation. */
Test(shape_prism, distance_is_as_published)
{
    char id[32];
    for (int i = 0; i < 6; i++) {
        snprintf(id, sizeof id, "geom-pt-prism-%d", i);
        json_t *one = reference_case("motion.json", id);
        struct shape_prism prism = prism_of(one);
        cr_assert(shape_prism_valid(&prism));
        double d = shape_prism_distance(&prism, cases_point(reference_input(one, "point")));
        cr_assert_float_eq(d, cases_number(reference_expect(one, "distance")), 1e-9, "%s: %.12g", id, d);
        json_decref(one);
    }
}

static struct vec3 somewhere(struct random *r)
{
    return (struct vec3){random_between(r, -0.5, 3.5), random_between(r, -0.5, 3.5), random_between(r, 0, 1.4)};
}

Test(shape_prism, winding_does_not_matter)
{
    struct shape_prism turned = ell;
    struct random r = {6};
    for (int i = 0; i < ell.corners; i++) {
        turned.x[i] = ell.x[ell.corners - 1 - i];
        turned.y[i] = ell.y[ell.corners - 1 - i];
    }
    cr_assert(shape_prism_valid(&turned));
    for (int i = 0; i < 1000; i++) {
        struct vec3 p = somewhere(&r);
        cr_assert_float_eq(shape_prism_distance(&ell, p), shape_prism_distance(&turned, p), 1e-12);
    }
}

struct footprint {
    const char *what;
    bool valid;
    struct shape_prism prism;
};

Test(shape_prism, footprint_must_be_simple)
{
    static const struct footprint table[] = {
        {"an L", true, {6, {0, 3, 3, 1, 1, 0}, {0, 0, 1, 1, 3, 3}, 0, 1}},
        {"a triangle", true, {3, {0, 1, 0}, {0, 0, 1}, 0, 1}},
        {"two corners", false, {2, {0, 1}, {0, 0}, 0, 1}},
        {"too many corners", false, {SHAPE_MAX_CORNERS + 1, {0, 1, 0}, {0, 0, 1}, 0, 1}},
        {"a line", false, {3, {0, 1, 2}, {0, 0, 0}, 0, 1}},
        {"a bow tie", false, {4, {0, 1, 0, 1}, {0, 1, 1, 0}, 0, 1}},
        {"a corner twice", false, {4, {0, 1, 1, 0}, {0, 0, 0, 1}, 0, 1}},
        {"a spike", false, {5, {0, 2, 1, 1, 0}, {0, 0, 0, 1, 1}, 0, 1}},
        {"a corner on another edge", false, {5, {0, 4, 4, 2, 0}, {0, 0, 4, 0, 4}, 0, 1}},
        {"two parts that touch", false, {8, {0, 1, 1, 2, 2, 1, 1, 0}, {0, 0, 1, 1, 2, 2, 1, 1}, 0, 1}},
        {"a neck of half a micrometre", false, {8, {0, 1, 1, 2, 2, 1, 1 - 5e-7, 0}, {0, 0, 1, 1, 2, 2, 1, 1}, 0, 1}},
        {"a neck of five", true, {8, {0, 1, 1, 2, 2, 1, 1 - 5e-6, 0}, {0, 0, 1, 1, 2, 2, 1, 1}, 0, 1}},
        {"no height", false, {3, {0, 1, 0}, {0, 0, 1}, 1, 1}},
        {"upside down", false, {3, {0, 1, 0}, {0, 0, 1}, 1, 0}},
        {"not a number", false, {3, {0, (double)NAN, 0}, {0, 0, 1}, 0, 1}},
        {"infinite", false, {3, {0, 1, 0}, {0, 0, (double)INFINITY}, 0, 1}},
        {"an infinite ceiling", false, {3, {0, 1, 0}, {0, 0, 1}, 0, (double)INFINITY}},
        {"a floor that is not a number", false, {3, {0, 1, 0}, {0, 0, 1}, (double)NAN, 1}},
    };
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        cr_assert_eq(shape_prism_valid(&table[i].prism), table[i].valid, "%s", table[i].what);
}

/* By hand. */
Test(shape_prism, the_box_around_several_holds_them_and_no_more)
{
    const struct shape_prism two[] = {ell, {3, {-1, 0, 2}, {5, 1, 2}, -0.5, 0.7}};
    const struct shape_box one_of_them = shape_prism_box(two, 1), both = shape_prism_box(two, 2);
    const double of_one[] = {0, 0, 0.2, 3, 3, 1.2}, of_both[] = {-1, 0, -0.5, 3, 5, 1.2};
    const double got[2][6] = {
        {one_of_them.lo.x, one_of_them.lo.y, one_of_them.lo.z, one_of_them.hi.x, one_of_them.hi.y, one_of_them.hi.z},
        {both.lo.x, both.lo.y, both.lo.z, both.hi.x, both.hi.y, both.hi.z}};
    for (int i = 0; i < 6; i++) {
        cr_assert_eq(got[0][i], of_one[i], "%d: %g", i, got[0][i]);
        cr_assert_eq(got[1][i], of_both[i], "%d: %g", i, got[1][i]);
    }
}
