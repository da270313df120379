/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What locate makes of single reports: each fault by itself with its numbers, what it does not blame, how it comes
 * back. How soon and how surely faults are found is measured in locate_faults.c. */
#include <criterion/criterion.h>

#include "locate_stand.h"

Test(locate, nothing_heard_is_not_enough)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE));
    locate_step(&s.cfg, &s.locate, s.now, NULL, still, &s.out);
    cr_assert_eq(s.out.faults, FAULT(LOCATE_NOT_ENOUGH) | FAULT(LOCATE_UNCERTAIN));
    cr_assert_not(s.out.known);
    cr_assert_eq(s.out.uncertainty_m, SHAPE_FAR_M);
}

Test(locate, sound_readings_are_sound)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH));
    settle(&s, 200);
    cr_assert(s.out.known);
    cr_assert_not(s.out.hold);
    cr_assert_eq(s.out.faults, 0);
    cr_assert_eq(s.out.used, s.r.sources);
    cr_assert_leq(vec_norm(vec_sub(s.out.position, s.p)), 1e-6);
    cr_assert_lt(s.out.uncertainty_m, 0.02);
}

Test(locate, silence_becomes_a_fault)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE));
    settle(&s, 100);
    double last = s.out.uncertainty_m;
    for (int k = 1; k <= 51; k++) {
        s.now += 10000000;
        locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
        cr_assert_geq(s.out.uncertainty_m, last);
        last = s.out.uncertainty_m;
        cr_assert_eq(s.out.hold, k > 50, "%d", k);
    }
    const struct locate_detail *d = only(&s, LOCATE_NOT_ENOUGH);
    cr_assert_float_eq(d->value, 0.51, 1e-9);
    cr_assert_eq(d->limit, s.cfg.coast_s);
}

/* A range alone keeps the height; the rest is lost. */
Test(locate, one_height_is_not_enough)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_RANGE) | BIT(LOCATE_TILT));
    s.r.range_m = s.p.z - s.cfg.boom_m;
    settle(&s, 100);
    cr_assert_not(s.out.hold);
    s.r.sources = BIT(LOCATE_RANGE) | BIT(LOCATE_TILT);
    for (int k = 0; k < 60; k++) {
        s.r.range_m = s.p.z - s.cfg.boom_m + 1e-9 * (k % 3);
        hear(&s, still);
    }
    only(&s, LOCATE_NOT_ENOUGH);
    cr_assert_eq(s.out.used, BIT(LOCATE_RANGE));
    cr_assert_float_eq(s.out.position.z, s.p.z, 1e-3);
    cr_assert_lt(s.locate.filter.noise.m[2][2], s.locate.filter.noise.m[0][0]);
}

Test(locate, a_value_that_cannot_be_is_a_fault_and_not_used)
{
    static const double bad[] = {NAN, INFINITY, -INFINITY, -0.5, 1e7};
    for (int n = 0; n < 5; n++) {
        struct stand s;
        stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH));
        settle(&s, 100);
        s.now += 10000000;
        s.r.received_ns = s.now;
        s.r.seq++;
        s.r.position.x += 1e-9;
        s.r.length_m[2] = bad[n];
        locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
        const struct locate_detail *d = only(&s, LOCATE_BAD_VALUE);
        cr_assert_eq(d->source, LOCATE_LENGTH);
        cr_assert_eq(d->cord, 2);
        cr_assert_eq(s.out.used, BIT(LOCATE_POSE));
        cr_assert_leq(vec_norm(vec_sub(s.out.position, s.p)), 1e-6);
        s.r.length_m[2] = 0;
        hear(&s, still);
        cr_assert_not(s.out.hold, "%d", n);
    }
}

Test(locate, a_quality_that_cannot_be_is_a_fault)
{
    static const struct locate_quality bad[] = {{NAN, 0},     {-1, 0},     {INFINITY, 0},
                                                {0.003, NAN}, {0.003, -1}, {0.003, INFINITY}};
    for (int n = 0; n < 6; n++) {
        struct stand s;
        stand_init(&s, BIT(LOCATE_POSE));
        settle(&s, 100);
        s.r.quality[LOCATE_POSE] = bad[n];
        hear(&s, still);
        cr_assert_eq(only(&s, LOCATE_BAD_VALUE)->source, LOCATE_POSE);
        cr_assert_eq(s.out.used, 0);
    }
}

