/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What each mode allows, beside what each lane may do and the stage: a mode only ever tightens, but for the floor of
 * low flight, which may be below that of the show. */
#include <math.h>

#include "gateway/show/check.h"
#include "gateway/show/place.h"

/* The more of two; not there if either is not. */
static double more(double a, double b)
{
    return isnan(a) || isnan(b) ? NAN : fmax(a, b);
}

static void no_looser(int mode, const char *key, const char *unit, double value, double lanes, struct faults *faults)
{
    char at[PLACE_POINTER];
    snprintf(at, sizeof at, "/limits/%s/%s", limits_mode_name((enum limits_mode)mode), key);
    if (value > lanes)
        faults_error(faults, at,
                     "expected no more than any lane may do (%g %s), found %g %s. Hint: a mode can only tighten; leave "
                     "it out where it does not.",
                     lanes, unit, value, unit);
}

static void in_stage(const struct layout_draft *d, int mode, struct faults *faults)
{
    const struct layout_limits *m = &d->mode[mode];
    double floor_m = d->stage.floor_m, ceiling_m = d->stage.ceiling_m;
    char at[PLACE_POINTER];
    for (uint32_t i = 0; i < d->extensions; i++) {
        floor_m = fmin(floor_m, d->extension[i].floor_m);
        ceiling_m = fmax(ceiling_m, d->extension[i].ceiling_m);
    }
    if (ceiling_m <= floor_m) /* told already */
        return;
    snprintf(at, sizeof at, "/limits/%s/floor_m", limits_mode_name((enum limits_mode)mode));
    if (m->floor_m < floor_m)
        faults_error(
            faults, at,
            "expected a height of at least the floor of the stage (%g m), found %g m. Hint: /room/stage/floor_m "
            "is the lowest that the rig ever gets, whoever holds what; lower that first.",
            floor_m, m->floor_m);
    snprintf(at, sizeof at, "/limits/%s/ceiling_m", limits_mode_name((enum limits_mode)mode));
    if (m->ceiling_m > ceiling_m)
        faults_error(faults, at,
                     "expected a height of at most the ceiling of the stage (%g m), found %g m. Hint: a mode can only "
                     "tighten; leave it out where it does not.",
                     ceiling_m, m->ceiling_m);
    if (m->ceiling_m <= fmax(m->floor_m, floor_m) || fmin(m->ceiling_m, ceiling_m) <= m->floor_m)
        faults_error(faults, at,
                     "expected a ceiling above the floor, found no height left between them. Hint: both are those of "
                     "body and boom, in this mode and on the stage.");
}

/* Low flight is what a spotter's hold opens; it should open something. */
static void low_is_lower(const struct layout_draft *d, struct faults *faults)
{
    const struct layout_limits *show = &d->mode[LIMITS_SHOW], *low = &d->mode[LIMITS_LOW];
    double show_floor = isnan(show->floor_m) ? d->stage.floor_m : show->floor_m;
    double low_floor = isnan(low->floor_m) ? d->stage.floor_m : low->floor_m;
    bool yields = false;
    for (uint32_t i = 0; i < d->keepouts; i++)
        yields |= d->keepout[i].yields;
    if (low_floor > show_floor)
        faults_error(
            faults, "/limits/low/floor_m",
            "expected at most the floor of the show (%g m), found %g m. Hint: low flight is what a spotter who "
            "holds the enabling device allows on top.",
            show_floor, low_floor);
    else if (low->given && !yields && low_floor >= show_floor)
        faults_warn(
            faults, "/limits/low",
            "nothing is lower in low flight: a spotter's hold would change nothing. Give /limits/show a floor_m "
            "above that of the stage, or let a keep-out yield.");
}

/* What gives way to a spotter's hold needs one to be there for. */
static void yields_to_somebody(const struct layout_draft *d, struct faults *faults)
{
    char at[PLACE_POINTER];
    for (uint32_t i = 0; i < d->keepouts && !d->mode[LIMITS_LOW].given; i++) {
        snprintf(at, sizeof at, "/room/keep_outs/%u/yields", i);
        if (d->keepout[i].yields)
            faults_error(
                faults, at,
                "expected /limits/low beside it, found none. Hint: a keep-out gives way in low flight, while a "
                "spotter holds the enabling device; without \"low\" there is no such thing.");
    }
}

void check_modes(const struct layout_draft *draft, struct faults *faults)
{
    const struct layout_limits *op = &draft->operator;
    const struct layout_limits *au = &draft->audience;
    for (int i = 0; i < LIMITS_MODES; i++) {
        const struct layout_limits *m = &draft->mode[i];
        if (!m->given)
            continue;
        no_looser(i, "speed_mps", "m/s", m->speed_mps, more(op->speed_mps, au->speed_mps), faults);
        no_looser(i, "accel_mps2", "m/s2", m->accel_mps2, more(op->accel_mps2, au->accel_mps2), faults);
        no_looser(i, "jerk_mps3", "m/s3", m->jerk_mps3, more(op->jerk_mps3, au->jerk_mps3), faults);
        in_stage(draft, i, faults);
    }
    low_is_lower(draft, faults);
    yields_to_somebody(draft, faults);
}
