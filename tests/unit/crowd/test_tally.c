/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "policy/crowd/tally.h"
#include "tests/unit/crowd/viewers.h"

enum { VIEWERS = 400, EDGES = 16 };

static bool same(const struct tally *a, const struct tally *b)
{
    return memcmp(a, b, sizeof *a) == 0; /* counts only: no padding */
}

static struct tally whole_crowd(const struct viewer *v, int n)
{
    struct tally all;
    tally_clear(&all);
    for (int i = 0; i < n; i++)
        viewer_speaks(&v[i], &all);
    return all;
}

Test(tally, any_split_over_edges_gives_the_same_sum)
{
    struct random r = {1};
    struct viewer v[VIEWERS];
    for (int run = 0; run < 300; run++) {
        int n = (int)random_below(&r, VIEWERS) + 1;
        struct tally edge[EDGES] = {0}, sum;
        for (int i = 0; i < n; i++) {
            v[i] = viewer_random(&r);
            viewer_speaks(&v[i], &edge[random_below(&r, EDGES)]);
        }
        tally_clear(&sum);
        for (int e = 0; e < EDGES; e++) {
            cr_assert(tally_valid(&edge[e]));
            tally_merge(&sum, &edge[e]);
        }
        struct tally whole = whole_crowd(v, n);
        cr_assert(same(&sum, &whole), "run %d", run);
        cr_assert(tally_valid(&sum));
        cr_assert_eq(sum.viewers, (uint32_t)n);
    }
}

Test(tally, neither_the_order_of_viewers_nor_of_edges_matters)
{
    struct random r = {2};
    struct viewer v[VIEWERS];
    for (int i = 0; i < VIEWERS; i++)
        v[i] = viewer_random(&r);
    struct tally first = whole_crowd(v, VIEWERS);
    for (int run = 0; run < 50; run++) {
        for (int i = VIEWERS - 1; i > 0; i--) {
            int j = (int)random_below(&r, (uint32_t)i + 1);
            struct viewer swap = v[i];
            v[i] = v[j];
            v[j] = swap;
        }
        struct tally again = whole_crowd(v, VIEWERS), left = whole_crowd(v, 100), right = whole_crowd(v + 100, 300);
        struct tally backwards = right;
        tally_merge(&left, &right);
        struct tally front = whole_crowd(v, 100);
        tally_merge(&backwards, &front);
        cr_assert(same(&first, &again) && same(&first, &left) && same(&first, &backwards));
    }
}

static struct tally huge(struct random *r)
{
    struct tally t;
    uint32_t *count = (uint32_t *)&t;
    for (size_t i = 0; i < sizeof t / sizeof *count; i++)
        count[i] = (uint32_t)(random_u64(r) >> random_below(r, 64));
    return t;
}

Test(tally, merge_is_associative_and_commutative_even_where_it_saturates)
{
    struct random r = {3};
    int saturated = 0;
    for (int run = 0; run < 20000; run++) {
        struct tally a = huge(&r), b = huge(&r), c = huge(&r), ab = a, ba = b, bc = b, ab_c, a_bc;
        tally_merge(&ab, &b);
        tally_merge(&ba, &a);
        tally_merge(&bc, &c);
        ab_c = ab;
        tally_merge(&ab_c, &c);
        a_bc = a;
        tally_merge(&a_bc, &bc);
        cr_assert(same(&ab, &ba) && same(&ab_c, &a_bc), "run %d", run);
        saturated += ab_c.viewers == UINT32_MAX;
        cr_assert(ab.viewers >= a.viewers && ab.viewers >= b.viewers, "a sum never wraps");
    }
    cr_assert_gt(saturated, 100);
}

Test(tally, valid_means_coherent)
{
    struct random r = {4};
    struct viewer v[50];
    for (int i = 0; i < 50; i++)
        v[i] = viewer_random(&r);
    struct tally good = whole_crowd(v, 50), bad;
    cr_assert(tally_valid(&good));
    for (int a = 0; a < TALLY_AXES; a++) {
        bad = good;
        bad.stick[a][5]++;
        cr_assert_not(tally_valid(&bad), "a stick too many on axis %d", a);
    }
    bad = good;
    bad.sticks++;
    cr_assert_not(tally_valid(&bad));
    bad = good;
    bad.viewers = good.sticks - 1;
    cr_assert_not(tally_valid(&bad), "more sticks than viewers");
    bad = good;
    bad.votes[CHOICE_STAY] += bad.viewers - (uint32_t)tally_cast(&bad);
    cr_assert(tally_valid(&bad), "everybody votes");
    bad.votes[CHOICE_PEDESTAL_UP]++;
    cr_assert_not(tally_valid(&bad), "a vote more than viewers");
    bad = (struct tally){.viewers = 5, .votes = {UINT32_MAX, 1}};
    cr_assert_not(tally_valid(&bad), "votes that add up to little only modulo 2^32");
    bad = (struct tally){.viewers = 5, .sticks = 1};
    for (int a = 0; a < TALLY_AXES; a++)
        bad.stick[a][0] = 2, bad.stick[a][1] = UINT32_MAX;
    cr_assert_not(tally_valid(&bad), "bins that add up to 1 only modulo 2^32");
}

Test(tally, bins_are_nearest_symmetric_and_total)
{
    const double special[] = {NAN, INFINITY, -INFINITY, 1e300, -1e300, 1.0000001, -1.0000001, 0.0, -0.0};
    const int bin[] = {16, 32, 0, 32, 0, 32, 0, 16, 16};
    for (size_t i = 0; i < sizeof bin / sizeof *bin; i++)
        cr_assert_eq(tally_bin(special[i]), bin[i], "%g", special[i]);
    for (int b = 0; b < TALLY_BINS; b++) {
        cr_assert_eq(tally_bin(tally_bin_value(b)), b);
        cr_assert_eq(tally_bin_value(b), -1.0 + b / 16.0);
    }
    struct random r = {5};
    for (int i = 0; i < 100000; i++) {
        double x = random_between(&r, -1, 1);
        cr_assert_leq(fabs(tally_bin_value(tally_bin(x)) - x), 1.0 / 32);
        cr_assert_eq(tally_bin(-x), 32 - tally_bin(x));
    }
    cr_assert_eq(tally_bin(1.0 / 32), 17);
    cr_assert_eq(tally_bin(-1.0 / 32), 15);
}

Test(tally, every_choice_has_a_word_of_its_own)
{
    const char *words[] = {"stay",     "truck-left",    "truck-right", "dolly-out",
                           "dolly-in", "pedestal-down", "pedestal-up"};
    for (int c = 0; c < CHOICE_COUNT; c++)
        cr_assert_str_eq(choice_name((enum choice)c), words[c]);
    cr_assert_null(choice_name(CHOICE_COUNT));
    cr_assert_null(choice_name((enum choice)1000));
}
