/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>

#include "locate_stand.h"

/* However fast it should go, a moment of standing still is none: commands take time to arrive. */
Test(locate_frozen, readings_are_frozen_only_after_a_while)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_LENGTH));
    settle(&s, 200);
    for (int k = 1; k < 12; k++) {
        s.now += 10000000;
        s.r.received_ns = s.now;
        s.r.seq++;
        locate_step(&s.cfg, &s.locate, s.now, &s.r, (struct vec3){0, 4, 0}, &s.out);
        if (k != 5)
            cr_assert_eq(s.out.faults & FAULT(LOCATE_FROZEN), k > 5 ? FAULT(LOCATE_FROZEN) : 0, "%d", k);
    }
}

Test(locate_frozen, frozen_readings_under_way)
{
    for (int at_rest = 0; at_rest < 2; at_rest++) {
        struct stand s;
        stand_init(&s, BIT(LOCATE_LENGTH));
        settle(&s, 200);
        for (int k = 0; k < 30; k++) {
            s.now += 10000000;
            s.r.received_ns = s.now;
            s.r.seq++;
            locate_step(&s.cfg, &s.locate, s.now, &s.r, at_rest ? still : (struct vec3){0.2, 0, 0}, &s.out);
            double way = at_rest ? 0 : 0.002 * (k + 1);
            if (fabs(way - s.cfg.frozen_m) > 1e-9)
                cr_assert_eq(s.out.hold, way > s.cfg.frozen_m, "%d", k);
            cr_assert_geq(s.out.doubt_m, way - 1e-9);
        }
        if (at_rest)
            continue;
        const struct locate_detail *d = only(&s, LOCATE_FROZEN);
        cr_assert_eq(d->source, LOCATE_LENGTH);
        cr_assert_float_eq(d->value, 0.06, 1e-9);
        hear(&s, still);
        cr_assert_not(s.out.hold);
    }
}

/* To and fro is no way; and a range need not change while the platform keeps its height. */
Test(locate_frozen, what_need_not_change_is_not_frozen)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_RANGE));
    s.cfg.tilt_rad = 0;
    s.r.range_m = s.p.z - s.cfg.boom_m;
    for (int k = 0; k < 100; k++) {
        hear(&s, (struct vec3){0.2, 0, 0});
        cr_assert_not(s.out.faults & FAULT(LOCATE_FROZEN));
    }
    stand_init(&s, BIT(LOCATE_LENGTH));
    settle(&s, 10);
    for (int k = 0; k < 200; k++) {
        s.now += 10000000;
        s.r.received_ns = s.now;
        s.r.seq++;
        locate_step(&s.cfg, &s.locate, s.now, &s.r, (struct vec3){k % 20 < 10 ? 0.2 : -0.2, 0, 0}, &s.out);
        cr_assert_not(s.out.hold, "%d", k);
    }
}

Test(locate_frozen, a_sequence_that_stands_still_is_frozen)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE));
    settle(&s, 100);
    for (int k = 0; k < 7; k++) {
        s.r.seq--; /* hear() counts on: the same number comes again and again */
        hear(&s, still);
    }
    const struct locate_detail *d = only(&s, LOCATE_FROZEN);
    cr_assert_eq(d->source, LOCATE_SOURCES);
    cr_assert_gt(d->value, s.cfg.frozen_s);
    s.r.seq++;
    hear(&s, still);
    cr_assert_not(s.out.hold);
}
