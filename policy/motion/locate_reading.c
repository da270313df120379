/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/locate_reading.h"

#include "policy/motion/units.h"

static bool value_valid(double v)
{
    return v >= -SHAPE_FAR_M && v <= SHAPE_FAR_M; /* false for NaN */
}

static bool measure_valid(double v)
{
    return v >= 0 && v <= SHAPE_FAR_M;
}

static bool quality_valid(const struct locate_quality *q)
{
    return q->sigma >= 0 && isfinite(q->sigma) && q->age_s >= 0 && isfinite(q->age_s);
}

/* The first cord whose value cannot be, cords if there is none. A load cell at rest may read a little below zero. */
static int first_bad(int cords, const double value[], double lowest)
{
    int i = 0;
    while (i < cords && value[i] >= lowest && value[i] <= SHAPE_FAR_M)
        i++;
    return i;
}

static bool cords_valid(const struct locate_config *cfg, const double value[], double lowest, int *bad_cord)
{
    int bad = first_bad(cfg->cords, value, lowest);
    if (bad < cfg->cords && *bad_cord < 0)
        *bad_cord = bad;
    return bad == cfg->cords && cfg->cords > 0;
}

static bool values_valid(const struct locate_config *cfg, const struct locate_report *r, unsigned source, int *bad_cord)
{
    switch (source) {
    case LOCATE_POSE:
        return value_valid(r->position.x) && value_valid(r->position.y) && value_valid(r->position.z);
    case LOCATE_LENGTH:
        return cords_valid(cfg, r->length_m, 0, bad_cord);
    case LOCATE_TENSION:
        return measure_valid(r->tension_share) && cords_valid(cfg, r->tension_n, -SHAPE_FAR_M, bad_cord);
    case LOCATE_RANGE:
        return measure_valid(r->range_m);
    default: /* tilt */
        return fabs(r->tilt_x_rad) <= 1.5 && fabs(r->tilt_y_rad) <= 1.5;
    }
}

/* Sources that can be used, with the ones that are refused set aside. Tilt is among them here. */
static unsigned usable(const struct locate_config *cfg, const struct locate_report *r, struct locate_reading *reading)
{
    unsigned use = 0;
    for (unsigned s = 0; s < LOCATE_SOURCES; s++) {
        const struct locate_quality *q = &r->quality[s];
        if (!(r->sources & locate_bit(s)))
            continue;
        if (!quality_valid(q) || !values_valid(cfg, r, s, &reading->refused_cord))
            reading->refused |= locate_bit(s);
        else if (q->sigma <= LOCATE_SIGMA_MAX && q->age_s <= cfg->age_max_s)
            use |= locate_bit(s);
    }
    if (!(cfg->weight_n > 0) || cfg->cords < 3) /* fewer cannot hold it in balance for all to see */
        use &= ~locate_bit(LOCATE_TENSION);
    return use;
}

static void take_ages(const struct locate_config *cfg, const struct locate_report *r, struct locate_velocity known,
                      struct locate_reading *reading)
{
    double newest = cfg->age_max_s;
    for (unsigned s = 0; s < LOCATE_PLACING; s++)
        if (reading->sources & locate_bit(s))
            newest = lesser(newest, r->quality[s].age_s);
    reading->newest_s = newest;
    for (unsigned s = 0; s < LOCATE_PLACING; s++) {
        double older = reading->sources & locate_bit(s) ? r->quality[s].age_s - newest : 0;
        reading->older_s[s] = older;
        reading->slip_m[s] = (cfg->accel_mps2 * older / 2 + known.bound_mps) * older;
        reading->drift_m[s] = known.sigma_mps * older;
    }
}

static void set_terms(struct locate_reading *reading, int first, int count, double sigma, double bias)
{
    for (int i = first; i < first + count; i++) {
        reading->sigma[i] = greater(sigma, LOCATE_SIGMA_MIN);
        reading->bias[i] = bias;
    }
}

