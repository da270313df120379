/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/crowd/pace.h"
#include "tests/unit/crowd/random.h"
#include "tests/unit/reference.h"

/* GCRA(I, L): ITU-T I.371 / ATM Forum TM 4.0 flow charts (virtual scheduling). */
static void follow(const char *id)
{
    json_t *one = reference_case("crowd.json", id), *row;
    struct pace_config cfg = {(uint64_t)json_integer_value(reference_input(one, "I")),
                              (uint64_t)json_integer_value(reference_input(one, "L"))};
    struct pace pace = {0};
    size_t i;
    cr_assert_gt(json_array_size(reference_expect(one, "rows")), 10);
    json_array_foreach(reference_expect(one, "rows"), i, row)
    {
        uint64_t t = (uint64_t)json_integer_value(json_object_get(row, "t"));
        bool conforms = pace_arrive(&cfg, &pace, t, NULL);
        cr_assert_eq(conforms, json_is_true(json_object_get(row, "conform")), "%s row %zu", id, i);
        cr_assert_eq(pace.tat_ns, (uint64_t)json_integer_value(json_object_get(row, "tat")), "%s row %zu", id, i);
    }
    json_decref(one);
}

Test(pace, follows_the_published_flow_chart)
{
    follow("gcra-0");
    follow("gcra-1");
}

Test(pace, holds_a_burst_of_one_and_the_tolerance)
{
    struct pace_config cfg = {.interval_ns = 250, .tolerance_ns = 7 * 250}; /* 4 a second, burst 8, in ms */
    struct pace pace = {0};
    int passed = 0;
    for (int i = 0; i < 100; i++)
        passed += pace_arrive(&cfg, &pace, 5000, NULL);
    cr_assert_eq(passed, 8);
}

Test(pace, a_refusal_changes_nothing_and_its_wait_is_exact)
{
    struct random r = {7};
    struct pace_config cfg = {.interval_ns = 250, .tolerance_ns = 600};
    struct pace pace = {0};
    uint64_t now = 0, wait = 0;
    int refused = 0;
    for (int i = 0; i < 20000; i++) {
        now += random_below(&r, 300);
        struct pace before = pace;
        if (pace_arrive(&cfg, &pace, now, &wait)) {
            cr_assert_eq(wait, 0);
            continue;
        }
        refused++;
        cr_assert_eq(pace.tat_ns, before.tat_ns);
        cr_assert_gt(wait, 0);
        cr_assert_not(pace_arrive(&cfg, &pace, now + wait - 1, NULL), "one before the wait is over");
        cr_assert(pace_arrive(&(struct pace_config){250, 600}, &before, now + wait, NULL), "when the wait is over");
    }
    cr_assert_gt(refused, 1000);
}

/* However an eager viewer spreads arrivals, no window holds more than its length allows. */
Test(pace, long_run_rate_is_bounded)
{
    struct random r = {11};
    struct pace_config cfg = {.interval_ns = 250, .tolerance_ns = 1750};
    struct pace pace = {0};
    uint64_t now = 1000, passed = 0;
    for (int i = 0; i < 200000; i++) {
        now += random_below(&r, 40);
        passed += pace_arrive(&cfg, &pace, now, NULL);
        cr_assert_leq(passed, (now - 1000) / 250 + 8);
    }
    cr_assert_geq(passed, (now - 1000) / 250);
}

Test(pace, time_saturates_at_both_ends)
{
    struct pace_config cfg = {.interval_ns = UINT64_MAX, .tolerance_ns = 10};
    struct pace pace = {0};
    uint64_t wait = 1;
    cr_assert(pace_arrive(&cfg, &pace, UINT64_MAX - 5, &wait));
    cr_assert_eq(pace.tat_ns, UINT64_MAX);
    cr_assert_not(pace_arrive(&cfg, &pace, 0, &wait));
    cr_assert_eq(wait, UINT64_MAX - 10);
    cr_assert(pace_arrive(&cfg, &pace, UINT64_MAX, &wait), "at the end of time it does not start again");
    struct pace_config wide = {.interval_ns = 10, .tolerance_ns = UINT64_MAX};
    struct pace fresh = {0};
    for (int i = 0; i < 100; i++)
        cr_assert(pace_arrive(&wide, &fresh, 0, NULL), "a tolerance beyond any time limits nothing");
}
