/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/locate.h"

#include <stddef.h>

#define LONGEST_S 1e9 /* that counts in nanoseconds */

/* What one fresh report is judged with. */
struct hearing {
    const struct locate_config *cfg;
    struct locate *locate;
    struct locate_reading reading;
    uint64_t epoch_ns; /* of the newest reading */
    bool anew;         /* nothing is known, or nothing was believed for so long that what comes is believed anew */
};

static double seconds_since(uint64_t now_ns, uint64_t then_ns)
{
    return now_ns > then_ns ? (double)(now_ns - then_ns) * 1e-9 : 0;
}

static uint64_t before(uint64_t ns, double seconds)
{
    uint64_t span = seconds > 0 ? (uint64_t)(lesser(seconds, LONGEST_S) * 1e9) : 0;
    return ns > span ? ns - span : 0;
}

void locate_init(struct locate *locate)
{
    *locate = (struct locate){.known = false};
}

static void note(struct locate *locate, enum locate_fault fault, struct locate_detail detail)
{
    locate->faults |= 1u << fault;
    locate->detail[fault] = detail;
}

static struct locate_detail detail_of(const struct locate_finding *f)
{
    return (struct locate_detail){f->value, f->limit, f->source, f->cord};
}

static enum locate_source first_source(unsigned bits)
{
    unsigned s = 0;
    while (s < LOCATE_SOURCES && !(bits & locate_bit(s)))
        s++;
    return (enum locate_source)s;
}

/* A lasting disagreement that comes down to cord lengths is an anchor's (or a winch's). */
static void note_lasting(struct locate *locate, const struct locate_finding *f)
{
    locate->doubt_m = greater(locate->doubt_m, f->shift_m);
    note(locate, f->source == LOCATE_LENGTH ? LOCATE_ANCHOR : LOCATE_DISAGREE, detail_of(f));
}

/* The filter goes on by itself. How far apart the two are is in doubt: either may be the right one. */
static void reject(struct hearing *h, enum locate_fault why, const struct locate_finding *f, double apart_m)
{
    struct locate *locate = h->locate;
    if (locate->rejected <= h->cfg->outliers)
        locate->rejected++;
    if (locate->rejected <= h->cfg->outliers)
        return;
    note(locate, why, detail_of(f));
    locate->doubt_m = greater(locate->doubt_m, apart_m);
}

static void believe(struct hearing *h, const struct locate_filter *filter, bool full)
{
    struct locate *locate = h->locate;
    locate->filter = *filter;
    locate->epoch_ns = h->epoch_ns;
    if (full)
        locate->full_ns = h->epoch_ns;
    locate->known = true;
    locate->rejected = 0;
    locate->used = h->reading.sources;
}

/* What was rejected does not become right by waiting until the prediction is vague enough: the gate stays. */
static void judge_jump(struct hearing *h, const struct locate_fix *fix, struct locate_filter *filter)
{
    struct locate *locate = h->locate;
    double gate_m = locate->rejected > 0 ? locate->gate_m : SHAPE_FAR_M;
    struct locate_finding jump = locate_watch_jump(h->cfg, fix, filter, gate_m);
    locate->gate_m = jump.limit;
    if (jump.found)
        reject(h, LOCATE_JUMP, &jump, jump.shift_m);
    else if (locate_filter_update(&h->reading, fix, filter))
        believe(h, filter, fix->full);
}

/* A full fix against itself, and against the prediction. */
static void compare(struct hearing *h, const struct locate_fix *fix, struct locate_filter *filter)
{
    struct locate_finding sudden = locate_watch_sudden(fix);
    if (sudden.found) {
        reject(h, LOCATE_DISAGREE, &sudden, h->locate->known ? vec_norm(vec_sub(fix->position, filter->position)) : 0);
        return;
    }
    if (h->anew) {
        locate_filter_start(h->cfg, &h->reading, fix, filter);
        h->locate->gate_m = SHAPE_FAR_M;
        believe(h, filter, true);
        return;
    }
    judge_jump(h, fix, filter);
}

static void follow_full(struct hearing *h, const struct locate_fix *fix, struct locate_filter *filter)
{
    struct locate *locate = h->locate;
    compare(h, fix, filter);
    /* A single outlier says nothing about what lasts; what goes on being rejected does. */
    if (locate->rejected > 0 && locate->rejected <= h->cfg->outliers)
        return;
    locate_watch_add(h->cfg, fix, seconds_since(h->epoch_ns, locate->watched_ns), &locate->watch);
    locate->watched_ns = h->epoch_ns;
}

static void follow(struct hearing *h)
{
    struct locate *locate = h->locate;
    struct locate_filter filter = locate->filter;
    struct locate_fix fix = {.full = false};
    if (locate->known && h->epoch_ns < locate->epoch_ns)
        return; /* older than what is known already */
    locate_filter_predict(h->cfg, seconds_since(h->epoch_ns, locate->epoch_ns), &filter);
    if (h->anew)
        locate_solve_cold(h->cfg, &h->reading, &fix);
    if (!fix.full && locate->known)
        locate_solve_near(h->cfg, &h->reading, filter.position, filter.velocity, &fix);
    if (fix.full)
        follow_full(h, &fix, &filter);
    else if (locate->known)
        judge_jump(h, &fix, &filter);
    struct locate_finding lasting = locate_watch_lasting(&locate->watch, &locate->filter);
    if (lasting.found)
        note_lasting(locate, &lasting);
}

