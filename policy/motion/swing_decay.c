/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing_decay.h"

#include <assert.h>
#include <math.h>

#include "policy/motion/units.h"
#include "policy/motion/vec.h"

#define CROSSING_SHARE    0.3  /* of a half swing's peak: so far on both sides, and it has crossed */
#define COARSEST          4.0  /* samples a half swing */
#define UNEXPLAINED_SHARE 0.25 /* of the swing */
#define GROWTH_ALLOWED    1e-3 /* decrement below 0 by so much, and by 3 sigma, is none */
#define STEADY_SHARE      1e-9 /* the rest position moves by less of the amplitude: nothing changes any more */

enum { ROUNDS = 12, MOST_CROSSINGS = SWING_DECAY_HALVES_MAX + 1 };

/* The record as one number a sample: along the direction in which it swings, from where it hangs. */
struct line {
    const struct swing_decay_record *record;
    double along_x, along_y;
    struct swing_tilt zero;
};

/* Times in samples. crossings = halves + 1. */
struct halves {
    int count;
    double crossing[MOST_CROSSINGS];
    double size[MOST_CROSSINGS]; /* of the half swing after the crossing; the last again after the last */
};

struct slope {
    double value, sigma;
};

static const char *const texts[] = {
    [SWING_DECAY_OK] = "the swing's frequency and damping are known",
    [SWING_DECAY_BAD_RECORD] = ("the recording needs 24 samples to a million, an even spacing above 0 and a noise "
                                "floor above 0: check how it was made"),
    [SWING_DECAY_BAD_SAMPLE] = "a tilt in the recording is no number or beyond a quarter turn: check the sensor",
    [SWING_DECAY_TOO_SHORT] = ("fewer than two whole swings rise above the noise: step harder or record longer"),
    [SWING_DECAY_TOO_COARSE] = "a swing has fewer than eight samples: sample faster",
    [SWING_DECAY_GROWS] = "the swing does not die away: hold the rig at rest while recording",
    [SWING_DECAY_TOO_DAMPED] = "the swing dies away too fast for a shaper to be of use: shape nothing",
    [SWING_DECAY_UNEXPLAINED] = ("the recording is not one decaying swing: hold the rig at rest, keep drafts and hands "
                                 "off, and check that the body is stiff on its boom"),
};
static_assert(sizeof texts / sizeof *texts == SWING_DECAY_VERDICTS, "every verdict has its text");

const char *swing_decay_text(enum swing_decay_verdict verdict)
{
    return (unsigned)verdict < SWING_DECAY_VERDICTS ? texts[verdict] : "unknown";
}

static enum swing_decay_verdict check(const struct swing_decay_record *r)
{
    if (!r->tilt || r->count < SWING_DECAY_SAMPLES_MIN || r->count > SWING_DECAY_SAMPLES_MAX || !(r->dt_s > 0) ||
        !isfinite(r->dt_s) || !(r->floor_rad > 0) || !isfinite(r->floor_rad))
        return SWING_DECAY_BAD_RECORD;
    for (int i = 0; i < r->count; i++) {
        if (!(fabs(r->tilt[i].x_rad) < UNITS_HALF_TURN / 2 && fabs(r->tilt[i].y_rad) < UNITS_HALF_TURN / 2))
            return SWING_DECAY_BAD_SAMPLE;
    }
    return SWING_DECAY_OK;
}

/* The principal axis of the samples through their mean. */
static struct line line_through(const struct swing_decay_record *r)
{
    double x = 0, y = 0, xx = 0, xy = 0, yy = 0;
    for (int i = 0; i < r->count; i++) {
        x += r->tilt[i].x_rad / r->count;
        y += r->tilt[i].y_rad / r->count;
    }
    for (int i = 0; i < r->count; i++) {
        double dx = r->tilt[i].x_rad - x, dy = r->tilt[i].y_rad - y;
        xx += dx * dx;
        xy += dx * dy;
        yy += dy * dy;
    }
    double angle = atan2(2 * xy, xx - yy) / 2;
    return (struct line){.record = r, .along_x = cos(angle), .along_y = sin(angle), .zero = {x, y}};
}

static double at(const struct line *line, int i)
{
    const struct swing_tilt *tilt = &line->record->tilt[i];
    return (tilt->x_rad - line->zero.x_rad) * line->along_x + (tilt->y_rad - line->zero.y_rad) * line->along_y;
}

