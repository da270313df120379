/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <stdlib.h>

#include "gateway/rig/sim_sensors.h"

#define PERIOD_S 0.01

struct bench {
    struct sim_sensors_config cfg;
    struct sim_sensors s;
    struct sim_faults faults;
    struct sim_truths truth;
    struct sim_sensed said;
};

/* All sources, and none with an error. */
static struct bench *begin(void)
{
    static const int values[WIRE_SOURCES] = {6, 4, 4, 1, 2, 1, 4, 3};
    struct bench *b = calloc(1, sizeof *b);
    cr_assert(b);
    b->cfg.period_s = PERIOD_S;
    for (int source = 0; source < WIRE_SOURCES; source++) {
        b->cfg.sensor[source].there = true;
        b->cfg.values[source] = values[source];
        for (int i = 0; i < values[source]; i++)
            b->truth.value[source][i] = 1 + source + 0.1 * i;
    }
    return b;
}

static void start(struct bench *b)
{
    sim_sensors_init(&b->cfg, &b->s, 77);
}

static const struct sim_sensed *reading(struct bench *b)
{
    sim_sensors_read(&b->cfg, &b->s, &b->faults, &b->truth, &b->said);
    return &b->said;
}

Test(sensors, without_errors_say_the_truth)
{
    struct bench *b = begin();
    start(b);
    const struct sim_sensed *r = reading(b);
    cr_assert_eq(r->sources, (1u << WIRE_SOURCES) - 1);
    cr_assert(r->position.x == 1 && r->position.y == 1.1 && r->position.z == 1.2);
    cr_assert(r->velocity.x == 1 + 0.1 * 3 && r->velocity.z == 1 + 0.1 * 5);
    cr_assert(r->length_m[3] == 2 + 0.1 * 3 && r->length_m[4] == 0);
    cr_assert(r->tension_n[0] == 3 && r->tension_n[3] == 3 + 0.1 * 3);
    cr_assert(r->range_m == 4 && r->tilt_rad[0] == 5 && r->tilt_rad[1] == 5.1);
    cr_assert(r->yaw_rad == 6 && r->yaw_off_rad == 0);
    cr_assert(r->head[0] == 7 && r->head[3] == 7 + 0.1 * 3);
    cr_assert(r->subject.x == 8 && r->subject.z == 8.2 && r->subject_age_s == 0);
    cr_assert(r->uncertainty_m == 0 && r->swing_rad == 0);
    free(b);
}

Test(sensors, a_source_that_is_not_there_says_nothing)
{
    struct bench *b = begin();
    b->cfg.sensor[WIRE_TILT].there = false;
    start(b);
    b->faults.sensor[WIRE_YAW].silent = true;
    const struct sim_sensed *r = reading(b);
    cr_assert_eq(r->sources, ((1u << WIRE_SOURCES) - 1) & ~(1u << WIRE_TILT) & ~(1u << WIRE_YAW));
    cr_assert(r->tilt_rad[0] == 0 && r->tilt_rad[1] == 0 && r->yaw_rad == 0);
    b->faults.sensor[WIRE_YAW].silent = false;
    cr_assert_eq(reading(b)->yaw_rad, 6);
    free(b);
}

/* Standard deviation about the truth of the first pose reading, and of the fourth: a velocity. */
static void spread(struct bench *b, double *place, double *speed)
{
    enum { READINGS = 4000 };
    double p = 0, v = 0;
    for (int i = 0; i < READINGS; i++) {
        const struct sim_sensed *r = reading(b);
        double dp = r->position.x - b->truth.value[WIRE_POSE][0], dv = r->velocity.x - b->truth.value[WIRE_POSE][3];
        p += dp * dp;
        v += dv * dv;
    }
    *place = sqrt(p / READINGS);
    *speed = sqrt(v / READINGS);
}

