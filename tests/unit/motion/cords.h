/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Cord rigs for the tests: from the reference files, and at random. */
#ifndef STEADYHAND_TESTS_CORDS_H
#define STEADYHAND_TESTS_CORDS_H

#include "policy/motion/tension.h"
#include "policy/motion/units.h"
#include "tests/unit/crowd/random.h"
#include "tests/unit/reference.h"

/* Element i of an array, or the value itself where one stands for all. */
static inline double cords_item(const json_t *values, int i)
{
    return json_number_value(json_is_array(values) ? json_array_get(values, (size_t)i) : values);
}

static inline struct vec3 cords_vec(const json_t *a)
{
    return (struct vec3){cords_item(a, 0), cords_item(a, 1), cords_item(a, 2)};
}

/* Where there is no mass, only geometry is asked. cords.json says tmin and tmax for all cords, tensions.json min and
 * max for each; cord3-tension says none. */
static inline struct tension_rig cords_rig(const json_t *input)
{
    struct tension_rig rig = {.mass_kg = json_number_value(json_object_get(input, "mass"))};
    const json_t *anchors = json_object_get(input, "anchors");
    const json_t *min = json_object_get(input, json_object_get(input, "min") ? "min" : "tmin");
    const json_t *max = json_object_get(input, json_object_get(input, "max") ? "max" : "tmax");
    rig.cords = (int)json_array_size(anchors);
    for (int i = 0; i < rig.cords; i++) {
        rig.anchor[i] = cords_vec(json_array_get(anchors, (size_t)i));
        rig.min_n[i] = cords_item(min, i);
        rig.max_n[i] = max ? cords_item(max, i) : 1000;
    }
    return rig;
}

/* One axis after the other, whatever the compiler: the same seed is the same case everywhere. */
static inline struct vec3 cords_random_in(struct random *r, struct vec3 lo, struct vec3 hi)
{
    struct vec3 v;
    v.x = random_between(r, lo.x, hi.x);
    v.y = random_between(r, lo.y, hi.y);
    v.z = random_between(r, lo.z, hi.z);
    return v;
}

static inline struct vec3 cords_random_vec(struct random *r, double lo, double hi)
{
    return cords_random_in(r, (struct vec3){lo, lo, lo}, (struct vec3){hi, hi, hi});
}

/* Evenly over the directions. */
static inline struct vec3 cords_random_unit(struct random *r)
{
    for (;;) {
        struct vec3 v = cords_random_vec(r, -1, 1);
        double length = vec_norm(v);
        if (length > 0.1 && length <= 1)
            return vec_scale(v, 1 / length);
    }
}

/* Cords from around the ceiling of a room 8 x 6 x 3 m; every third rig is held from below too. */
static inline struct tension_rig cords_random_rig(struct random *r, int cords)
{
    struct tension_rig rig = {.cords = cords, .mass_kg = random_between(r, 0.5, 20)};
    bool held_down = cords > 5 && random_below(r, 3) == 0;
    double weight = rig.mass_kg * UNITS_GRAVITY_MPS2, turn = random_between(r, 0, 6.28);
    for (int i = 0; i < cords; i++) {
        double angle = turn + 6.2832 * (i + random_between(r, -0.3, 0.3)) / cords;
        bool low = held_down && i % 2 == 1;
        rig.anchor[i] = (struct vec3){4 + 4.5 * cos(angle), 3 + 3.5 * sin(angle),
                                      low ? random_between(r, -0.2, 0.4) : random_between(r, 2.8, 4)};
        rig.min_n[i] = random_between(r, 0, 0.1) * weight;
        rig.max_n[i] = random_between(r, 0.8, 3) * weight;
    }
    return rig;
}

#endif
