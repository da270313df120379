/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/cords.h"
#include "tests/unit/motion/cords.h"

static const struct vec3 at_rest = {0, 0, 0};

static void expect_each(const char *id, const json_t *expect, const double got[], int n, double tolerance)
{
    cr_assert_eq(json_array_size(expect), (size_t)n, "%s", id);
    for (int i = 0; i < n; i++)
        cr_assert_float_eq(got[i], cords_item(expect, i), tolerance, "%s cord %d: %.12g", id, i, got[i]);
}

static void expect_ranges(const char *id, const json_t *expect, const struct tension_state *s, int n, double tolerance)
{
    cr_assert_eq(json_array_size(expect), (size_t)n, "%s", id);
    for (int i = 0; i < n; i++) {
        const json_t *range = json_array_get(expect, (size_t)i);
        cr_assert_float_eq(s->least_n[i], cords_item(range, 0), tolerance, "%s cord %d: %.12g", id, i, s->least_n[i]);
        cr_assert_float_eq(s->most_n[i], cords_item(range, 1), tolerance, "%s cord %d: %.12g", id, i, s->most_n[i]);
    }
}

static void expect_directions(const char *id, const struct tension_rig *rig, struct vec3 p, const json_t *expect)
{
    struct wrench_cords c;
    double null[4];
    cr_assert(tension_cords(rig, p, &c));
    expect_each(id, json_object_get(expect, "lengths"), c.length_m, 4, 1e-9);
    for (int i = 0; i < 4; i++) {
        struct vec3 u = cords_vec(json_array_get(json_object_get(expect, "unit_rows"), (size_t)i));
        cr_assert_lt(vec_norm(vec_sub(u, c.unit[i])), 1e-9, "%s", id);
    }
    cr_assert(tension_null(&c, null));
    expect_each(id, json_object_get(expect, "null_unit"), null, 4, 1e-9);
}

static void expect_nearest(const char *id, const struct tension_rig *rig, struct vec3 p, struct vec3 a,
                           const json_t *input, const json_t *expect)
{
    double ref[VOLUME_MAX_CORDS], got[VOLUME_MAX_CORDS];
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        ref[i] = reference_number(input, "tref");
    bool found = tension_nearest(rig, p, a, ref, got);
    cr_assert_eq(found, json_is_true(json_object_get(expect, "feasible")), "%s", id);
    if (found)
        expect_each(id, json_object_get(expect, "t_nearest_ref"), got, 4, 1e-8);
}

/* Four cords at six places: point-mass statics A t = w (Pott, Cable-Driven Parallel Robots, 2018; Bruckmann et al.
 * 2008), tests/reference/cords.json. */
static void expect_case(const char *id)
{
    json_t *one = reference_case("cords.json", id), *input = json_object_get(one, "input"),
           *expect = json_object_get(one, "expect");
    struct tension_rig rig = cords_rig(input);
    struct vec3 p = cords_vec(json_object_get(input, "position")),
                a = cords_vec(json_object_get(input, "acceleration"));
    struct vec3 w = cords_vec(json_object_get(expect, "wrench"));
    struct tension_state s;
    tension_solve(&rig, p, a, &s);
    cr_assert_lt(vec_norm(vec_sub(tension_load(&rig, a), w)), 1e-9);
    expect_directions(id, &rig, p, expect);
    expect_each(id, json_object_get(expect, "t_min_norm"), s.min_norm_n, 4, 1e-8);
    cr_assert_float_eq(s.margin_n, reference_number(expect, "largest_uniform_slack"), 1e-8, "%s: %.12g", id,
                       s.margin_n);
    cr_assert_eq(s.feasible, json_is_true(json_object_get(expect, "feasible")), "%s", id);
    if (s.feasible) {
        expect_ranges(id, json_object_get(expect, "tension_range"), &s, 4, 1e-8);
        expect_each(id, json_object_get(expect, "t_mid"), s.middle_n, 4, 1e-8);
    }
    expect_nearest(id, &rig, p, a, input, expect);
    json_decref(one);
}

Test(tension_cases, four_cords_as_published)
{
    static const char *const ids[] = {"cord4-p0", "cord4-p0-acc", "cord4-p1", "cord4-p2",
                                      "cord4-p3", "cord4-p4",     "cord4-p5"};
    for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++)
        expect_case(ids[i]);
}

Test(tension_cases, three_cords_leave_one_answer)
{
    json_t *one = reference_case("cords.json", "cord3-tension"), *input = json_object_get(one, "input");
    const json_t *expect = json_object_get(json_object_get(one, "expect"), "tensions");
    struct tension_rig rig = cords_rig(input);
    struct tension_state s;
    tension_solve(&rig, cords_vec(json_object_get(input, "position")), at_rest, &s);
    cr_assert(s.feasible);
    expect_each("min-norm", expect, s.min_norm_n, 3, 1e-8);
    expect_each("middle", expect, s.middle_n, 3, 1e-8);
    expect_each("least", expect, s.least_n, 3, 1e-8);
    expect_each("most", expect, s.most_n, 3, 1e-8);
    json_decref(one);
}