Test(locate, old_and_useless_readings_are_left_out)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH));
    s.r.quality[LOCATE_POSE].age_s = 0.6;
    settle(&s, 10);
    cr_assert_eq(s.out.used, BIT(LOCATE_LENGTH));
    cr_assert_not(s.out.hold);
    s.r.quality[LOCATE_POSE] = (struct locate_quality){2000, 0};
    settle(&s, 10);
    cr_assert_eq(s.out.used, BIT(LOCATE_LENGTH));
    cr_assert_not(s.out.hold);
}

Test(locate, a_jump_is_a_fault_and_not_followed)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_LENGTH));
    settle(&s, 200);
    struct vec3 before = s.p;
    s.p.x += 0.05;
    hear(&s, still);
    const struct locate_detail *d = only(&s, LOCATE_JUMP);
    cr_assert_float_eq(d->value, 0.05, 1e-3);
    cr_assert_gt(d->value, d->limit);
    cr_assert_leq(vec_norm(vec_sub(s.out.position, before)), 1e-4);
    /* Either may be right, so the bound covers both. */
    cr_assert_geq(s.out.uncertainty_m, 0.05);
    cr_assert_geq(s.out.doubt_m, 0.049);
}

/* And it stays a fault until what is new has stood for again_s, however vague the prediction grows: never is it
 * believed without a fault before. */
Test(locate, after_a_jump_sound_readings_are_believed_anew)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_LENGTH));
    settle(&s, 200);
    s.p.x += 0.3;
    int held = 0;
    for (hear(&s, still); s.out.faults & FAULT(LOCATE_JUMP); hear(&s, still), held++)
        cr_assert_geq(s.out.uncertainty_m, vec_norm(vec_sub(s.out.position, s.p)));
    cr_assert_geq(held, 95);
    cr_assert_leq(held, 100);
    settle(&s, 100);
    cr_assert_not(s.out.hold);
    cr_assert_leq(vec_norm(vec_sub(s.out.position, s.p)), 1e-4);
}

Test(locate, single_outliers_may_be_let_pass)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_LENGTH));
    s.cfg.outliers = 2;
    settle(&s, 200);
    struct vec3 home = s.p;
    for (int turn = 0; turn < 5; turn++) {
        s.p.x += 0.3;
        settle(&s, 2);
        cr_assert_not(s.out.hold);
        cr_assert_leq(vec_norm(vec_sub(s.out.position, home)), 1e-3);
        s.p = home;
        settle(&s, 5);
    }
    s.p.x += 0.3;
    settle(&s, 3);
    only(&s, LOCATE_JUMP);
}

Test(locate, sources_apart_disagree_and_the_odd_one_is_named)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH));
    settle(&s, 200);
    s.now += 10000000;
    s.r.received_ns = s.now;
    s.r.seq++;
    s.r.position.y += 0.2;
    locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
    cr_assert(s.out.faults & FAULT(LOCATE_DISAGREE));
    const struct locate_detail *d = &s.out.detail[LOCATE_DISAGREE];
    cr_assert_eq(d->source, LOCATE_POSE);
    cr_assert_gt(d->value, d->limit);
    cr_assert_leq(vec_norm(vec_sub(s.out.position, s.p)), 1e-4);
}

/* One cord is 3 cm off: when that shows in the long run, the bound is widened by what it may have done. */
Test(locate, a_lasting_disagreement_is_in_the_bound)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH));
    for (int k = 0; k < 300; k++) {
        s.now += 10000000;
        s.r.received_ns = s.now;
        s.r.seq++;
        s.r.position = (struct vec3){s.p.x, s.p.y, s.p.z + 1e-9 * (k % 5)};
        for (int i = 0; i < 4; i++)
            s.r.length_m[i] = vec_norm(vec_sub(s.cfg.anchor[i], s.p)) + (i == 2 ? 0.018 : 0);
        locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
    }
    const struct locate_detail *d = only(&s, LOCATE_ANCHOR);
    cr_assert_eq(d->cord, 2);
    cr_assert_float_eq(d->value, 0.018, 0.001);
    double off = vec_norm(vec_sub(s.out.position, s.p));
    cr_assert_gt(off, 0.003);
    cr_assert_float_eq(s.out.doubt_m, off, 0.1 * off);
}

