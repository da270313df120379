/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* From report to reading to linearised model, number by number. */
#include <criterion/criterion.h>

#include "locate_bench.h"

#define BIT(s) (1u << (s))

static const struct vec3 still = {0, 0, 0};
static const struct locate_velocity certain = {0, 0};

static struct locate_config room(void)
{
    struct bench_mix mix = {.cords = 4};
    return bench_config(&mix, 0.02);
}

static struct locate_report report(unsigned sources)
{
    return (struct locate_report){
        .sources = sources,
        .quality = {{0.003, 0}, {0.002, 0}, {0.05, 0}, {0.004, 0}, {0.01, 0}},
        .position = {4.01, 3.02, 1.51},
        .length_m = {4.96, 4.88, 5.02, 4.93},
        .tension_n = {17, 18, 16, 19},
        .tension_share = 0.01,
        .range_m = 1.2,
        .tilt_x_rad = 0.06,
        .tilt_y_rad = -0.03,
    };
}

/* What a reading may be out of date by: accel age^2 / 2 + bound age, and by chance sigma age. */
Test(locate_reading, age_makes_slip_and_drift)
{
    struct locate_config cfg = room();
    struct locate_report r = report(BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH));
    struct locate_reading reading;
    r.quality[LOCATE_POSE].age_s = 0.3;
    r.quality[LOCATE_LENGTH].age_s = 0.1;
    locate_reading_take(&cfg, &r, (struct locate_velocity){.sigma_mps = 0.07, .bound_mps = 0.03}, &reading);
    cr_assert_eq(reading.newest_s, 0.1);
    cr_assert_eq(reading.older_s[LOCATE_LENGTH], 0);
    cr_assert_float_eq(reading.older_s[LOCATE_POSE], 0.2, 1e-15);
    cr_assert_float_eq(reading.slip_m[LOCATE_POSE], 0.5 * 0.2 * 0.2 / 2 + 0.03 * 0.2, 1e-15);
    cr_assert_float_eq(reading.drift_m[LOCATE_POSE], 0.07 * 0.2, 1e-15);
    cr_assert_eq(reading.slip_m[LOCATE_LENGTH], 0);
}

/* floor + (range + boom) cos(tilt); without tilt the middle of what it can be, and half the span as bias. */
Test(locate_reading, height_from_a_leaning_range)
{
    struct locate_config cfg = room();
    struct locate_report r = report(BIT(LOCATE_RANGE) | BIT(LOCATE_TILT));
    struct locate_reading reading;
    cfg.floor_m = 0.1;
    locate_reading_take(&cfg, &r, certain, &reading);
    cr_assert_float_eq(reading.height_m, 0.1 + 1.55 * cos(0.06) * cos(0.03), 1e-12);
    double aside = 1.55 * sqrt(0.06 * 0.06 + 0.03 * 0.03) * 0.01;
    cr_assert_float_eq(reading.sigma[LOCATE_TERM_RANGE], sqrt(0.004 * 0.004 + aside * aside), 1e-12);
    cr_assert_float_eq(reading.bias[LOCATE_TERM_RANGE], cfg.range_bias_m + 1.55 * 0.01 * 0.01, 1e-12);
    r.sources = BIT(LOCATE_RANGE);
    locate_reading_take(&cfg, &r, certain, &reading);
    double least = 0.1 + 1.55 * cos(cfg.tilt_rad), most = 0.1 + 1.55, half = (most - least) / 2;
    cr_assert_float_eq(reading.height_m, (least + most) / 2, 1e-12);
    cr_assert_float_eq(reading.bias[LOCATE_TERM_RANGE], cfg.range_bias_m + half, 1e-12);
}

