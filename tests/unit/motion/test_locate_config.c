/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>

#include "locate_bench.h"

Test(locate_config, codes_are_stable)
{
    static const char *const codes[] = {"sound", "bad-value", "not-enough", "frozen",
                                        "jump",  "disagree",  "anchor",     "uncertain"};
    for (int f = 0; f < LOCATE_FAULTS; f++)
        cr_assert_str_eq(locate_fault_code((enum locate_fault)f), codes[f]);
    cr_assert_str_eq(locate_fault_code((enum locate_fault)99), "unknown");
    cr_assert_str_eq(locate_source_code(LOCATE_TENSION), "tension");
    cr_assert_str_eq(locate_source_code(LOCATE_SOURCES), "none");
}

Test(locate_config, a_config_that_cannot_be_is_refused)
{
    struct bench_mix mix = {.cords = 4};
    const struct locate_config good = bench_config(&mix, 0.01);
    cr_assert(locate_config_valid(&good));
#define REFUSED(field, value)                                                                                          \
    do {                                                                                                               \
        struct locate_config bad = good;                                                                               \
        bad.field = (value);                                                                                           \
        cr_assert_not(locate_config_valid(&bad), #field " = " #value);                                                 \
    } while (0)
    REFUSED(cords, -1);
    REFUSED(cords, VOLUME_MAX_CORDS + 1);
    REFUSED(anchor[2].y, NAN);
    REFUSED(weight_n, -1);
    REFUSED(body_n, 24);
    REFUSED(accel_mps2, 0);
    REFUSED(speed_mps, INFINITY);
    REFUSED(tilt_rad, 0.8);
    REFUSED(length_bias_m, NAN);
    REFUSED(tension_bias_share, 1.1);
    REFUSED(memory_s, 0);
    REFUSED(again_s, 0.4); /* shorter than coast_s: believed anew before it was a fault */
    REFUSED(outliers, -1);
    REFUSED(uncertainty_max_m, 0);
#undef REFUSED
}
