/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Disagreement and its numbers, on fixes made by hand. */
#include <criterion/criterion.h>

#include "locate_bench.h"

#define BIT(s) (1u << (s))

static const struct vec3 still = {0, 0, 0};

/* Perfect readings but for one cord, off by `off`, and the pose, off by `pose`. */
static struct locate_fix fix_of(const struct locate_config *cfg, unsigned sources, int cord, double off,
                                struct vec3 pose)
{
    const struct vec3 p = {4.3, 2.8, 1.5};
    struct locate_report r = {.sources = sources,
                              .quality = {{0.003, 0}, {0.003, 0}, {0.05, 0}, {0.005, 0}, {0, 0}},
                              .position = vec_add(p, pose),
                              .range_m = p.z - cfg->boom_m};
    struct locate_reading reading;
    struct locate_fix fix;
    for (int i = 0; i < cfg->cords; i++)
        r.length_m[i] = vec_norm(vec_sub(cfg->anchor[i], p)) + (i == cord ? off : 0);
    locate_reading_take(cfg, &r, (struct locate_velocity){0, 0}, &reading);
    locate_solve_near(cfg, &reading, p, still, &fix);
    cr_assert(fix.full);
    return fix;
}

static struct locate_config room(int cords, double bias_m)
{
    struct bench_mix mix = {.cords = cords};
    struct locate_config cfg = bench_config(&mix, 0);
    cfg.anchor_bias_m = 0;
    cfg.length_bias_m = cfg.pose_bias_m = cfg.range_bias_m = bias_m;
    cfg.tilt_rad = 0;
    return cfg;
}

/* The upper tail of chi-square, by its recurrence in the degrees of freedom (Abramowitz, Stegun 26.4). */
static double tail(double x, int degrees)
{
    double q = degrees % 2 ? erfc(sqrt(x / 2)) : exp(-x / 2);
    double term = degrees % 2 ? sqrt(2 * x / 3.14159265358979323846) * exp(-x / 2) : exp(-x / 2) * x / 2;
    for (int k = degrees % 2 ? 1 : 2; k < degrees; k += 2) {
        q += term;
        term *= x / (k + 2);
    }
    return q;
}

/* Without biases the limit is the root of chi-square's 1e-9 point, for as many degrees as there are surplus rows. */
Test(locate_watch, the_limits_at_once_are_those_of_chi_square)
{
    for (int cords = 4; cords <= 8; cords++)
        for (int more = 0; more < 4; more++) {
            unsigned sources =
                BIT(LOCATE_LENGTH) | (more & 1 ? BIT(LOCATE_POSE) : 0) | (more & 2 ? BIT(LOCATE_RANGE) : 0);
            int degrees = cords - 3 + (more & 1 ? 3 : 0) + (more & 2 ? 1 : 0);
            struct locate_config cfg = room(cords, 0);
            struct locate_fix fix = fix_of(&cfg, sources, -1, 0, still);
            struct locate_finding f = locate_watch_sudden(&fix);
            cr_assert_not(f.found);
            cr_assert_eq(fix.model.rows - 3, degrees);
            cr_assert_float_eq(log(tail(f.limit * f.limit, degrees) / 1e-9), 0, 1e-5, "%d: %g", degrees,
                               tail(f.limit * f.limit, degrees));
        }
}

/* Biases at their bounds, all against each other, are no disagreement; a little more than noise on top is. */
Test(locate_watch, biases_within_bounds_are_allowed_for)
{
    struct locate_config cfg = room(4, 0.02);
    struct locate_fix fix = fix_of(&cfg, BIT(LOCATE_LENGTH) | BIT(LOCATE_POSE), 1, 0.02, (struct vec3){0, 0, -0.02});
    struct locate_finding f = locate_watch_sudden(&fix);
    cr_assert_not(f.found, "%g of %g", f.value, f.limit);
    cfg = room(4, 0.02);
    cfg.length_bias_m = 0.002;
    struct locate_finding strict, wide = f;
    fix = fix_of(&cfg, BIT(LOCATE_LENGTH), -1, 0, still);
    strict = locate_watch_sudden(&fix);
    /* The allowance itself: the root of the sum of weight x bias^2, here four alike. */
    double w = 1 / (0.003 * 0.003 + 0.002 * 0.002 / 3);
    cr_assert_float_eq(strict.limit, sqrt(37.3248931) + sqrt(4 * w) * 0.002, 1e-6);
    cr_assert_gt(wide.limit, strict.limit);
}

/* Eight lengths, one off: found in one report if it is far off, and named. */
Test(locate_watch, at_once)
{
    struct locate_config cfg = room(8, 0.001);
    for (int cord = 0; cord < 8; cord++) {
        struct locate_fix fix = fix_of(&cfg, BIT(LOCATE_LENGTH), cord, 0.08, still);
        struct locate_finding f = locate_watch_sudden(&fix);
        cr_assert(f.found);
        cr_assert_eq(f.source, LOCATE_LENGTH);
        cr_assert_eq(f.cord, cord);
    }
    struct locate_fix fix =
        fix_of(&cfg, BIT(LOCATE_LENGTH) | BIT(LOCATE_POSE), -1, 0, (struct vec3){0.05, 0.05, -0.05});
    struct locate_finding f = locate_watch_sudden(&fix);
    cr_assert(f.found);
    cr_assert_eq(f.source, LOCATE_POSE);
    cr_assert_eq(f.cord, -1);
}

