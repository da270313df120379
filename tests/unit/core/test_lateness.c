/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>

#include "gateway/core/lateness.h"

Test(lateness, empty_is_zero)
{
    struct lateness l = {0};
    cr_assert_eq(lateness_us(&l, 0.5), 0u);
    cr_assert_eq(lateness_us(&l, 1), 0u);
}

/* 1..1000 us, each once: the p-th of a thousand is p us, told as the upper edge of its 10 us bin. */
Test(lateness, shares_of_a_known_spread)
{
    struct lateness l = {0};
    for (uint64_t us = 0; us < 1000; us++)
        lateness_add(&l, us * 1000);
    cr_assert_eq(lateness_us(&l, 0.5), 500u);
    cr_assert_eq(lateness_us(&l, 0.99), 990u);
    cr_assert_eq(lateness_us(&l, 0.001), 10u);
    cr_assert_eq(lateness_us(&l, 1), 999u, "never above the greatest");
    cr_assert_eq(l.max_ns, 999000u);
}

Test(lateness, what_is_beyond_the_last_bin_counts)
{
    struct lateness l = {0};
    for (int i = 0; i < 98; i++)
        lateness_add(&l, 5000);
    lateness_add(&l, 123456789);
    lateness_add(&l, 30000000);
    cr_assert_eq(lateness_us(&l, 0.98), 10u);
    cr_assert_eq(lateness_us(&l, 0.99), 123457u);
    lateness_add(&l, UINT64_MAX);
    cr_assert_eq(lateness_us(&l, 1), UINT32_MAX);
    cr_assert_eq(l.total, 101u);
}

/* 20 us is one of the bin that ends at 30: "up to" leaves the edge itself out, as bins do. */
Test(lateness, coarse_steps_count_each_once)
{
    static const uint64_t late_us[] = {0, 19, 20, 49, 99, 150, 499, 999, 1000, 4999, 9999, 10000, 50000000};
    static const uint64_t expected[LATENESS_STEPS] = {2, 2, 1, 1, 1, 1, 1, 1, 1, 2};
    struct lateness l = {0};
    uint64_t count[LATENESS_STEPS];
    for (size_t i = 0; i < sizeof late_us / sizeof *late_us; i++)
        lateness_add(&l, late_us[i] * 1000);
    lateness_steps(&l, count);
    for (int i = 0; i < LATENESS_STEPS; i++)
        cr_assert_eq(count[i], expected[i], "step %d: %lu", i, (unsigned long)count[i]);
}