Test(sensors, noise_is_as_wide_as_the_show_says_and_so_many_times_wider_as_the_fault_says)
{
    struct bench *b = begin();
    double place, speed;
    b->cfg.sensor[WIRE_POSE].sigma = 0.004;
    start(b);
    spread(b, &place, &speed);
    cr_assert_float_eq(place, 0.004, 0.0002, "%g", place);
    cr_assert_float_eq(speed, 0.02, 0.001, "%g", speed);
    cr_assert_float_eq(b->said.uncertainty_m, 0.012, 1e-12);
    b->faults.sensor[WIRE_POSE].noise = 4;
    spread(b, &place, &speed);
    cr_assert_float_eq(place, 0.02, 0.001, "%g", place);
    cr_assert_float_eq(b->said.uncertainty_m, 0.012, 1e-12); /* it does not know that it is worse */
    b->faults.sensor[WIRE_POSE].noise = -1;
    spread(b, &place, &speed);
    cr_assert_eq(place, 0);
    free(b);
}

Test(sensors, a_tensions_noise_grows_with_it)
{
    struct bench *b = begin();
    double sum = 0;
    b->cfg.sensor[WIRE_TENSION] = (struct show_sensor){.there = true, .sigma = 0.3, .share = 0.02};
    start(b);
    b->truth.value[WIRE_TENSION][2] = 20;
    for (int i = 0; i < 4000; i++) {
        double d = reading(b)->tension_n[2] - 20;
        sum += d * d;
    }
    cr_assert_float_eq(sqrt(sum / 4000), 0.5, 0.025); /* hypot(0.3, 0.02 x 20) */
    free(b);
}

Test(sensors, a_bias_stays_and_is_between_half_its_bound_and_all_of_it)
{
    struct bench *b = begin();
    b->cfg.sensor[WIRE_LENGTH].bias = 0.02;
    b->cfg.sensor[WIRE_TENSION].bias = 0.05; /* a share */
    b->cfg.sensor[WIRE_POSE].bias = 0.03;
    for (uint64_t seed = 1; seed < 40; seed++) {
        sim_sensors_init(&b->cfg, &b->s, seed);
        struct sim_sensed first = *reading(b);
        for (int i = 0; i < 4; i++) {
            double off = fabs(first.length_m[i] - b->truth.value[WIRE_LENGTH][i]);
            double part = fabs(first.tension_n[i] / b->truth.value[WIRE_TENSION][i] - 1);
            cr_assert(off >= 0.01 - 1e-12 && off <= 0.02 + 1e-12, "%g", off);
            cr_assert(part >= 0.025 - 1e-12 && part <= 0.05 + 1e-12, "%g", part);
        }
        struct vec3 off = vec_sub(first.position, (struct vec3){1, 1.1, 1.2});
        cr_assert(vec_norm(off) >= 0.015 - 1e-12 && vec_norm(off) <= 0.03 + 1e-12);
        cr_assert_eq(first.velocity.y, b->truth.value[WIRE_POSE][4]);
        cr_assert_eq(reading(b)->length_m[1], first.length_m[1]);
        b->faults.sensor[WIRE_LENGTH].bias = 2;
        double more = reading(b)->length_m[1] - b->truth.value[WIRE_LENGTH][1];
        cr_assert_float_eq(more, 3 * (first.length_m[1] - b->truth.value[WIRE_LENGTH][1]), 1e-12);
        b->faults.sensor[WIRE_LENGTH].bias = 0;
    }
    free(b);
}

