/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The filter against textbook forms, and its account of errors against errors that were really made. */
#include <criterion/criterion.h>

#include "locate_bench.h"

#define BIT(s)  (1u << (s))
#define TICK_S  0.01
#define SIGMA_M 0.003

static const struct vec3 still = {0, 0, 0};

static struct locate_config plain_config(void)
{
    struct bench_mix mix = {.cords = 4};
    struct locate_config cfg = bench_config(&mix, 0);
    cfg.anchor_bias_m = cfg.pose_bias_m = cfg.length_bias_m = cfg.range_bias_m = 0;
    return cfg;
}

/* Feeds one pose measurement, `k` ticks in. */
static void feed(const struct locate_config *cfg, struct locate *l, int k, struct vec3 p, struct locate_output *out)
{
    uint64_t now = 1000000000 + (uint64_t)k * 10000000;
    struct locate_report r = {
        .received_ns = now,
        .seq = (uint64_t)k + 1,
        .sources = BIT(LOCATE_POSE),
        .quality = {[LOCATE_POSE] = {SIGMA_M, 0}},
        .position = p,
    };
    locate_step(cfg, l, now, &r, still, out);
}

/* Kalata, The tracking index, IEEE Trans. AES-20 (1984): with L = s T^2 / sigma and r = (4 + L - sqrt(8 L + L^2)) / 4,
 * alpha = 1 - r^2 and beta = 2 (2 - alpha) - 4 sqrt(1 - alpha); covariance after an update, Bar-Shalom, Li, Kirubarajan
 * (2001), 6.5: sigma^2 alpha, sigma^2 beta / T, sigma^2 beta (2 alpha - beta) / (2 (1 - alpha) T^2). */
Test(locate_filter, one_source_at_a_constant_rate_settles_to_the_alpha_beta_gains)
{
    static const double accel[] = {0.05, 0.5, 5, 30};
    for (int n = 0; n < 4; n++) {
        struct locate_config cfg = plain_config();
        struct locate a, b;
        struct locate_output out, moved;
        cfg.accel_mps2 = accel[n];
        double index = 2 * accel[n] * TICK_S * TICK_S / SIGMA_M;
        double r = (4 + index - sqrt(8 * index + index * index)) / 4;
        double alpha = 1 - r * r, beta = 2 * (2 - alpha) - 4 * sqrt(1 - alpha);
        locate_init(&a);
        for (int k = 0; k < 3000; k++)
            feed(&cfg, &a, k, (struct vec3){1, 2, 3}, &out);
        double v = SIGMA_M * SIGMA_M;
        for (int i = 0; i < 3; i++) {
            double pp = out.covariance.m[i][i], pv = out.covariance.m[i][i + 3], vv = out.covariance.m[i + 3][i + 3];
            cr_assert_float_eq(pp / (v * alpha), 1, 1e-6);
            cr_assert_float_eq(pv / (v * beta / TICK_S), 1, 1e-6);
            cr_assert_float_eq(vv / (v * beta * (2 * alpha - beta) / (2 * (1 - alpha) * TICK_S * TICK_S)), 1, 1e-6);
        }
        /* The gains themselves: what one measurement, off by e, does. */
        const double e = 1e-4;
        b = a;
        feed(&cfg, &a, 3000, (struct vec3){1, 2, 3}, &out);
        feed(&cfg, &b, 3000, (struct vec3){1, 2 + e, 3}, &moved);
        cr_assert_float_eq((moved.position.y - out.position.y) / e, alpha, 1e-6);
        cr_assert_float_eq((moved.velocity.y - out.velocity.y) / e, beta / TICK_S, 1e-4);
    }
}

/* A truth that is just what the filter supposes: its normalised error squared is chi-square with 6 degrees (Bar-Shalom,
 * Li, Kirubarajan 2001, 5.4). */
Test(locate_filter, its_covariance_is_consistent_with_its_own_model)
{
    enum { RUNS = 400, STEPS = 120 };
    struct locate_config cfg = plain_config();
    uint64_t state = 4;
    double sum = 0;
    cfg.again_s = cfg.coast_s = 1;
    cfg.speed_mps = 0.3;
    for (int n = 0; n < RUNS; n++) {
        struct locate l;
        struct locate_output out;
        struct vec3 p = {4, 3, 1.5};
        struct vec3 v = {bench_normal(&state, 0.3), bench_normal(&state, 0.3), bench_normal(&state, 0.3)};
        locate_init(&l);
        for (int k = 0; k < STEPS; k++) {
            double s = 2 * cfg.accel_mps2;
            struct vec3 a = {bench_normal(&state, s), bench_normal(&state, s), bench_normal(&state, s)};
            if (k > 0) {
                p = vec_along(vec_along(p, v, TICK_S), a, TICK_S * TICK_S / 2);
                v = vec_along(v, a, TICK_S);
            }
            struct vec3 z = {p.x + bench_normal(&state, SIGMA_M), p.y + bench_normal(&state, SIGMA_M),
                             p.z + bench_normal(&state, SIGMA_M)};
            feed(&cfg, &l, k, z, &out);
        }
        struct mat6 inverse;
        struct vec3 ep = vec_sub(out.position, p), ev = vec_sub(out.velocity, v);
        const double error[6] = {ep.x, ep.y, ep.z, ev.x, ev.y, ev.z};
        cr_assert(mat6_invert(&out.covariance, &inverse));
        for (int i = 0; i < 6; i++)
            for (int j = 0; j < 6; j++)
                sum += error[i] * inverse.m[i][j] * error[j];
    }
    /* Mean of RUNS chi-squares: 6 +- 4 sqrt(12 / RUNS). */
    cr_assert_float_eq(sum / RUNS, 6, 4 * sqrt(12.0 / RUNS));
}

