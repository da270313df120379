/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <math.h>

#include "policy/crowd/blend.h"
#include "tests/unit/crowd/random.h"
#include "tests/unit/crowd/viewers.h"
#include "tests/unit/reference.h"

enum { STICKS = 101 };

static void hold(struct tally *t, double x, double y, double z)
{
    viewer_speaks(&(struct viewer){.choice = -1, .holds = true, .stick = {x, y, z}}, t);
}

/* Rank of value among the distinct ones of the array. A median is carried along by any increasing map, so ranks can
 * stand for values of any size: rank k is bin 3 + k. */
static int rank_bin(const json_t *values, double value)
{
    int bin = 3;
    for (size_t i = 0; i < json_array_size(values); i++) {
        double other = json_number_value(json_array_get(values, i));
        size_t first = 0;
        while (json_number_value(json_array_get(values, first)) != other)
            first++;
        bin += first == i && other < value;
    }
    return bin;
}

/* Lower weighted median: least x whose cumulative weight is at least half of the total (definition). */
Test(blend, lower_median_is_the_published_one)
{
    json_t *one = reference_case("crowd.json", "weighted-median"), *row;
    size_t i;
    cr_assert_gt(json_array_size(reference_input(one, "rows")), 3);
    json_array_foreach(reference_input(one, "rows"), i, row)
    {
        json_t *x = json_array_get(row, 0), *w = json_array_get(row, 1);
        uint32_t bins[TALLY_BINS] = {0};
        for (size_t k = 0; k < json_array_size(x); k++)
            bins[rank_bin(x, json_number_value(json_array_get(x, k)))] +=
                (uint32_t)lround(10 * json_number_value(json_array_get(w, k)));
        double expected = json_number_value(json_array_get(reference_expect(one, "value"), i));
        cr_assert_eq(blend_lower(bins), rank_bin(x, expected), "row %zu", i);
    }
    json_decref(one);
}

/* Huber & Ronchetti, Robust Statistics: the median breaks down only at a majority. */
Test(blend, breaks_down_where_theory_says)
{
    json_t *one = reference_case("crowd.json", "breakdown"), *row;
    json_t *values = json_deep_copy(reference_input(one, "good"));
    size_t n = json_array_size(values), i;
    json_array_append(values, reference_input(one, "bad"));
    double absurd = json_number_value(reference_input(one, "bad"));
    cr_assert_gt(json_array_size(reference_expect(one, "rows")), 5);
    json_array_foreach(reference_expect(one, "rows"), i, row)
    {
        size_t bad = (size_t)json_integer_value(json_object_get(row, "bad"));
        uint32_t bins[TALLY_BINS] = {0};
        for (size_t k = 0; k < n; k++)
            bins[rank_bin(values, k < n - bad ? json_number_value(json_array_get(values, k)) : absurd)]++;
        cr_assert_eq(blend_lower(bins), rank_bin(values, json_number_value(json_object_get(row, "median"))),
                     "%zu bad of %zu", bad, n);
    }
    json_decref(values);
    json_decref(one);
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Against a sort of the sticks themselves. */
Test(blend, is_the_median_nearest_to_rest)
{
    struct random r = {1};
    for (int run = 0; run < 20000; run++) {
        int n = (int)random_below(&r, STICKS) + 1;
        double x[STICKS], got[TALLY_AXES];
        struct tally t = {0};
        for (int i = 0; i < n; i++) {
            x[i] = tally_bin_value((int)random_below(&r, TALLY_BINS));
            hold(&t, x[i], -x[i], 0);
        }
        qsort(x, (size_t)n, sizeof *x, by_value);
        double lower = x[(n - 1) / 2], upper = x[n / 2];
        double expected = lower > 0 ? lower : upper < 0 ? upper : 0;
        blend_median(&t, 1, got);
        cr_assert_eq(got[0], expected, "run %d", run);
        cr_assert_eq(got[1], -expected, "mirrored sticks, mirrored answer");
        cr_assert_eq(got[2], 0);
    }
}

/* The honest ask for something in a range; the others, fewer than half, agree on anything at all. */
Test(blend, fewer_than_half_never_push_an_axis_beyond_the_honest_range)
{
    struct random r = {2};
    for (int run = 0; run < 20000; run++) {
        int n = (int)random_below(&r, STICKS) + 1, bad = (int)random_below(&r, (uint32_t)(n + 1) / 2);
        double least = random_between(&r, -1, 1), most = random_between(&r, least, 1), got[TALLY_AXES];
        double pull = random_below(&r, 2) ? random_between(&r, -50, 50) : random_below(&r, 2) ? 1 : -1;
        struct tally t = {0};
        for (int i = 0; i < n; i++)
            if (i < bad)
                hold(&t, pull, pull, random_between(&r, -2, 2));
            else
                hold(&t, random_between(&r, least, most), least, most);
        blend_median(&t, 1, got);
        for (int a = 0; a < TALLY_AXES; a++)
            cr_assert(got[a] >= least - 1.0 / 32 && got[a] <= most + 1.0 / 32, "run %d: %d bad of %d push to %g", run,
                      bad, n, got[a]);
    }
}

/* Exactly half can bring it nearer to rest, never further out; one more than half can do all. */
Test(blend, half_can_hold_but_not_drive)
{
    for (int honest = 1; honest <= 50; honest++)
        for (int pull = -1; pull <= 1; pull++) {
            double got[TALLY_AXES];
            struct tally t = {0};
            for (int i = 0; i < honest; i++) {
                hold(&t, 0.5, -0.25, 0);
                hold(&t, pull, pull, pull);
            }
            blend_median(&t, 1, got);
            cr_assert(got[0] >= 0 && got[0] <= 0.5);
            cr_assert(got[1] >= -0.25 && got[1] <= 0);
            cr_assert_eq(got[2], 0);
            hold(&t, pull, pull, pull);
            blend_median(&t, 1, got);
            cr_assert_eq(got[0], pull, "a majority has its way: the test can see a push");
        }
}

Test(blend, fewer_sticks_than_the_quorum_move_nothing)
{
    struct tally t = {0};
    double got[TALLY_AXES] = {9, 9, 9};
    blend_median(&t, 1, got);
    cr_assert(got[0] == 0 && got[1] == 0 && got[2] == 0, "nobody");
    for (int i = 0; i < 3; i++)
        hold(&t, 1, 1, 1);
    blend_median(&t, 4, got);
    cr_assert(got[0] == 0 && got[1] == 0 && got[2] == 0, "three of four");
    blend_median(&t, 3, got);
    cr_assert(got[0] == 1 && got[1] == 1 && got[2] == 1);
}

Test(blend, stays_in_range_whatever_the_counts)
{
    struct random r = {3};
    for (int run = 0; run < 20000; run++) {
        struct tally t;
        uint32_t *count = (uint32_t *)&t;
        for (size_t i = 0; i < sizeof t / sizeof *count; i++)
            count[i] = random_below(&r, 3) ? 0 : (uint32_t)(random_u64(&r) >> random_below(&r, 64));
        double got[TALLY_AXES];
        blend_median(&t, 0, got);
        for (int a = 0; a < TALLY_AXES; a++)
            cr_assert(got[a] >= -1 && got[a] <= 1);
    }
}