/* A bad second report is rejected, the third believed: the gate is that of a jump, not shut because there was none. */
Test(locate, a_disagreement_right_after_the_start_shuts_nothing)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH));
    hear(&s, still);
    s.now += 10000000;
    s.r.received_ns = s.now;
    s.r.seq++;
    s.r.position.x += 0.2;
    locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
    cr_assert(s.out.faults & FAULT(LOCATE_DISAGREE));
    settle(&s, 1);
    cr_assert_eq(s.out.used, s.r.sources);
    settle(&s, 300);
    cr_assert_not(s.out.hold);
}

/* An outlier that is let pass leaves nothing behind that adds up. */
Test(locate, outliers_do_not_add_up)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH));
    s.cfg.outliers = 1;
    settle(&s, 100);
    for (int k = 0; k < 300; k++) {
        hear(&s, still);
        cr_assert_not(s.out.hold, "%d", k);
        if (k % 10 > 0)
            continue;
        s.now += 10000000;
        s.r.received_ns = s.now;
        s.r.seq++;
        s.r.length_m[1] += 0.5;
        locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
        cr_assert_not(s.out.hold, "%d", k);
        cr_assert_eq(s.out.used, 0);
    }
}

Test(locate, an_uncertainty_that_is_too_large_is_a_fault)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE));
    s.cfg.uncertainty_max_m = 0.1;
    settle(&s, 100);
    cr_assert_not(s.out.hold);
    s.r.quality[LOCATE_POSE].sigma = 0.5;
    settle(&s, 45);
    const struct locate_detail *d = only(&s, LOCATE_UNCERTAIN);
    cr_assert_eq(d->value, s.out.uncertainty_m);
    cr_assert_eq(d->limit, 0.1);
}

/* A slack cord is longer than its way: its length does not count, and does not pull the position off. */
Test(locate, the_length_of_a_slack_cord_says_nothing)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH) | BIT(LOCATE_TENSION));
    for (int i = 0; i < 4; i++)
        s.r.tension_n[i] = i == 3 ? 0.2 : 12;
    for (int k = 0; k < 100; k++) {
        s.now += 10000000;
        s.r.received_ns = s.now;
        s.r.seq++;
        s.r.position = s.p;
        s.r.position.x += 1e-9 * (k % 5);
        for (int i = 0; i < 4; i++)
            s.r.length_m[i] = vec_norm(vec_sub(s.cfg.anchor[i], s.p)) + (i == 3 ? 0.4 : 0);
        s.r.sources = k % 2 ? s.r.sources & ~BIT(LOCATE_TENSION) : s.r.sources | BIT(LOCATE_TENSION);
        struct locate_reading reading;
        locate_reading_take(&s.cfg, &s.r, (struct locate_velocity){0, 0}, &reading);
        cr_assert_eq(reading.taut, k % 2 ? 15u : 7u);
    }
}

/* Times from another thread, a little ahead of this tick's, and reports that come in the wrong order. */
Test(locate, odd_times_do_no_harm)
{
    struct stand s;
    stand_init(&s, BIT(LOCATE_POSE));
    settle(&s, 100);
    struct vec3 before = s.out.position;
    s.r.received_ns = s.now + 500000000;
    s.r.seq++;
    locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
    cr_assert_leq(s.locate.epoch_ns, s.now);
    cr_assert_eq(s.out.used, BIT(LOCATE_POSE));
    s.r.seq++;
    s.r.received_ns = s.now - 20000000; /* measured before the last: nothing new */
    s.r.position.x += 0.001;
    locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
    cr_assert_eq(s.out.used, 0);
    cr_assert_leq(vec_norm(vec_sub(s.out.position, before)), 1e-6);
    s.r.seq++;
    s.r.received_ns = s.now - 300000000;
    s.r.position.x += 5;
    locate_step(&s.cfg, &s.locate, s.now, &s.r, still, &s.out);
    cr_assert_leq(vec_norm(vec_sub(s.out.position, before)), 1e-3);
    s.now -= 2000000000;
    locate_step(&s.cfg, &s.locate, s.now, NULL, still, &s.out);
    cr_assert(vec_finite(s.out.position));
}