/* The noise's own covariance is that of the errors really made by a platform that hangs still. */
Test(locate_filter, its_account_of_noise_is_what_noise_does)
{
    enum { RUNS = 1500, STEPS = 60 };
    struct locate_config cfg = plain_config();
    uint64_t state = 5;
    struct mat3 sample = mat3_diagonal(0), stated = mat3_diagonal(0);
    const struct vec3 p = {3, 2, 1.4};
    for (int n = 0; n < RUNS; n++) {
        struct locate l;
        struct locate_output out;
        locate_init(&l);
        for (int k = 0; k < STEPS; k++) {
            uint64_t now = 1000000000 + (uint64_t)k * 10000000;
            struct locate_report r = {.received_ns = now, .seq = (uint64_t)k + 1, .sources = BIT(LOCATE_LENGTH)};
            r.quality[LOCATE_LENGTH].sigma = SIGMA_M;
            for (int i = 0; i < 4; i++)
                r.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], p)) + bench_normal(&state, SIGMA_M);
            locate_step(&cfg, &l, now, &r, still, &out);
        }
        struct vec3 e = vec_sub(out.position, p);
        mat3_add_outer(&sample, e, e, 1.0 / RUNS);
        struct mat3 s = mat6_block(&l.filter.noise, 0, 0);
        mat3_add(&stated, &s, 1.0 / RUNS);
    }
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            double scale = sqrt(stated.m[i][i] * stated.m[j][j]);
            cr_assert_float_eq(sample.m[i][j] / scale, stated.m[i][j] / scale, 0.15, "%d %d: %g %g", i, j,
                               sample.m[i][j], stated.m[i][j]);
        }
}

/* Two runs that differ in one sensor's bias alone: the difference is what its column says. */
static void expect_column(const struct bench_mix *mix, int term, double by)
{
    static struct bench a, b;
    struct locate_config cfg = bench_config(mix, 0.01);
    bench_start(&a, mix, &cfg, 6);
    bench_start(&b, mix, &cfg, 6);
    if (term < LOCATE_TERM_LENGTH)
        b.pose_bias.y += by;
    else if (term < LOCATE_TERM_TENSION)
        b.length_bias[term - LOCATE_TERM_LENGTH] += by;
    else
        b.range_bias += by;
    for (int k = 0; k < 150; k++) {
        bench_step(&a);
        bench_step(&b);
    }
    struct locate_column c = a.locate.filter.column[term];
    struct vec3 p = vec_scale(vec_sub(b.locate.filter.position, a.locate.filter.position), 1 / by);
    struct vec3 v = vec_scale(vec_sub(b.locate.filter.velocity, a.locate.filter.velocity), 1 / by);
    cr_assert_gt(vec_norm(c.p), 0.01, "%s %d", mix->name, term);
    cr_assert_leq(vec_norm(vec_sub(p, c.p)), 0.02 * vec_norm(c.p) + 1e-3, "%s %d", mix->name, term);
    cr_assert_leq(vec_norm(vec_sub(v, c.v)), 0.05 * vec_norm(c.v) + 5e-2, "%s %d", mix->name, term);
}

Test(locate_filter, its_account_of_biases_is_what_biases_do)
{
    const struct bench_mix lengths = {.name = "lengths",
                                      .cords = 4,
                                      .sources = BIT(LOCATE_LENGTH),
                                      .every = 1,
                                      .sigma = {0.003, 0.003, 0.05, 0.005, 0.005}};
    struct bench_mix all = lengths;
    all.name = "pose, lengths, range";
    all.sources |= BIT(LOCATE_POSE) | BIT(LOCATE_RANGE) | BIT(LOCATE_TILT);
    all.age_s[LOCATE_POSE] = 0.05;
    all.every = 3;
    for (int i = 0; i < 4; i++) {
        expect_column(&lengths, LOCATE_TERM_LENGTH + i, 1e-4);
        expect_column(&all, LOCATE_TERM_LENGTH + i, 1e-4);
    }
    expect_column(&all, LOCATE_TERM_POSE + 1, 1e-4);
    expect_column(&all, LOCATE_TERM_RANGE, 1e-4);
}

static const struct vec3 ways[] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0.6, 0.64, 0.48}};

