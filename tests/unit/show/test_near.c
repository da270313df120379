/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/near.h"

#include <criterion/criterion.h>

/* Textbook pairs; the last ones have neighbours swapped (optimal string alignment). */
Test(near, edits_are_counted)
{
    static const struct {
        char a[12], b[12];
        int edits;
    } rows[] = {
        {"", "", 0},         {"abc", "abc", 0}, {"", "abc", 3},   {"kitten", "sitting", 3},  {"saturday", "sunday", 3},
        {"flaw", "lawn", 2}, {"ab", "ba", 1},   {"ca", "abc", 3}, {"latnecy", "latency", 1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cr_expect_eq(near_edits(rows[i].a, rows[i].b, 20), rows[i].edits, "%s %s", rows[i].a, rows[i].b);
        cr_expect_eq(near_edits(rows[i].b, rows[i].a, 20), rows[i].edits, "%s %s", rows[i].b, rows[i].a);
    }
    cr_assert_eq(near_edits("kitten", "sitting", 1), 2); /* more than the limit is the limit and one */
    cr_assert_eq(near_edits("a long key that is far too long to be one of the words of a show file", "a", 3), 4);
}

Test(near, units_are_told_apart_and_turned)
{
    double factor;
    cr_assert(near_same_but_unit("boom_mm", "boom_m", &factor));
    cr_assert_float_eq(factor, 0.001, 1e-12);
    cr_assert(near_same_but_unit("speed_kmh", "speed_mps", &factor));
    cr_assert_float_eq(factor, 1 / 3.6, 1e-12);
    cr_assert(near_same_but_unit("noise_rad", "noise_deg", &factor));
    cr_assert_float_eq(factor, 57.29577951, 1e-4);
    cr_assert(near_same_but_unit("wishes_per_min", "wishes_per_s", &factor));
    cr_assert_float_eq(factor, 1 / 60.0, 1e-12);
    cr_assert(near_same_but_unit("boom", "boom_m", &factor) && factor == 0);
    cr_assert(near_same_but_unit("latency_m", "latency_s", &factor) && factor == 0);
    cr_assert(!near_same_but_unit("boom_m", "boom_m", &factor));
    cr_assert(!near_same_but_unit("bloom_mm", "boom_m", &factor));
    cr_assert(!near_same_but_unit("mode", "model", &factor));
}