/* Where the straight line through samples first..last is zero. */
static double crossing_between(const struct line *line, int first, int last)
{
    double middle = (first + last) / 2.0, mean = 0, rise = 0, spread = 0;
    for (int i = first; i <= last; i++) {
        mean += at(line, i) / (last - first + 1);
        rise += (i - middle) * at(line, i);
        spread += (i - middle) * (i - middle);
    }
    double t = middle - mean * spread / rise;
    return fmin(fmax(t, first), last);
}

/* Area from one crossing to the next, by trapezoids and a triangle at both ends. */
static double area(const struct line *line, double from, double to)
{
    int first = (int)floor(from) + 1, last = (int)ceil(to) - 1;
    if (first > last)
        return 0;
    double sum = 0;
    for (int i = first; i <= last; i++)
        sum += at(line, i);
    double head = (first - from - 1) / 2 * at(line, first), tail = (to - last - 1) / 2 * at(line, last);
    return fabs(sum + head + tail);
}

/* The first sample that is clearly on one side. */
static int first_high(const struct line *line)
{
    double most = 0;
    int i = 0;
    for (int k = 0; k < line->record->count; k++)
        most = fmax(most, fabs(at(line, k)));
    while (fabs(at(line, i)) < most / 2)
        i++;
    return i;
}

static void find_crossings(const struct line *line, struct halves *h)
{
    int start = first_high(line), last_high = start;
    double side = at(line, start) < 0 ? -1 : 1, peak = fabs(at(line, start));
    h->count = 0;
    for (int i = start; i < line->record->count && h->count < MOST_CROSSINGS; i++) {
        double y = side * at(line, i), level = CROSSING_SHARE * peak;
        peak = fmax(peak, y);
        if (y >= level)
            last_high = i;
        if (y > -level)
            continue;
        if (peak < line->record->floor_rad)
            return;
        h->crossing[h->count++] = crossing_between(line, last_high, i);
        side = -side;
        peak = -y;
        last_high = i;
    }
}

static bool cut(const struct line *line, struct halves *h)
{
    find_crossings(line, h);
    if (h->count < SWING_DECAY_HALVES_MIN + 1)
        return false;
    for (int n = 0; n + 1 < h->count; n++)
        h->size[n] = area(line, h->crossing[n], h->crossing[n + 1]);
    h->size[h->count - 1] = h->size[h->count - 2];
    return true;
}

/* Weighted least squares of y over its index; sigma from what is left over. */
static struct slope slope_of(const double *y, const double *weight_root, int n)
{
    double w = 0, wx = 0, wy = 0, wxx = 0, wxy = 0, wrr = 0;
    for (int i = 0; i < n; i++) {
        double k = weight_root[i] * weight_root[i];
        w += k;
        wx += k * i;
        wy += k * y[i];
    }
    for (int i = 0; i < n; i++) {
        double k = weight_root[i] * weight_root[i], dx = i - wx / w;
        wxx += k * dx * dx;
        wxy += k * dx * (y[i] - wy / w);
    }
    double slope = wxy / wxx;
    for (int i = 0; i < n; i++) {
        double left = y[i] - wy / w - slope * (i - wx / w);
        wrr += weight_root[i] * weight_root[i] * left * left;
    }
    return (struct slope){slope, sqrt(wrr / (n - 2) / wxx)};
}

static enum swing_decay_verdict measure(const struct halves *h, double dt_s, struct swing_decay *d)
{
    double logs[MOST_CROSSINGS];
    d->halves = h->count - 1;
    for (int n = 0; n < d->halves; n++) {
        if (!(h->size[n] > 0))
            return SWING_DECAY_TOO_COARSE;
        logs[n] = log(h->size[n]);
    }
    struct slope half = slope_of(h->crossing, h->size, h->count), shrink = slope_of(logs, h->size, d->halves);
    if (half.value < COARSEST)
        return SWING_DECAY_TOO_COARSE;
    if (-shrink.value < -3 * shrink.sigma - GROWTH_ALLOWED)
        return SWING_DECAY_GROWS;
    double decrement = fmax(-shrink.value, 0), span = UNITS_HALF_TURN * UNITS_HALF_TURN + decrement * decrement;
    d->mode.damping = decrement / sqrt(span);
    d->mode.omega_radps = sqrt(span) / (half.value * dt_s);
    d->damping_sigma = shrink.sigma * UNITS_HALF_TURN * UNITS_HALF_TURN / (span * sqrt(span));
    d->omega_sigma = d->mode.omega_radps * (half.sigma / half.value + decrement * shrink.sigma / span);
    return d->mode.damping <= SWING_SHAPER_DAMPING_MAX ? SWING_DECAY_OK : SWING_DECAY_TOO_DAMPED;
}