/* Perfect readings of a platform that is accelerated along `way`, the other way every `half` ticks. */
static void swing(const struct locate_config *cfg, struct vec3 way, int half, double *worst, double *stated)
{
    struct locate l;
    struct locate_output out;
    struct vec3 p = {4, 3, 1.5}, v = {0, 0, 0};
    *worst = *stated = 0;
    locate_init(&l);
    for (int k = 0; k < 600; k++) {
        struct vec3 a = vec_scale(way, k / half % 2 ? -cfg->accel_mps2 : cfg->accel_mps2);
        feed(cfg, &l, k, p, &out);
        if (k > 300) {
            *worst = fmax(*worst, vec_norm(vec_sub(out.position, p)));
            *stated = fmax(*stated, out.error.manoeuvre);
        }
        p = vec_along(vec_along(p, v, TICK_S), a, TICK_S * TICK_S / 2);
        v = vec_along(v, a, TICK_S);
    }
}

/* An acceleration that stays makes the filter lag by accel T^2 (1 - alpha) / beta; the account is 1.1 of that. One that
 * turns at any period stays within the account, and the worst of them comes near it. */
Test(locate_filter, its_account_of_manoeuvres_is_what_they_do)
{
    struct locate_config cfg = plain_config();
    for (int w = 0; w < 4; w++) {
        double worst, stated, most = 0;
        swing(&cfg, ways[w], 1000, &worst, &stated);
        cr_assert_float_eq(stated / worst, 1.1, 1e-4, "%d", w);
        for (int half = 2; half < 80; half++) {
            swing(&cfg, ways[w], half, &worst, &stated);
            cr_assert_leq(worst, stated, "%d %d", w, half);
            most = fmax(most, worst / stated);
        }
        cr_assert_geq(most, 0.9);
    }
}

/* Over T an acceleration of 1 adds T^2 / 2 and T, along each axis by itself. */
Test(locate_filter, a_prediction_adds_each_axis_of_the_manoeuvre)
{
    struct locate_config cfg = plain_config();
    struct locate_filter f = {.terms = 0};
    locate_filter_predict(&cfg, 0.2, &f);
    locate_filter_predict(&cfg, 0.3, &f);
    for (int k = 0; k < 3; k++) {
        const struct locate_column *c = &f.column[LOCATE_TERMS + k];
        const double p[3] = {c->p.x, c->p.y, c->p.z}, v[3] = {c->v.x, c->v.y, c->v.z};
        for (int i = 0; i < 3; i++) {
            cr_assert_float_eq(p[i], i == k ? 0.5 * 0.5 / 2 : 0, 1e-15);
            cr_assert_float_eq(v[i], i == k ? 0.5 : 0, 1e-15);
        }
    }
}

/* First heard of under way, with a pose older than the lengths: the fix, which takes the velocity for 0, is wrong by
 * what the start says of the two together. */
Test(locate_filter, a_start_knows_what_an_unknown_velocity_does)
{
    struct locate_config cfg = plain_config();
    const struct vec3 p = {4, 3, 1.5}, v = {0.05, -0.03, 0.02};
    struct locate_report r = {.sources = BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH),
                              .quality = {{0.003, 0.2}, {0.003, 0}, {0, 0}, {0, 0}, {0, 0}}};
    struct locate_reading reading;
    struct locate_fix fix;
    struct locate_filter f;
    r.position = vec_along(p, v, -0.2);
    for (int i = 0; i < 4; i++)
        r.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], p));
    cfg.accel_mps2 = 0.01;
    locate_reading_take(&cfg, &r, (struct locate_velocity){0, 0}, &reading);
    locate_solve_cold(&cfg, &reading, &fix);
    cr_assert(fix.full);
    locate_filter_start(&cfg, &reading, &fix, &f);
    struct mat3 both = mat6_block(&f.noise, 0, 1);
    struct vec3 said = vec_scale(mat3_apply(&both, v), -1 / (cfg.speed_mps * cfg.speed_mps));
    struct vec3 made = vec_sub(fix.position, p);
    cr_assert_gt(vec_norm(made), 0.003);
    cr_assert_leq(vec_norm(vec_sub(made, said)), 0.02 * vec_norm(made));
    struct mat3 same = mat6_block(&f.covariance, 0, 1);
    cr_assert_float_eq(same.m[0][0], both.m[0][0], 1e-15);
}

/* Between reports the bound grows as that of an unknown acceleration does, no more: a t^2 / 2 and the velocity's error
 * times t. */
Test(locate_filter, coasting_widens_the_bound_by_what_can_happen)
{
    struct locate_config cfg = plain_config();
    struct locate l;
    struct locate_output last, out;
    locate_init(&l);
    for (int k = 0; k < 500; k++)
        feed(&cfg, &l, k, (struct vec3){4, 3, 1.5}, &last);
    for (int k = 1; k <= 30; k++) {
        double t = k * TICK_S;
        locate_step(&cfg, &l, 1000000000 + (uint64_t)(499 + k) * 10000000, NULL, still, &out);
        cr_assert_geq(out.uncertainty_m, last.uncertainty_m - 1e-12);
        cr_assert_geq(out.uncertainty_m, cfg.accel_mps2 * t * t / 2);
        cr_assert_leq(out.uncertainty_m,
                      last.uncertainty_m + 1.1 * cfg.accel_mps2 * t * t / 2 + last.velocity_error_mps * t + 1e-9);
    }
}