static struct locate_velocity velocity_known(const struct hearing *h)
{
    const struct locate_config *cfg = h->cfg;
    struct locate_velocity known = {.bound_mps = cfg->speed_mps};
    if (!h->anew) {
        struct locate_error e = locate_filter_velocity_error(cfg, &h->locate->filter);
        known.sigma_mps = lesser(e.noise / LOCATE_SIGMAS, cfg->speed_mps);
        known.bound_mps = lesser(e.bias + e.manoeuvre, cfg->speed_mps);
    }
    return known;
}

static void hear(const struct locate_config *cfg, struct locate *locate, uint64_t now_ns,
                 const struct locate_report *report)
{
    struct hearing h = {.cfg = cfg, .locate = locate};
    h.anew = !locate->known || seconds_since(now_ns, locate->full_ns) >= cfg->again_s;
    locate_reading_take(cfg, report, velocity_known(&h), &h.reading);
    uint64_t received = report->received_ns < now_ns ? report->received_ns : now_ns;
    h.epoch_ns = before(received, h.reading.newest_s);
    locate->heard = true;
    locate->heard_ns = now_ns;
    locate->seq = report->seq;
    locate->faults = 0;
    locate->used = 0;
    locate->doubt_m = 0;
    locate_frozen_hear(cfg, &locate->frozen, report);
    if (h.reading.refused)
        note(locate, LOCATE_BAD_VALUE,
             (struct locate_detail){h.reading.refused, 0, first_source(h.reading.refused), h.reading.refused_cord});
    if (h.reading.sources)
        follow(&h);
}

static void raise(struct locate_output *out, enum locate_fault fault, double value, double limit,
                  enum locate_source source)
{
    out->faults |= 1u << fault;
    out->detail[fault] = (struct locate_detail){value, limit, source, -1};
}

/* The filter at now_ns. False if it has come to nothing. */
static bool bring_forward(const struct locate_config *cfg, const struct locate *locate, uint64_t now_ns,
                          struct locate_output *out)
{
    struct locate_filter filter = locate->filter;
    locate_filter_predict(cfg, seconds_since(now_ns, locate->epoch_ns), &filter);
    out->position = filter.position;
    out->velocity = filter.velocity;
    out->covariance = locate->filter.covariance;
    out->error = locate_filter_position_error(cfg, &filter);
    out->velocity_error_mps = locate_error_total(locate_filter_velocity_error(cfg, &filter));
    double total = locate_error_total(out->error);
    return vec_finite(out->position) && vec_finite(out->velocity) && vec_norm(out->position) <= SHAPE_FAR_M &&
           total <= SHAPE_FAR_M && out->velocity_error_mps <= SHAPE_FAR_M; /* false for NaN */
}

static void unknown_output(const struct locate *locate, struct locate_output *out)
{
    *out = (struct locate_output){.error = {0, 0, 0}, .velocity_error_mps = SHAPE_FAR_M};
    if (vec_finite(locate->filter.position) && vec_norm(locate->filter.position) <= SHAPE_FAR_M)
        out->position = locate->filter.position;
}

/* What does not come with a report but with its absence, or with what was commanded since. */
static void judge_now(const struct locate_config *cfg, const struct locate *locate, uint64_t now_ns,
                      struct locate_output *out)
{
    double without = locate->known ? seconds_since(now_ns, locate->full_ns) : 0;
    if (!locate->known || without > cfg->coast_s)
        raise(out, LOCATE_NOT_ENOUGH, without, cfg->coast_s, LOCATE_SOURCES);
    double stuck = locate->stuck_ns > locate->heard_ns ? seconds_since(locate->stuck_ns, locate->heard_ns) : 0;
    enum locate_source frozen = locate_frozen_source(cfg, &locate->frozen);
    if (stuck > cfg->frozen_s)
        raise(out, LOCATE_FROZEN, stuck, cfg->frozen_s, LOCATE_SOURCES);
    else if (frozen != LOCATE_SOURCES)
        raise(out, LOCATE_FROZEN, locate_frozen_way(&locate->frozen, frozen), cfg->frozen_m, frozen);
    if (frozen != LOCATE_SOURCES) /* what disagrees with it is not to blame */
        for (int f = LOCATE_DISAGREE; f <= LOCATE_ANCHOR; f++) {
            out->detail[f].source = LOCATE_SOURCES;
            out->detail[f].cord = -1;
        }
    out->doubt_m = locate->doubt_m;
    for (unsigned s = 0; s < LOCATE_PLACING; s++) /* readings that stood still so far may have been frozen so long */
        if (locate->used & locate_bit(s))
            out->doubt_m = greater(out->doubt_m, locate_frozen_way(&locate->frozen, (enum locate_source)s));
}