static double node_at(const json_t *axis, int i)
{
    double lo = reference_number(axis, "lo"), hi = reference_number(axis, "hi");
    return lo + (hi - lo) * i / (reference_number(axis, "nodes") - 1);
}

/* The published count of places that can be held, layer by layer, exactly. */
Test(tension_cases, the_places_that_can_be_held_are_as_published)
{
    json_t *one = reference_case("cords.json", "cord4-workspace"), *input = json_object_get(one, "input");
    const json_t *layers = json_object_get(json_object_get(one, "expect"), "per_layer");
    const json_t *grid = json_object_get(input, "grid"), *axis[3];
    struct tension_rig rig = cords_rig(input);
    int nodes[3];
    for (int i = 0; i < 3; i++) {
        axis[i] = json_array_get(grid, (size_t)i);
        nodes[i] = (int)reference_number(axis[i], "nodes");
    }
    for (int z = 0; z < nodes[2]; z++) {
        int held = 0;
        for (int x = 0; x < nodes[0]; x++)
            for (int y = 0; y < nodes[1]; y++) {
                struct tension_state s;
                tension_solve(&rig, (struct vec3){node_at(axis[0], x), node_at(axis[1], y), node_at(axis[2], z)},
                              at_rest, &s);
                held += s.feasible;
            }
        cr_assert_eq(held, (int)cords_item(layers, z), "layer %d: %d", z, held);
    }
    json_decref(one);
}

/* Lengths of a published kinematics library's test, in millimetres: to 0.01 mm. */
Test(tension_cases, lengths_as_published)
{
    json_t *one = reference_case("cords.json", "cord4-coplanar"), *input = json_object_get(one, "input");
    struct vec3 p = cords_vec(json_object_get(json_object_get(one, "expect"), "position"));
    json_object_set_new(input, "mass", json_real(1));
    json_object_set_new(input, "tmin", json_real(0));
    struct tension_rig rig = cords_rig(input);
    struct wrench_cords c;
    cr_assert(tension_cords(&rig, p, &c));
    expect_each("lengths", json_object_get(input, "lengths"), c.length_m, 4, 0.01);
    json_decref(one);
}

/* Length rates -u . v. */
Test(tension_cases, rates_as_published)
{
    json_t *one = reference_case("cords.json", "cord4-jacobian"), *input = json_object_get(one, "input");
    json_object_set_new(input, "tmin", json_real(0));
    struct tension_rig rig = cords_rig(input);
    struct volume_outline outline = {.cords = rig.cords};
    double rate[VOLUME_MAX_CORDS];
    memcpy(outline.anchor, rig.anchor, sizeof outline.anchor);
    cords_rates(&outline, cords_vec(json_object_get(input, "position")), cords_vec(json_object_get(input, "velocity")),
                rate);
    expect_each("rates", json_object_get(json_object_get(one, "expect"), "rates"), rate, 4, 1e-9);
    json_decref(one);
}

/* One to eight cords, in space, in a plane, in pairs: against a general linear-programming solver (SciPy's linprog,
 * tests/reference/make_tension_cases.py), to 1e-6 N. */
Test(tension_cases, any_number_of_cords_as_a_linear_programme_says)
{
    json_t *file = reference_file("tensions.json"), *one;
    size_t i, per_count[VOLUME_MAX_CORDS + 1] = {0};
    json_array_foreach(json_object_get(file, "cases"), i, one)
    {
        const char *id = json_string_value(json_object_get(one, "id"));
        const json_t *input = json_object_get(one, "input"), *expect = json_object_get(one, "expect");
        const json_t *slack = json_object_get(expect, "slack");
        struct tension_rig rig = cords_rig(input);
        struct tension_state s;
        tension_solve(&rig, cords_vec(json_object_get(input, "position")),
                      cords_vec(json_object_get(input, "acceleration")), &s);
        cr_assert_eq(s.feasible, json_is_true(json_object_get(expect, "feasible")), "%s: %g", id, s.margin_n);
        if (s.feasible)
            expect_ranges(id, json_object_get(expect, "range"), &s, rig.cords, 1e-6);
        if (json_is_null(slack))
            cr_assert_lt(s.margin_n, 0, "%s", id);
        else
            cr_assert_float_eq(s.margin_n, json_number_value(slack), 1e-6, "%s: %.10g", id, s.margin_n);
        if (rig.cords < 3 || json_is_null(slack))
            cr_assert_leq(s.reserve_n, 0, "%s: %g", id, s.reserve_n);
        per_count[rig.cords]++;
    }
    for (int n = 1; n <= VOLUME_MAX_CORDS; n++)
        cr_assert_geq(per_count[n], 25, "%d cords", n);
    json_decref(file);
}