Test(locate_reading, what_pulls_at_the_platform)
{
    struct locate_config cfg = room();
    struct locate_report r = report(BIT(LOCATE_TENSION) | BIT(LOCATE_TILT));
    struct locate_reading reading;
    locate_reading_take(&cfg, &r, certain, &reading);
    cr_assert_float_eq(reading.wrench.x, -15.7 * sin(0.06) * cos(0.06), 1e-12); /* it leans that way: so it pulls */
    cr_assert_float_eq(reading.wrench.y, 15.7 * sin(0.03) * cos(0.03), 1e-12);
    cr_assert_eq(reading.wrench.z, 23.5);
    cr_assert_float_eq(reading.sigma[LOCATE_TERM_WRENCH], 15.7 * 0.01, 1e-12);
    double moved = 23.5 / 9.80665 * 0.5, dip = 2 * (1 - cos(0.1));
    cr_assert_float_eq(reading.bias[LOCATE_TERM_WRENCH], moved + 15.7 * sqrt(2) * dip, 1e-12);
    cr_assert_float_eq(reading.sigma[LOCATE_TERM_TENSION + 1], sqrt(0.05 * 0.05 + 0.18 * 0.18), 1e-12);
    cr_assert_float_eq(reading.bias[LOCATE_TERM_TENSION + 1], 0.36, 1e-12);
    r.sources = BIT(LOCATE_TENSION);
    locate_reading_take(&cfg, &r, certain, &reading);
    cr_assert_eq(reading.wrench.x, 0);
    double aside = tan(0.1);
    cr_assert_float_eq(reading.bias[LOCATE_TERM_WRENCH], moved + 15.7 * sqrt(aside * aside + dip * dip), 1e-12);
}

static double cost_at(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 p,
                      const struct mat3 *keep)
{
    struct locate_model m;
    locate_model_at(cfg, reading, p, still, keep, &m);
    return m.cost;
}

/* The pull is minus half the gradient of the cost, and the information half its Hessian where residuals vanish. */
Test(locate_model, pull_and_information_are_the_costs_derivatives)
{
    struct locate_config cfg = room();
    struct locate_report r = report(BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH) | BIT(LOCATE_TENSION) | BIT(LOCATE_RANGE));
    struct locate_reading reading;
    struct locate_model m;
    const struct vec3 p = {4.0, 3.0, 1.5};
    const double h = 1e-5;
    locate_reading_take(&cfg, &r, certain, &reading);
    locate_model_at(&cfg, &reading, p, still, NULL, &m);
    cr_assert_eq(m.rows, 11);
    const struct vec3 axis[3] = {{h, 0, 0}, {0, h, 0}, {0, 0, h}};
    const double pull[3] = {m.total_pull.x, m.total_pull.y, m.total_pull.z};
    for (int k = 0; k < 3; k++) {
        double up = cost_at(&cfg, &reading, vec_add(p, axis[k]), &m.weight);
        double down = cost_at(&cfg, &reading, vec_sub(p, axis[k]), &m.weight);
        cr_assert_float_eq((down - up) / (4 * h) / pull[k], 1, 1e-5);
    }
    /* With readings that fit, the Hessian is the information alone. */
    for (int i = 0; i < 4; i++)
        reading.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], p));
    reading.position = p;
    reading.height_m = p.z;
    reading.sources &= ~BIT(LOCATE_TENSION);
    locate_model_at(&cfg, &reading, p, still, NULL, &m);
    for (int k = 0; k < 3; k++) {
        double up = cost_at(&cfg, &reading, vec_add(p, axis[k]), NULL);
        double down = cost_at(&cfg, &reading, vec_sub(p, axis[k]), NULL);
        cr_assert_float_eq((up + down - 2 * m.cost) / (2 * h * h) / m.total_info.m[k][k], 1, 1e-4);
    }
}

/* var = sigma^2 + drift^2 + bias^2 / 3, and a length's bias has its anchor's in it. */
Test(locate_model, a_weight_counts_noise_drift_and_bias)
{
    struct locate_config cfg = room();
    struct locate_report r = report(BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH) | BIT(LOCATE_RANGE));
    struct locate_reading reading;
    struct locate_model m;
    struct locate_term term[LOCATE_TERMS];
    r.quality[LOCATE_POSE].age_s = 0.1;
    locate_reading_take(&cfg, &r, (struct locate_velocity){.sigma_mps = 0.05}, &reading);
    locate_model_at(&cfg, &reading, (struct vec3){4, 3, 1.5}, still, NULL, &m);
    cr_assert_eq(locate_model_terms(&cfg, &reading, &m, term),
                 7u | 15u << LOCATE_TERM_LENGTH | 1u << LOCATE_TERM_RANGE);
    double bias = 0.002 + 0.5 * 0.01 / 2;
    cr_assert_float_eq(1 / term[0].weight, 0.003 * 0.003 + 0.005 * 0.005 + bias * bias / 3, 1e-12);
    cr_assert_float_eq(term[0].bias, bias, 1e-15);
    cr_assert_float_eq(1 / term[LOCATE_TERM_LENGTH + 2].weight, 0.002 * 0.002 + 0.002 * 0.002 / 3, 1e-12);
    cr_assert_float_eq(term[LOCATE_TERM_LENGTH + 2].bias, 0.002, 1e-15);
    cr_assert_eq(term[LOCATE_TERM_LENGTH + 2].sigma, 0.002);
}