/* 1, and the decaying cosine and sine. */
static struct vec3 basis(const struct swing_decay *d, double t)
{
    double sigma = d->mode.damping * d->mode.omega_radps;
    double angle = d->mode.omega_radps * sqrt(1 - d->mode.damping * d->mode.damping) * t;
    return (struct vec3){1, exp(-sigma * t) * cos(angle), exp(-sigma * t) * sin(angle)};
}

struct range {
    int first, last;
};

/* Offset, cosine and sine of both axes by least squares; false if the three cannot be told apart. */
static bool fit(const struct swing_decay_record *r, const struct swing_decay *d, struct range range, struct vec3 *x,
                struct vec3 *y)
{
    struct vec3 row[3] = {{0, 0, 0}, {0, 0, 0}, {0, 0, 0}}, bx = {0, 0, 0}, by = {0, 0, 0};
    for (int i = range.first; i <= range.last; i++) {
        struct vec3 b = basis(d, i * r->dt_s);
        row[0] = vec_along(row[0], b, b.x);
        row[1] = vec_along(row[1], b, b.y);
        row[2] = vec_along(row[2], b, b.z);
        bx = vec_along(bx, b, r->tilt[i].x_rad);
        by = vec_along(by, b, r->tilt[i].y_rad);
    }
    struct vec3 p = vec_cross(row[1], row[2]), q = vec_cross(row[2], row[0]), s = vec_cross(row[0], row[1]);
    double det = vec_dot(row[0], p);
    if (!(det > 0))
        return false;
    *x = vec_scale((struct vec3){vec_dot(p, bx), vec_dot(q, bx), vec_dot(s, bx)}, 1 / det);
    *y = vec_scale((struct vec3){vec_dot(p, by), vec_dot(q, by), vec_dot(s, by)}, 1 / det);
    return isfinite(vec_norm(*x)) && isfinite(vec_norm(*y));
}

/* The longer half of the ellipse at the first sample; see swing_watch.h. */
static double amplitude(struct vec3 x, struct vec3 y)
{
    double e = x.y * x.y + x.z * x.z + y.y * y.y + y.z * y.z, l = x.y * y.z - x.z * y.y;
    return sqrt((e + sqrt(fmax(e * e - 4 * l * l, 0))) / 2);
}

static bool explained(const struct swing_decay_record *r, struct swing_decay *d, struct range range, struct vec3 x,
                      struct vec3 y)
{
    double left = 0, swing = 0;
    for (int i = range.first; i <= range.last; i++) {
        struct vec3 b = basis(d, i * r->dt_s);
        double fit_x = vec_dot(b, x), fit_y = vec_dot(b, y);
        left += pow(r->tilt[i].x_rad - fit_x, 2) + pow(r->tilt[i].y_rad - fit_y, 2);
        swing += pow(fit_x - x.x, 2) + pow(fit_y - y.x, 2);
    }
    d->unexplained_rad = sqrt(left / (range.last - range.first + 1));
    return left <= UNEXPLAINED_SHARE * UNEXPLAINED_SHARE * swing;
}

/* One round: cut where `line` says that it hangs, measure, and see where it hangs. */
static enum swing_decay_verdict look(struct line *line, struct swing_decay *d, double *moved_rad)
{
    struct halves h;
    struct vec3 x, y;
    if (!cut(line, &h))
        return SWING_DECAY_TOO_SHORT;
    enum swing_decay_verdict verdict = measure(&h, line->record->dt_s, d);
    if (verdict != SWING_DECAY_OK)
        return verdict;
    struct range range = {(int)h.crossing[0], (int)h.crossing[h.count - 1]};
    if (!fit(line->record, d, range, &x, &y) || !explained(line->record, d, range, x, y))
        return SWING_DECAY_UNEXPLAINED;
    *moved_rad = hypot(x.x - line->zero.x_rad, y.x - line->zero.y_rad);
    line->zero = d->zero = (struct swing_tilt){x.x, y.x};
    d->amplitude_rad = amplitude(x, y);
    return SWING_DECAY_OK;
}

enum swing_decay_verdict swing_decay_identify(const struct swing_decay_record *record, struct swing_decay *out)
{
    struct swing_decay found = {.halves = 0};
    double moved = 0;
    *out = found;
    enum swing_decay_verdict verdict = check(record);
    if (verdict != SWING_DECAY_OK)
        return verdict;
    struct line line = line_through(record);
    for (int i = 0; i < ROUNDS; i++) {
        verdict = look(&line, &found, &moved);
        if (verdict != SWING_DECAY_OK)
            return verdict;
        if (moved <= STEADY_SHARE * found.amplitude_rad)
            break;
    }
    *out = found;
    return SWING_DECAY_OK;
}
