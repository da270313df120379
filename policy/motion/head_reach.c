/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/head_reach.h"

#define TOUCH    1e-9 /* boxes that overlap by less than this only touch */
#define HALVINGS 16
#define LATEST   100 /* ticks: whoever comes later is not waited for */
#define ROUNDING 1e-6

static double positive_part(double x)
{
    return greater(x, 0);
}

struct profile head_reach_braked(const struct head_axis_config *axis, struct profile now, double dt, double elapsed_s)
{
    double ticks = elapsed_s / dt + ROUNDING;
    for (int i = 0; i < LATEST && (i == 0 || i + 1 <= ticks); i++)
        now = profile_step(&axis->limits, now, 0, dt);
    return now;
}

/* The sum of head.h, over k. One tick more, as ticks do not come evenly. Faster than `slower` is all that counts. */
static double held_over(const struct head_tick *t, const struct head *head, int which, double slower, double way)
{
    double ticks = t->window_s > 0 ? ceil(t->window_s / t->cfg->dt_s) + 1 : 0, most = 0, sum = 0;
    double base = positive_part(way * slower);
    for (int k = 0; k < HEAD_SENT && k < ticks; k++) {
        most = greater(most, way * head->sent[(head->sent_next - 1 - (unsigned)k) % HEAD_SENT][which]);
        sum += positive_part(most - base);
    }
    sum += positive_part(ticks - HEAD_SENT) * positive_part(t->cfg->axis[which].limits.speed - base);
    return sum * t->cfg->dt_s;
}

struct head_axis_tick head_reach_axis(const struct head_tick *t, const struct head *head, int which, bool known,
                                      double at)
{
    const struct head_axis_config *cfg = &t->cfg->axis[which];
    struct profile now = profile_sane(&cfg->limits, head->axis[which]);
    struct head_axis_tick axis = {.cfg = cfg, .known = known, .at = known ? at : 0, .before = now};
    axis.slower = profile_step(&cfg->limits, now, 0, t->cfg->dt_s);
    axis.braked = head_reach_braked(cfg, now, t->cfg->dt_s, t->elapsed_s);
    axis.under_way =
        (struct head_reach){-held_over(t, head, which, axis.slower.v, -1), held_over(t, head, which, axis.slower.v, 1)};
    return axis;
}

/* The tick's own way is that of a velocity that changes evenly; where it changes sign, each part counts in full. */
struct head_reach head_reach_of(const struct head_tick *t, const struct head_axis_tick *axis, struct profile next)
{
    const struct profile_limits *limits = &axis->cfg->limits;
    double v = axis->before.v, ends = profile_eased(limits, next, t->cfg->dt_s);
    double fast = positive_part(greater(next.v, ends)), back = positive_part(-lesser(next.v, ends));
    struct profile_stop stop = profile_stop_in_ticks(limits, next, t->cfg->dt_s);
    double up = (positive_part(v) + positive_part(next.v)) / 2 * t->cfg->dt_s;
    double down = (positive_part(-v) + positive_part(-next.v)) / 2 * t->cfg->dt_s;
    if (!axis->known)
        return (struct head_reach){axis->cfg->min, axis->cfg->max};
    return (struct head_reach){
        .lo = axis->at - t->uncertainty + axis->under_way.lo - back * t->window_s - down + stop.lowest,
        .hi = axis->at + t->uncertainty + axis->under_way.hi + fast * t->window_s + up + stop.highest,
    };
}

struct head_side head_reach_side(const struct head_region *region, const struct head_reach box[HEAD_TURNING])
{
    struct head_side best = {.face = 0, .gap = -INFINITY};
    for (int face = 0; face < 2 * HEAD_TURNING; face++) {
        int i = face / 2;
        double gap = face % 2 ? box[i].lo - region->to[i] : region->from[i] - box[i].hi;
        if (gap > best.gap)
            best = (struct head_side){face, gap};
    }
    return best;
}

bool head_reach_inside(const struct head_region *region, const struct head_tick *t)
{
    bool in = true;
    for (int i = 0; i < HEAD_TURNING; i++)
        in = in && t->axis[i].known && t->axis[i].at > region->from[i] && t->axis[i].at < region->to[i];
    return in;
}

struct bounds {
    double lo, hi;
    unsigned lo_note, hi_note; /* what the bound is */
};