/* The truth falls by 1 m/s; a reading of 25 ms ago is that much higher, between two sets too. */
Test(sensors, a_reading_is_as_old_as_it_is)
{
    struct bench *b = begin();
    b->cfg.sensor[WIRE_RANGE].age_s = 0.025;
    b->cfg.sensor[WIRE_SUBJECT].age_s = 0.2;
    start(b);
    for (int i = 0; i < 100; i++) {
        b->truth.value[WIRE_RANGE][0] = 50 - i * PERIOD_S;
        const struct sim_sensed *r = reading(b);
        double age = fmin(0.025, i * PERIOD_S); /* nothing is older than the first */
        cr_assert_float_eq(r->range_m, 50 - i * PERIOD_S + age, 1e-12, "%d", i);
        cr_assert_eq(r->subject_age_s, 0.2);
    }
    b->faults.sensor[WIRE_RANGE].age_s = 0.3;
    double older = reading(b)->range_m - b->truth.value[WIRE_RANGE][0];
    cr_assert_float_eq(older, 0.325 - PERIOD_S, 1e-12); /* the truth stood still for one set */
    b->faults.sensor[WIRE_RANGE].age_s = 1e9;           /* as far back as it goes */
    older = reading(b)->range_m - b->truth.value[WIRE_RANGE][0];
    cr_assert_float_eq(older, SIM_FAULTS_AGE_S + 0.025 - 2 * PERIOD_S, 1e-12);
    free(b);
}

Test(sensors, a_frozen_one_says_what_it_last_said_and_the_others_go_on)
{
    struct bench *b = begin();
    b->cfg.sensor[WIRE_LENGTH].sigma = b->cfg.sensor[WIRE_POSE].sigma = 0.01;
    start(b);
    struct sim_sensed before = *reading(b);
    b->faults.sensor[WIRE_LENGTH].frozen = true;
    for (int i = 0; i < 20; i++) {
        b->truth.value[WIRE_LENGTH][0] += 1;
        struct vec3 last = b->said.position;
        cr_assert(reading(b)->length_m[0] == before.length_m[0]);
        cr_assert_neq(b->said.position.x, last.x);
    }
    b->faults.sensor[WIRE_LENGTH].frozen = false;
    double thawed = reading(b)->length_m[0];
    cr_assert_float_eq(thawed, before.length_m[0] + 20, 0.1);
    free(b);
}

Test(sensors, an_offset_is_added_to_each_reading_as_given)
{
    struct bench *b = begin();
    start(b);
    b->faults.sensor[WIRE_POSE].offset[1] = 0.5;
    b->faults.sensor[WIRE_TENSION].offset[3] = -2;
    const struct sim_sensed *r = reading(b);
    cr_assert(r->position.x == 1 && r->position.y == 1.1 + 0.5 && r->tension_n[3] == 3 + 0.1 * 3 - 2);
    free(b);
}

Test(sensors, one_seed_one_run_whatever_else_is_wrong)
{
    struct bench *a = begin(), *b = begin();
    a->cfg.sensor[WIRE_POSE].sigma = b->cfg.sensor[WIRE_POSE].sigma = 0.01;
    b->cfg.sensor[WIRE_YAW].sigma = 0.3;
    start(a);
    start(b);
    b->faults.sensor[WIRE_LENGTH].frozen = b->faults.sensor[WIRE_HEAD].silent = true;
    b->faults.sensor[WIRE_RANGE].noise = 3;
    for (int i = 0; i < 50; i++)
        cr_assert(reading(a)->position.z == reading(b)->position.z);
    cr_assert_neq(a->said.yaw_rad, b->said.yaw_rad);
    free(a);
    free(b);
}

Test(sensors, swing_is_an_amplitude_however_noisy)
{
    struct bench *b = begin();
    b->cfg.swing_sigma_rad = 0.01;
    start(b);
    b->truth.swing_rad = 0.001;
    double most = 0, worst = 0;
    for (int i = 0; i < 500; i++) {
        double swing = reading(b)->swing_rad;
        cr_assert_geq(swing, 0);
        most = fmax(most, swing);
    }
    b->faults.swing_noise = 9;
    for (int i = 0; i < 500; i++)
        worst = fmax(worst, reading(b)->swing_rad);
    cr_assert(most > 0.02 && most < 0.05 && worst > 0.2 && worst < 0.5);
    free(b);
}
