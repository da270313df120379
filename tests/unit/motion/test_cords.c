/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/cords.h"
#include "tests/unit/motion/cases.h"

static struct volume_outline outline_of(const json_t *one)
{
    struct volume_outline o = {.cords = (int)json_array_size(reference_input(one, "anchors"))};
    for (int i = 0; i < o.cords; i++)
        o.anchor[i] = cases_point(json_array_get(reference_input(one, "anchors"), (size_t)i));
    return o;
}

/* Cases cord4-p0 .. p5: Pott, Cable-Driven Parallel Robots, 2018. */
Test(cords, have_the_published_lengths)
{
    static const char *const ids[] = {"cord4-p0", "cord4-p1", "cord4-p2", "cord4-p3", "cord4-p4", "cord4-p5"};
    for (size_t c = 0; c < sizeof ids / sizeof *ids; c++) {
        json_t *one = reference_case("motion.json", ids[c]);
        struct volume_outline o = outline_of(one);
        double length[VOLUME_MAX_CORDS];
        cr_assert_eq(o.cords, 4);
        cords_lengths(&o, cases_point(reference_input(one, "position")), length);
        for (int i = 0; i < o.cords; i++)
            cr_assert_float_eq(length[i], cases_number(json_array_get(reference_expect(one, "lengths"), (size_t)i)),
                               1e-9);
        json_decref(one);
    }
}

/* Case cord4-jacobian: rates = -u . v; and each row of J is the rate for a unit velocity. */
Test(cords, have_the_published_rates)
{
    json_t *one = reference_case("motion.json", "cord4-jacobian");
    struct volume_outline o = outline_of(one);
    struct vec3 at = cases_point(reference_input(one, "position"));
    double rate[VOLUME_MAX_CORDS], axis[3][VOLUME_MAX_CORDS];
    cords_rates(&o, at, cases_point(reference_input(one, "velocity")), rate);
    cords_rates(&o, at, (struct vec3){1, 0, 0}, axis[0]);
    cords_rates(&o, at, (struct vec3){0, 1, 0}, axis[1]);
    cords_rates(&o, at, (struct vec3){0, 0, 1}, axis[2]);
    for (int i = 0; i < o.cords; i++) {
        const json_t *row = json_array_get(reference_expect(one, "J"), (size_t)i);
        cr_assert_float_eq(rate[i], cases_number(json_array_get(reference_expect(one, "rates"), (size_t)i)), 1e-9);
        for (size_t k = 0; k < 3; k++)
            cr_assert_float_eq(axis[k][i], cases_number(json_array_get(row, k)), 1e-9);
    }
    json_decref(one);
}

Test(cords, pay_out_at_no_rate_at_their_anchor)
{
    struct volume_outline o = {.cords = 2, .anchor = {{1, 2, 3}, {4, 5, 6}}};
    double rate[VOLUME_MAX_CORDS];
    cords_rates(&o, (struct vec3){1, 2, 3}, (struct vec3){1, 0, 0}, rate);
    cr_assert_eq(rate[0], 0);
    cr_assert_lt(rate[1], 0, "towards the anchor it takes in");
}

/* So near that the square of the distance is rounded away almost or altogether: no cord is faster than the platform. */
Test(cords, are_no_faster_than_the_platform_however_near_their_anchor)
{
    struct volume_outline o = {.cords = 1, .anchor = {{0, 0, 0}}};
    for (double near = 1e-140; near > 1e-170; near /= 1.01) {
        double rate[VOLUME_MAX_CORDS];
        cords_rates(&o, (struct vec3){near, near, near}, (struct vec3){1, 2, 2}, rate);
        cr_assert(rate[0] >= -3 && rate[0] <= 3, "%g m away: %g m/s", near, rate[0]);
    }
}