/* False if the other axes keep clear of the region anyway. */
static bool concerns(const struct head_tick *t, const struct head_region *region, int which)
{
    bool all = true;
    for (int i = 0; i < HEAD_TURNING; i++)
        all = all && (i == which || (t->box[i].hi > region->from[i] + TOUCH && t->box[i].lo < region->to[i] - TOUCH));
    return all;
}

static void bound_by(const struct head_tick *t, const struct head_region *region, int which, struct bounds *b)
{
    const struct head_reach *least = &t->axis[which].least;
    double from = region->from[which], to = region->to[which];
    if (least->lo < to - TOUCH && from < b->hi) {
        b->hi = from;
        b->hi_note = HEAD_REGION;
    }
    if (least->hi > from + TOUCH && to > b->lo) {
        b->lo = to;
        b->lo_note = HEAD_REGION;
    }
}

/* A boundary it will be beyond whatever is done is where it comes to rest. */
static struct bounds bounds_of(const struct head_tick *t, int which)
{
    const struct head_axis_tick *axis = &t->axis[which];
    struct bounds b = {lesser(axis->cfg->min, axis->least.lo), greater(axis->cfg->max, axis->least.hi), HEAD_AT_LIMIT,
                       HEAD_AT_LIMIT};
    for (int r = 0; r < t->cfg->regions && which < HEAD_TURNING; r++) {
        if (concerns(t, &t->region[r], which))
            bound_by(t, &t->region[r], which, &b);
    }
    return b;
}

/* The target counts where it is as likely as not; the bounds count for certain. */
static bool passes_target(const struct head_tick *t, const struct head_axis_tick *axis, struct profile next)
{
    struct profile_stop stop = profile_stop_in_ticks(&axis->cfg->limits, next, t->cfg->dt_s);
    double ahead = axis->at + axis->before.v * t->delay_s + (axis->before.v + next.v) / 2 * t->cfg->dt_s;
    return axis->wish > 0 ? ahead + stop.highest > axis->target : ahead + stop.lowest < axis->target;
}

/* An axis at rest waits for more room than noise could make up: it does not creep at a boundary. */
static bool may(const struct head_tick *t, const struct head_axis_tick *axis, const struct bounds *b,
                struct profile next)
{
    bool rests = axis->before.v == 0 && axis->before.a == 0;
    double spare = rests ? t->uncertainty : 0;
    struct head_reach reach = head_reach_of(t, axis, next);
    bool up = axis->wish > 0;
    return reach.hi + (up ? spare : 0) <= b->hi && reach.lo - (up ? 0 : spare) >= b->lo;
}

static struct profile between(const struct head_axis_tick *axis, struct profile wished, double part, double dt)
{
    double a = axis->slower.a + part * (wished.a - axis->slower.a), most = axis->cfg->limits.speed;
    double v = axis->before.v + a * dt;
    return (struct profile){.v = fabs(v) > most && fabs(axis->before.v) <= most ? copysign(most, v) : v, .a = a};
}

/* Between braking and the wish, by halving; where not even the least part will do, as at rest at a boundary, at once.
 */
static struct profile largest_part(const struct head_tick *t, const struct head_axis_tick *axis, const struct bounds *b,
                                   struct profile wished)
{
    double done = 0, failed = 1, part = ldexp(1, -HALVINGS);
    struct profile best = axis->braked;
    for (int i = 0; i <= HALVINGS && (i == 0 || done > 0); i++) {
        struct profile next = between(axis, wished, part, t->cfg->dt_s);
        bool good = may(t, axis, b, next) && !passes_target(t, axis, next);
        best = good ? next : best;
        *(good ? &done : &failed) = part;
        part = (done + failed) / 2;
    }
    return best;
}

struct profile head_reach_decide(const struct head_tick *t, int which)
{
    const struct head_axis_tick *axis = &t->axis[which];
    struct bounds b = bounds_of(t, which);
    struct profile wished = profile_step(&axis->cfg->limits, axis->before, axis->wish, t->cfg->dt_s);
    if (!axis->known || axis->wish == 0)
        return axis->braked;
    bool blocked = !may(t, axis, &b, wished);
    if (blocked)
        *t->notes |= axis->wish > 0 ? b.hi_note : b.lo_note;
    else if (!passes_target(t, axis, wished))
        return wished;
    return largest_part(t, axis, &b, wished);
}