static void fill(const struct locate_config *cfg, struct locate *locate, uint64_t now_ns, struct locate_output *out)
{
    const struct locate_detail nobody = {.source = LOCATE_SOURCES, .cord = -1};
    *out = (struct locate_output){.known = false};
    if (locate->known && !bring_forward(cfg, locate, now_ns, out))
        locate->known = false;
    if (!locate->known)
        unknown_output(locate, out);
    out->known = locate->known;
    out->faults = locate->faults;
    out->used = locate->used;
    for (int f = 0; f < LOCATE_FAULTS; f++)
        out->detail[f] = locate->faults & 1u << f ? locate->detail[f] : nobody;
    judge_now(cfg, locate, now_ns, out);
    out->uncertainty_m =
        locate->known ? lesser(locate_error_total(out->error) + out->doubt_m, SHAPE_FAR_M) : SHAPE_FAR_M;
    if (out->uncertainty_m > cfg->uncertainty_max_m)
        raise(out, LOCATE_UNCERTAIN, out->uncertainty_m, cfg->uncertainty_max_m, LOCATE_SOURCES);
    for (int f = LOCATE_FAULTS - 1; f > LOCATE_SOUND; f--)
        if (out->faults & 1u << f)
            out->fault = (enum locate_fault)f;
    out->hold = out->faults != 0;
}

void locate_step(const struct locate_config *cfg, struct locate *locate, uint64_t now_ns,
                 const struct locate_report *report, struct vec3 commanded, struct locate_output *out)
{
    const struct vec3 still = {0, 0, 0};
    double elapsed_s = locate->stepped ? seconds_since(now_ns, locate->stepped_ns) : 0;
    bool sane = vec_norm(commanded) <= SHAPE_FAR_M; /* false for NaN */
    locate_frozen_pass(&locate->frozen, elapsed_s, sane ? commanded : still);
    locate->stepped = true;
    locate->stepped_ns = now_ns;
    if (report && (!locate->heard || report->seq > locate->seq))
        hear(cfg, locate, now_ns, report);
    else if (report && report->received_ns > locate->heard_ns)
        locate->stuck_ns = report->received_ns < now_ns ? report->received_ns : now_ns;
    fill(cfg, locate, now_ns, out);
}

static bool all_within(const double value[], int count, double lo, double hi)
{
    for (int i = 0; i < count; i++)
        if (!(value[i] >= lo && value[i] <= hi)) /* false for NaN */
            return false;
    return true;
}

bool locate_config_valid(const struct locate_config *cfg)
{
    const double measures[] = {
        cfg->weight_n,      cfg->boom_m,       cfg->anchor_bias_m, cfg->pose_bias_m,
        cfg->length_bias_m, cfg->range_bias_m, cfg->slack_n,       fabs(cfg->floor_m),
    };
    const double positive[] = {
        cfg->accel_mps2, cfg->speed_mps, cfg->age_max_s, cfg->coast_s,           cfg->memory_s,
        cfg->frozen_s,   cfg->frozen_m,  cfg->again_s,   cfg->uncertainty_max_m,
    };
    if (cfg->cords < 0 || cfg->cords > VOLUME_MAX_CORDS || cfg->outliers < 0)
        return false;
    for (int i = 0; i < cfg->cords; i++) {
        const double place[] = {cfg->anchor[i].x, cfg->anchor[i].y, cfg->anchor[i].z};
        if (!all_within(place, 3, -SHAPE_FAR_M, SHAPE_FAR_M))
            return false;
    }
    return all_within(measures, (int)(sizeof measures / sizeof *measures), 0, SHAPE_FAR_M) &&
           all_within(positive, (int)(sizeof positive / sizeof *positive), 1e-6, 1000) &&
           cfg->coast_s <= cfg->again_s && cfg->body_n >= 0 && cfg->body_n <= cfg->weight_n && cfg->tilt_rad >= 0 &&
           cfg->tilt_rad <= 0.7 && cfg->tension_bias_share >= 0 && cfg->tension_bias_share <= 1;
}

static const char *const fault_codes[LOCATE_FAULTS] = {
    [LOCATE_SOUND] = "sound",   [LOCATE_BAD_VALUE] = "bad-value", [LOCATE_NOT_ENOUGH] = "not-enough",
    [LOCATE_FROZEN] = "frozen", [LOCATE_JUMP] = "jump",           [LOCATE_DISAGREE] = "disagree",
    [LOCATE_ANCHOR] = "anchor", [LOCATE_UNCERTAIN] = "uncertain",
};

static const char *const source_codes[LOCATE_SOURCES + 1] = {"pose", "length", "tension", "range", "tilt", "none"};

const char *locate_fault_code(enum locate_fault fault)
{
    return (unsigned)fault < LOCATE_FAULTS ? fault_codes[fault] : "unknown";
}

const char *locate_source_code(enum locate_source source)
{
    return (unsigned)source <= LOCATE_SOURCES ? source_codes[source] : "unknown";
}