static void take_cords(const struct locate_config *cfg, const struct locate_report *r, struct locate_reading *reading)
{
    bool felt = reading->sources & locate_bit(LOCATE_TENSION);
    for (int i = 0; i < cfg->cords; i++) {
        double t = felt ? r->tension_n[i] : 0;
        double noise = r->quality[LOCATE_TENSION].sigma, share = r->tension_share * t;
        reading->length_m[i] = reading->sources & locate_bit(LOCATE_LENGTH) ? r->length_m[i] : 0;
        reading->tension_n[i] = t;
        if (!felt || t >= cfg->slack_n)
            reading->taut |= 1u << i;
        if (felt)
            set_terms(reading, LOCATE_TERM_TENSION + i, 1, sqrt(noise * noise + share * share),
                      cfg->tension_bias_share * fabs(t));
    }
    if (reading->sources & locate_bit(LOCATE_LENGTH))
        set_terms(reading, LOCATE_TERM_LENGTH, cfg->cords, r->quality[LOCATE_LENGTH].sigma, cfg->length_bias_m);
}

/* What else pulls at the platform: the weight, the body as it leans, what moves it. */
static void take_wrench(const struct locate_config *cfg, const struct locate_report *r, bool leans,
                        struct locate_reading *reading)
{
    double body = cfg->body_n, dip = 2 * (1 - cos(cfg->tilt_rad)), sigma = 0, aside = tan(cfg->tilt_rad);
    reading->wrench = (struct vec3){0, 0, cfg->weight_n};
    if (leans) {
        double x = sin(r->tilt_x_rad), y = sin(r->tilt_y_rad);
        reading->wrench.x = -body * x * cos(r->tilt_x_rad);
        reading->wrench.y = -body * y * cos(r->tilt_y_rad);
        sigma = body * r->quality[LOCATE_TILT].sigma;
        aside = dip;
    }
    double moved = cfg->weight_n / UNITS_GRAVITY_MPS2 * cfg->accel_mps2;
    set_terms(reading, LOCATE_TERM_WRENCH, 3, sigma, moved + body * sqrt(aside * aside + dip * dip));
}

static void take_height(const struct locate_config *cfg, const struct locate_report *r, bool leans,
                        struct locate_reading *reading)
{
    double slant = r->range_m + cfg->boom_m, sigma = r->quality[LOCATE_RANGE].sigma;
    double least = cos(cfg->tilt_rad), down = (1 + least) / 2, bias = slant * (1 - least) / 2;
    if (leans) {
        double noise = r->quality[LOCATE_TILT].sigma;
        double aside = sqrt(r->tilt_x_rad * r->tilt_x_rad + r->tilt_y_rad * r->tilt_y_rad);
        down = cos(r->tilt_x_rad) * cos(r->tilt_y_rad);
        bias = slant * noise * noise; /* the second order of both angles */
        sigma = sqrt(sigma * sigma + slant * slant * aside * aside * noise * noise);
    }
    reading->height_m = cfg->floor_m + slant * down;
    set_terms(reading, LOCATE_TERM_RANGE, 1, sigma, cfg->range_bias_m + bias);
}

void locate_reading_take(const struct locate_config *cfg, const struct locate_report *report,
                         struct locate_velocity known, struct locate_reading *reading)
{
    *reading = (struct locate_reading){.refused_cord = -1};
    unsigned use = usable(cfg, report, reading);
    bool leans = use & locate_bit(LOCATE_TILT);
    reading->sources = use & ~locate_bit(LOCATE_TILT);
    take_ages(cfg, report, known, reading);
    take_cords(cfg, report, reading);
    if (reading->sources & locate_bit(LOCATE_POSE)) {
        reading->position = report->position;
        set_terms(reading, LOCATE_TERM_POSE, 3, report->quality[LOCATE_POSE].sigma, cfg->pose_bias_m);
    }
    if (reading->sources & locate_bit(LOCATE_TENSION))
        take_wrench(cfg, report, leans, reading);
    if (reading->sources & locate_bit(LOCATE_RANGE))
        take_height(cfg, report, leans, reading);
}
