/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>

#include "gateway/rig/sim_physics.h"
#include "gateway/rig/sim_statics.h"

struct rigging {
    int cords;
    struct vec3 u[VOLUME_MAX_CORDS], wrench;
    double tmin, tref;
};

static struct vec3 vec_of(const json_t *a)
{
    return (struct vec3){json_number_value(json_array_get(a, 0)), json_number_value(json_array_get(a, 1)),
                         json_number_value(json_array_get(a, 2))};
}

static struct rigging rigging_of(const json_t *in)
{
    struct rigging r = {.tmin = json_number_value(json_object_get(in, "tmin")),
                        .tref = json_number_value(json_object_get(in, "tref"))};
    struct vec3 p = vec_of(json_object_get(in, "position"));
    size_t i;
    json_t *anchor;
    json_array_foreach(json_object_get(in, "anchors"), i, anchor)
    {
        struct vec3 to = vec_sub(vec_of(anchor), p);
        r.u[r.cords++] = vec_scale(to, 1 / vec_norm(to));
    }
    r.wrench = (struct vec3){0, 0, json_number_value(json_object_get(in, "mass")) * SIM_GRAVITY};
    return r;
}

static void expect_balance(const struct rigging *r, const double t[])
{
    struct vec3 sum = vec_scale(r->wrench, -1);
    for (int i = 0; i < r->cords; i++)
        sum = vec_along(sum, r->u[i], t[i]);
    cr_assert_lt(vec_norm(sum), 1e-8);
}

static void expect_all(const char *id, const json_t *expect, const double t[], int cords)
{
    for (int i = 0; i < cords; i++)
        cr_assert_float_eq(t[i], json_number_value(json_array_get(expect, (size_t)i)), 1e-8, "%s cord %d", id, i);
}

static bool all_above(const json_t *values, double floor)
{
    size_t i;
    json_t *v;
    json_array_foreach(values, i, v)
    {
        if (json_number_value(v) < floor)
            return false;
    }
    return true;
}

/* Minimum norm and nearest to a reference, wherever no cord meets the floor there: point-mass statics A t = w (Pott,
 * Cable-Driven Parallel Robots, 2018; Bruckmann et al. 2008). */
Test(statics, tensions_are_the_published_ones)
{
    json_t *doc = json_load_file(REFERENCE "/rig.json", 0, NULL), *c;
    size_t i;
    int checked = 0;
    json_array_foreach(json_object_get(doc, "cases"), i, c)
    {
        const char *id = json_string_value(json_object_get(c, "id"));
        if (strncmp(id, "cord4-p", 7) != 0 || strstr(id, "acc"))
            continue;
        struct rigging r = rigging_of(json_object_get(c, "input"));
        const json_t *expect = json_object_get(c, "expect");
        const json_t *least = json_object_get(expect, "t_min_norm"), *near = json_object_get(expect, "t_nearest_ref");
        double t[VOLUME_MAX_CORDS];
        if (least && all_above(least, 0)) {
            cr_assert(sim_statics_solve(r.cords, r.u, r.wrench, 0, 0, t));
            expect_all(id, least, t, r.cords);
            expect_balance(&r, t);
            checked++;
        }
        if (json_is_array(near) && all_above(near, r.tmin + 1e-6)) {
            cr_assert(sim_statics_solve(r.cords, r.u, r.wrench, r.tmin, r.tref, t));
            expect_all(id, near, t, r.cords);
            checked++;
        }
    }
    cr_assert_geq(checked, 6);
    json_decref(doc);
}

/* W / (4 sin a) a cord at the middle of four anchors at one height. */
Test(statics, at_the_centre_each_cord_carries_a_quarter_over_the_sine)
{
    static const double published[][2] = {{45, 0.35}, {30, 0.50}, {15, 0.97}, {10, 1.44}, {5, 2.87}};
    for (size_t k = 0; k < 5; k++) {
        double a = published[k][0] * M_PI / 180, t[VOLUME_MAX_CORDS];
        struct vec3 u[4];
        for (int i = 0; i < 4; i++)
            u[i] = (struct vec3){cos(a) * cos(M_PI_4 + i * M_PI_2), cos(a) * sin(M_PI_4 + i * M_PI_2), sin(a)};
        cr_assert(sim_statics_solve(4, u, (struct vec3){0, 0, 1}, 0, 0, t));
        for (int i = 0; i < 4; i++) {
            cr_assert_float_eq(t[i], 1 / (4 * sin(a)), 1e-12);
            cr_assert_float_eq(t[i], published[k][1], 0.006);
        }
    }
}

Test(statics, no_cord_is_left_below_the_floor)
{
    static const struct vec3 anchor[4] = {{0.2, 0.2, 3.1}, {7.8, 0.2, 3.1}, {7.8, 5.8, 3.1}, {0.2, 5.8, 3.1}};
    struct rigging r = {.cords = 4, .wrench = {0, 0, 23.5}};
    int floored = 0;
    for (int k = 0; k < 17 * 12; k++) {
        struct vec3 p = {0.8 + 0.4 * (k % 17), 0.8 + 0.4 * (k / 17), 1.8};
        double t[VOLUME_MAX_CORDS];
        for (int i = 0; i < 4; i++) {
            struct vec3 to = vec_sub(anchor[i], p);
            r.u[i] = vec_scale(to, 1 / vec_norm(to));
        }
        cr_assert(sim_statics_solve(4, r.u, r.wrench, 5, 0, t), "at %g %g", p.x, p.y);
        expect_balance(&r, t);
        for (int i = 0; i < 4; i++) {
            cr_assert_geq(t[i], 5);
            floored += t[i] == 5;
        }
    }
    cr_assert_gt(floored, 0);
}

Test(statics, what_cannot_be_held_is_said)
{
    static const struct vec3 up[3] = {{1, 0, 0}, {-0.5, 0.866, 0}, {-0.5, -0.866, 0}};
    static const struct vec3 aside[3] = {{0.6, 0, 0.8}, {0.7, 0.1, 0.7}, {0.7, -0.1, 0.7}};
    double t[VOLUME_MAX_CORDS];
    cr_assert_not(sim_statics_solve(3, up, (struct vec3){0, 0, 10}, 1, 0, t));
    cr_assert_not(sim_statics_solve(3, aside, (struct vec3){0, 0, 10}, 1, 0, t));
    cr_assert_not(sim_statics_solve(2, aside, (struct vec3){0, 0, 10}, 1, 0, t));
    cr_assert_eq(t[0], 1);
}
