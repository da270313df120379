/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/anticipate.h"

#include <stddef.h>

#define LONGEST_S 1.0 /* between two reports: what was before is not known to have lasted */

void anticipate_init(struct anticipate *anticipate)
{
    *anticipate = (struct anticipate){.heard = false};
}

static bool within(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

bool anticipate_config_valid(const struct anticipate_config *cfg)
{
    return tension_rig_valid(&cfg->rig) && within(cfg->look_s, 1e-3, 100) && within(cfg->band_share, 1e-3, 0.5) &&
           within(cfg->trip_s, 1e-3, 100);
}

static double range(const struct anticipate_config *cfg, int cord)
{
    return cfg->rig.max_n[cord] - cfg->rig.min_n[cord];
}

static double least_range(const struct anticipate_config *cfg)
{
    double least = range(cfg, 0);
    for (int k = 1; k < cfg->rig.cords; k++)
        least = lesser(least, range(cfg, k));
    return least;
}

static void hear_cord(const struct anticipate_config *cfg, struct anticipate *now, int k, double elapsed_s, double t)
{
    bool slack = t<cfg->rig.min_n[k], over = t> cfg->rig.max_n[k];
    double share = now->heard ? elapsed_s / (elapsed_s + cfg->look_s) : 1; /* backward Euler: steady for any step */
    now->smooth_n[k] += share * (t - now->smooth_n[k]);
    now->tension_n[k] = t;
    /* From the first report beyond the limit on: nothing is known of the time before it. */
    now->slack_s[k] = slack && now->was_slack[k] ? lesser(now->slack_s[k] + elapsed_s, 1000) : 0;
    now->over_s[k] = over && now->was_over[k] ? lesser(now->over_s[k] + elapsed_s, 1000) : 0;
    now->was_slack[k] = slack;
    now->was_over[k] = over;
}

bool anticipate_hear(const struct anticipate_config *cfg, struct anticipate *anticipate, double elapsed_s,
                     const double tension_n[VOLUME_MAX_CORDS])
{
    double elapsed = within(elapsed_s, 0, LONGEST_S) ? elapsed_s : 0;
    for (int k = 0; k < cfg->rig.cords; k++) {
        if (!within(tension_n[k], -TENSION_MAX_N, TENSION_MAX_N))
            return false;
    }
    for (int k = 0; k < cfg->rig.cords; k++)
        hear_cord(cfg, anticipate, k, elapsed, tension_n[k]);
    anticipate->heard = true;
    return true;
}

enum anticipate_fault anticipate_fault(const struct anticipate_config *cfg, const struct anticipate *anticipate,
                                       int *cord)
{
    double worst_s = cfg->trip_s;
    enum anticipate_fault fault = ANTICIPATE_SOUND;
    *cord = -1;
    for (int k = 0; k < cfg->rig.cords; k++) {
        double slack_s = anticipate->slack_s[k], over_s = anticipate->over_s[k];
        if (!(greater(slack_s, over_s) > worst_s))
            continue;
        worst_s = greater(slack_s, over_s);
        fault = slack_s > over_s ? ANTICIPATE_SLACK : ANTICIPATE_OVERLOAD;
        *cord = k;
    }
    return fault;
}

/* k of the header. */
static double factor(double m0, double w, double band)
{
    if (!(w > 0))
        return 1;
    return greater(lesser(m0 / (w + lesser(w, band)), 1), 0);
}

/* What is being looked at. */
struct look {
    const struct anticipate_config *cfg;
    const struct anticipate *now;
    struct tension_state here, ahead;
    double range_n;
};

static void slow(struct anticipate_output *out, double k, int cord, bool at_max, double tension_n, double limit_n)
{
    if (k >= out->factor)
        return;
    out->factor = k;
    out->cord = cord;
    out->at_max = at_max;
    out->tension_n = tension_n;
    out->limit_n = limit_n;
}

static double limit_of(const struct anticipate_config *cfg, int cord, bool at_max)
{
    return at_max ? cfg->rig.max_n[cord] : cfg->rig.min_n[cord];
}

static void look_at_statics(const struct look *l, struct anticipate_output *out)
{
    double m0 = l->here.margin_n / l->range_n, w = m0 - l->ahead.margin_n / l->range_n;
    double limit = limit_of(l->cfg, l->ahead.cord, l->ahead.at_max);
    double inside = l->ahead.at_max ? limit - l->ahead.margin_n : limit + l->ahead.margin_n;
    slow(out, factor(m0, w, l->cfg->band_share), l->ahead.cord, l->ahead.at_max, inside, limit);
}

/* Each cord as it was measured. Where nothing is feasible, statics do not say which way a tension goes. */
static void look_at_measured(const struct look *l, struct anticipate_output *out)
{
    if (!l->now->heard || !l->here.feasible || !l->ahead.feasible)
        return;
    for (int k = 0; k < l->cfg->rig.cords; k++) {
        double wide = range(l->cfg, k), rise = (l->ahead.middle_n[k] - l->here.middle_n[k]) / wide;
        double foreseen = 2 * l->now->tension_n[k] - l->now->smooth_n[k];
        double above = (lesser(foreseen, l->now->tension_n[k]) - l->cfg->rig.min_n[k]) / wide;
        double below = (l->cfg->rig.max_n[k] - greater(foreseen, l->now->tension_n[k])) / wide;
        slow(out, factor(below, rise, l->cfg->band_share), k, true, greater(foreseen, l->now->tension_n[k]),
             l->cfg->rig.max_n[k]);
        slow(out, factor(above, -rise, l->cfg->band_share), k, false, lesser(foreseen, l->now->tension_n[k]),
             l->cfg->rig.min_n[k]);
    }
}

static void tell_margin(const struct look *l, struct anticipate_output *out)
{
    out->feasible = l->here.feasible;
    out->margin_n = l->here.margin_n;
    out->margin_cord = l->here.cord;
    if (l->now->heard)
        out->margin_n = tension_margin(&l->cfg->rig, l->now->tension_n, &out->margin_cord, NULL);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++)
        out->wanted_n[k] = l->here.middle_n[k];
}

void anticipate_look(const struct anticipate_config *cfg, const struct anticipate *anticipate,
                     const struct anticipate_input *in, struct anticipate_output *out)
{
    const struct vec3 still = {0, 0, 0};
    struct look l = {.cfg = cfg, .now = anticipate, .range_n = least_range(cfg)};
    double speed = vec_norm(in->wish);
    *out = (struct anticipate_output){.factor = 1};
    tension_solve(&cfg->rig, in->position, still, &l.here);
    tell_margin(&l, out);
    if (!(speed > 0) || !within(speed, 0, SHAPE_FAR_M) || !within(in->way_m, 0, SHAPE_FAR_M))
        return;
    tension_solve(&cfg->rig, vec_along(in->position, in->wish, in->way_m / speed), still, &l.ahead);
    look_at_statics(&l, out);
    look_at_measured(&l, out);
}