/* An error of 1 in a term moves the least squares by spread x pull: made, and compared. */
Test(locate_model, a_terms_pull_is_what_it_does)
{
    struct locate_config cfg = room();
    struct bench_mix mix = {.name = "all",
                            .cords = 4,
                            .sources = BIT(LOCATE_POSE) | BIT(LOCATE_LENGTH) | BIT(LOCATE_TENSION) | BIT(LOCATE_RANGE),
                            .sigma = {0.003, 0.002, 0.05, 0.004, 0.01},
                            .every = 1};
    static struct bench b;
    bench_start(&b, &mix, &cfg, 9);
    bench_step(&b);
    struct locate_reading reading, off;
    struct locate_fix fix, moved;
    locate_reading_take(&cfg, &b.report, certain, &reading);
    locate_solve_cold(&cfg, &reading, &fix);
    cr_assert(fix.full);
    for (int id = 0; id < LOCATE_TERMS; id++) {
        const double by = 1e-5;
        if (!(fix.there & 1u << id))
            continue;
        off = reading;
        double *of[LOCATE_TERMS] = {&off.position.x, &off.position.y, &off.position.z};
        for (int i = 0; i < 4; i++) {
            of[LOCATE_TERM_LENGTH + i] = &off.length_m[i];
            of[LOCATE_TERM_TENSION + i] = &off.tension_n[i];
        }
        of[LOCATE_TERM_WRENCH] = &off.wrench.x;
        of[LOCATE_TERM_WRENCH + 1] = &off.wrench.y;
        of[LOCATE_TERM_WRENCH + 2] = &off.wrench.z;
        of[LOCATE_TERM_RANGE] = &off.height_m;
        bool wrench = locate_model_source(id) == LOCATE_TENSION && id >= LOCATE_TERM_WRENCH;
        *of[id] += wrench ? -by : by; /* more pull than is known of is as if less were needed */
        locate_solve_near(&cfg, &off, fix.position, still, &moved);
        struct vec3 made = vec_scale(vec_sub(moved.position, fix.position), 1 / by);
        struct vec3 said = mat3_apply(&fix.spread, fix.term[id].pull);
        cr_assert_leq(vec_norm(vec_sub(made, said)), 0.03 * vec_norm(said) + 1e-4, "%d: %g of %g", id, vec_norm(made),
                      vec_norm(said));
    }
}

/* The tensions' weight belongs to the place that was found, not to where the search began. */
Test(locate_model, a_fix_is_linearised_where_it_is)
{
    struct locate_config cfg = room();
    struct locate_report r = report(BIT(LOCATE_TENSION) | BIT(LOCATE_LENGTH));
    struct locate_reading reading;
    struct locate_fix fix;
    struct locate_model here;
    for (int i = 0; i < 4; i++)
        r.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], (struct vec3){2.5, 2, 1.2}));
    locate_reading_take(&cfg, &r, certain, &reading);
    locate_solve_near(&cfg, &reading, (struct vec3){5, 4, 1.5}, still, &fix);
    cr_assert(fix.full);
    locate_model_at(&cfg, &reading, fix.position, still, NULL, &here);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            cr_assert_eq(fix.model.weight.m[i][j], here.weight.m[i][j]);
            cr_assert_eq(fix.model.total_info.m[i][j], here.total_info.m[i][j]);
        }
}

/* Right below level anchors lengths say next to nothing about the height: that is no fix. */
Test(locate_model, a_fix_that_is_too_vague_is_none)
{
    struct bench_mix mix = {.cords = 4, .level = true};
    struct locate_config cfg = bench_config(&mix, 0);
    struct locate_report r = report(BIT(LOCATE_LENGTH));
    struct locate_reading reading;
    struct locate_fix fix;
    for (int n = 0; n < 2; n++) {
        struct vec3 p = {4, 3, n == 0 ? 2.0 : 3.0998};
        for (int i = 0; i < 4; i++)
            r.length_m[i] = vec_norm(vec_sub(cfg.anchor[i], p));
        locate_reading_take(&cfg, &r, certain, &reading);
        locate_solve_near(&cfg, &reading, p, still, &fix);
        cr_assert_eq(fix.full, n == 0);
        cr_assert_leq(vec_norm(vec_sub(fix.position, p)), 1e-6);
    }
}