/* n equal fixes a tenth of the memory apart: score and limit are geometric sums. */
Test(locate_watch, in_the_long_run_scores_add_up_with_forgetting)
{
    struct locate_config cfg = room(8, 0);
    struct locate_fix fix = fix_of(&cfg, BIT(LOCATE_LENGTH), 2, 0.008, still);
    struct locate_watch watch = {.score = {0}};
    static const struct locate_filter filter;
    const int n = 25, j = LOCATE_TERM_LENGTH + 2;
    const double q = exp(-0.1);
    for (int k = 0; k < n; k++)
        locate_watch_add(&cfg, &fix, 0.1 * cfg.memory_s, &watch);
    double sum = (1 - pow(q, n)) / (1 - q), squares = (1 - pow(q, 2 * n)) / (1 - q * q);
    double x = watch.info[j] / sum;
    cr_assert_float_eq(watch.score[j] / (sum * x * 0.008), 1, 1e-2); /* score of an error b: b X */
    struct locate_finding f = locate_watch_lasting(&watch, &filter);
    cr_assert_float_eq(f.value, 0.008, 1e-4);
    cr_assert_float_eq(f.limit, 6 * sqrt(squares * x) / (sum * x), 1e-9);
    cr_assert_eq(f.found, f.value > f.limit);
    cr_assert(f.found);
}

/* The velocity's error is in every reading of an old source, and much the same for a while: in the long run its part of
 * the variance counts as often as there are reports in a quarter of a second, and no jump is seen in it. */
Test(locate_watch, drift_is_no_disagreement)
{
    struct locate_config cfg = room(4, 0);
    struct locate_fix fix = fix_of(&cfg, BIT(LOCATE_LENGTH) | BIT(LOCATE_POSE), -1, 0, still), old = fix;
    struct locate_watch fresh = {.score = {0}}, lasting = {.score = {0}};
    for (int j = 0; j < 3; j++)
        old.term[j].drift = 0.004;
    locate_watch_add(&cfg, &fix, 0.05, &fresh);
    locate_watch_add(&cfg, &old, 0.05, &lasting);
    double x = fresh.info[0];
    cr_assert_float_eq(fresh.variance[0], x, 1e-9 * x);
    cr_assert_float_eq(lasting.variance[0], x * (1 + x * 0.004 * 0.004 * 5), 1e-9 * x);
    struct locate_filter predicted = {.position = vec_add(fix.position, (struct vec3){0.02, 0, 0})};
    struct locate_finding a = locate_watch_jump(&cfg, &fix, &predicted, 1),
                          b = locate_watch_jump(&cfg, &old, &predicted, 1);
    cr_assert_float_eq(a.value, 0.02, 1e-9);
    cr_assert_gt(b.limit, 1.2 * a.limit);
    cr_assert_eq(locate_watch_jump(&cfg, &old, &predicted, 0.001).limit, 0.001);
}

/* Just beyond the limit the cord is not named, as biases could make it look like another's; well beyond it is. */
Test(locate_watch, a_name_needs_more_than_the_limit)
{
    struct locate_config cfg = room(8, 0.002);
    static const struct locate_filter filter;
    double limit = 0;
    for (int n = 0; n < 3; n++) {
        struct locate_fix fix = fix_of(&cfg, BIT(LOCATE_LENGTH), 6,
                                       n == 0   ? 0.01
                                       : n == 1 ? 1.1 * limit
                                                : 1.6 * limit,
                                       still);
        struct locate_watch watch = {.score = {0}};
        for (int k = 0; k < 300; k++)
            locate_watch_add(&cfg, &fix, 0.01, &watch);
        struct locate_finding f = locate_watch_lasting(&watch, &filter);
        limit = f.limit;
        if (n == 0)
            continue;
        cr_assert(f.found);
        cr_assert_eq(f.source, LOCATE_LENGTH);
        cr_assert_eq(f.cord, n == 1 ? -1 : 6);
    }
}

/* Four lengths have one surplus: that something is off is plain, which is not. */
Test(locate_watch, with_one_surplus_reading_no_cord_is_named)
{
    struct locate_config cfg = room(4, 0);
    struct locate_fix fix = fix_of(&cfg, BIT(LOCATE_LENGTH), 1, 0.03, still);
    struct locate_watch watch = {.score = {0}};
    static const struct locate_filter filter;
    for (int k = 0; k < 100; k++)
        locate_watch_add(&cfg, &fix, 0.01, &watch);
    struct locate_finding f = locate_watch_lasting(&watch, &filter);
    cr_assert(f.found);
    cr_assert_eq(f.source, LOCATE_LENGTH);
    cr_assert_eq(f.cord, -1);
    f = locate_watch_sudden(&fix);
    cr_assert_eq(f.cord, -1);
}

/* Three lengths have none. */
Test(locate_watch, without_surplus_nothing_disagrees)
{
    struct locate_config cfg = room(3, 0);
    struct locate_fix fix = fix_of(&cfg, BIT(LOCATE_LENGTH), 1, 0.3, still);
    struct locate_watch watch = {.score = {0}};
    static const struct locate_filter filter;
    for (int k = 0; k < 100; k++)
        locate_watch_add(&cfg, &fix, 0.01, &watch);
    cr_assert_not(locate_watch_sudden(&fix).found);
    cr_assert_not(locate_watch_lasting(&watch, &filter).found);
}
