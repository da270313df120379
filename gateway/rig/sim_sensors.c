/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_sensors.h"

#include <string.h>

#define VELOCITY_NOISE 5.0 /* 1/s: a velocity from positions with the pose's noise, over a quarter of a second */

_Static_assert((int)SHOW_SOURCES == (int)WIRE_SOURCES && (int)SHOW_SUBJECT == (int)WIRE_SUBJECT,
               "the show's sources are the wire's");

void sim_sensors_init(const struct sim_sensors_config *cfg, struct sim_sensors *s, uint64_t seed)
{
    memset(s, 0, sizeof *s);
    for (int source = 0; source <= WIRE_SOURCES; source++)
        s->noise[source].state = seed + 0x10001u * (uint64_t)source;
    for (int source = 0; source < WIRE_SOURCES; source++)
        for (int i = 0; i < cfg->values[source]; i++) {
            double drawn = sim_noise_uniform(&s->noise[source]) - 0.5;
            s->lean[source][i] = drawn + (drawn < 0 ? -0.5 : 0.5);
        }
}

/* The truth of age_s ago, or the oldest there is. */
static void look_back(const struct sim_sensors_config *cfg, const struct sim_sensors *s, int source, double age_s,
                      double out[])
{
    double most = s->taken < SIM_SENSORS_PAST ? s->taken - 1 : SIM_SENSORS_PAST - 1;
    double sets = fmin(fmax(age_s, 0) / cfg->period_s, most);
    unsigned whole = (unsigned)sets, older = whole < (unsigned)most ? whole + 1 : whole;
    const double *a = s->past[(s->taken - 1 - whole) % SIM_SENSORS_PAST].value[source];
    const double *b = s->past[(s->taken - 1 - older) % SIM_SENSORS_PAST].value[source];
    for (int i = 0; i < cfg->values[source]; i++)
        out[i] = a[i] + (b[i] - a[i]) * (sets - whole);
}

/* What a bias of its full size adds. The pose's bound is that of the vector; a velocity made from positions has none.
 */
static double bias_of(const struct show_sensor *sensor, int source, int i, double truth)
{
    if (source == WIRE_POSE)
        return i < 3 ? sensor->bias / sqrt(3) : 0;
    return source == WIRE_TENSION ? sensor->bias * truth : sensor->bias;
}

static double sigma_of(const struct show_sensor *sensor, int source, int i, double truth)
{
    double sigma = source == WIRE_POSE && i >= 3 ? VELOCITY_NOISE * sensor->sigma : sensor->sigma;
    return hypot(sigma, sensor->share * truth);
}

static void read_source(const struct sim_sensors_config *cfg, struct sim_sensors *s, const struct sim_sensor_fault *f,
                        int source)
{
    const struct show_sensor *sensor = &cfg->sensor[source];
    double truth[SIM_FAULTS_VALUES] = {0};
    look_back(cfg, s, source, sensor->age_s + fmin(f->age_s, SIM_FAULTS_AGE_S), truth);
    for (int i = 0; i < cfg->values[source]; i++) {
        double noise = fmax(0, 1 + f->noise) * sigma_of(sensor, source, i, truth[i]);
        double bias = (1 + f->bias) * bias_of(sensor, source, i, truth[i]);
        double drawn = sim_noise_normal(&s->noise[source], noise);
        if (!f->frozen)
            s->said[source][i] = truth[i] + bias * s->lean[source][i] + f->offset[i] + drawn;
    }
}

/* What a reading's error stays within, but for one in 370: three sigma, and the bias. */
static double within(const struct show_sensor *sensor)
{
    return 3 * sensor->sigma + sensor->bias;
}

static struct vec3 vector(const double v[])
{
    return (struct vec3){v[0], v[1], v[2]};
}

static void tell(const struct sim_sensors_config *cfg, const struct sim_sensors *s, int source, struct sim_sensed *out)
{
    const struct show_sensor *sensor = &cfg->sensor[source];
    const double *said = s->said[source];
    size_t cords = (size_t)cfg->values[WIRE_LENGTH] * sizeof *said;
    switch ((enum wire_source)source) {
    case WIRE_POSE:
        out->position = vector(said);
        out->velocity = vector(said + 3);
        out->uncertainty_m = within(sensor);
        break;
    case WIRE_LENGTH:
        memcpy(out->length_m, said, cords);
        break;
    case WIRE_TENSION:
        memcpy(out->tension_n, said, cords);
        break;
    case WIRE_RANGE:
        out->range_m = said[0];
        break;
    case WIRE_TILT:
        memcpy(out->tilt_rad, said, sizeof out->tilt_rad);
        break;
    case WIRE_YAW:
        out->yaw_rad = said[0];
        out->yaw_off_rad = within(sensor);
        break;
    case WIRE_HEAD:
        memcpy(out->head, said, sizeof out->head);
        break;
    case WIRE_SUBJECT:
        out->subject = vector(said);
        out->subject_age_s = sensor->age_s;
        break;
    case WIRE_SOURCES:
        break;
    }
}

void sim_sensors_read(const struct sim_sensors_config *cfg, struct sim_sensors *s, const struct sim_faults *faults,
                      const struct sim_truths *truth, struct sim_sensed *out)
{
    memset(out, 0, sizeof *out);
    s->past[s->taken++ % SIM_SENSORS_PAST] = *truth;
    for (int source = 0; source < WIRE_SOURCES; source++) {
        if (!cfg->sensor[source].there)
            continue;
        read_source(cfg, s, &faults->sensor[source], source);
        if (faults->sensor[source].silent)
            continue;
        out->sources |= 1u << source;
        tell(cfg, s, source, out);
    }
    double swing = fmax(0, 1 + faults->swing_noise) * cfg->swing_sigma_rad;
    out->swing_rad = fabs(truth->swing_rad + sim_noise_normal(&s->noise[WIRE_SOURCES], swing));
}
