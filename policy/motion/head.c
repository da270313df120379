/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/head.h"
#include "policy/motion/head_reach.h"

#define COMFORT_S     7.0
#define LONGEST_S     60.0 /* reports older than this say nothing */
#define WIDEST_CONFIG 1e6  /* rad: a limit beyond it is a slip */

static bool finite_from(double x, double least)
{
    return isfinite(x) && x >= least;
}

static bool axis_valid(const struct head_config *cfg, const struct head_axis_config *axis)
{
    double overrun = axis->limits.accel * cfg->latency_s * cfg->latency_s / 2;
    return fabs(axis->min) <= WIDEST_CONFIG && fabs(axis->max) <= WIDEST_CONFIG && axis->min <= axis->home &&
           axis->home <= axis->max && profile_limits_valid(&axis->limits, cfg->dt_s) && cfg->arrived > overrun;
}

static bool region_valid(const struct head_config *cfg, const struct head_region *region)
{
    bool holds_home = true;
    for (int i = 0; i < HEAD_TURNING; i++) {
        double from = region->from[i] - cfg->clear_rad, to = region->to[i] + cfg->clear_rad;
        if (!(region->from[i] < region->to[i]))
            return false;
        holds_home = holds_home && cfg->axis[i].home > from && cfg->axis[i].home < to;
    }
    return !holds_home;
}

bool head_config_valid(const struct head_config *cfg)
{
    bool valid = cfg->regions >= 0 && cfg->regions <= HEAD_MAX_REGIONS && finite_from(cfg->clear_rad, 0) &&
                 (cfg->regions == 0 || cfg->clear_rad > 0) && cfg->hfov_wide_rad > 0 && cfg->hfov_wide_rad < acos(-1) &&
                 finite_from(cfg->latency_s, 0) && cfg->latency_s <= LONGEST_S && finite_from(cfg->lease_s, 0) &&
                 cfg->lease_s <= LONGEST_S && finite_from(cfg->arrived, 0) && finite_from(cfg->rest_s, 0) &&
                 isfinite(cfg->recover_s) && cfg->recover_s > 0 && cfg->axis[HEAD_ZOOM].min >= 1;
    for (int i = 0; i < HEAD_AXES && valid; i++)
        valid = axis_valid(cfg, &cfg->axis[i]);
    for (int r = 0; r < cfg->regions && valid; r++)
        valid = region_valid(cfg, &cfg->region[r]);
    return valid;
}

void head_init(struct head *head, const struct head_config *cfg)
{
    struct head_span span[HEAD_TURNING];
    for (int i = 0; i < HEAD_TURNING; i++)
        span[i] = (struct head_span){cfg->axis[i].min, cfg->axis[i].max, cfg->axis[i].home};
    *head = (struct head){.side = {-1, -1, -1, -1}};
    head_way_plan(&head->way, span, cfg->region, cfg->regions, cfg->clear_rad);
}

double head_hfov(const struct head_config *cfg, double magnification)
{
    const struct head_axis_config *zoom = &cfg->axis[HEAD_ZOOM];
    double m = magnification < zoom->min ? zoom->min : lesser(magnification, zoom->max);
    return 2 * atan(tan(cfg->hfov_wide_rad / 2) / (isfinite(magnification) ? m : zoom->max));
}

static void take_reports(struct head_tick *t, const struct head *head, const struct head_input *in)
{
    bool told = finite_from(in->uncertainty, 0) && finite_from(in->age_s, 0) && in->age_s <= LONGEST_S;
    t->delay_s = told ? t->cfg->latency_s + in->age_s : t->cfg->latency_s;
    t->window_s = t->delay_s + t->cfg->lease_s;
    t->elapsed_s = in->elapsed_s;
    t->uncertainty = told ? in->uncertainty : 0;
    for (int i = 0; i < HEAD_AXES; i++) {
        const struct head_axis_config *cfg = &t->cfg->axis[i];
        double q = in->position[i], span = cfg->max - cfg->min + 1;
        bool known = told && q >= cfg->min - span && q <= cfg->max + span;
        t->axis[i] = head_reach_axis(t, head, i, known, q);
        t->axis[i].least = t->box[i] = head_reach_of(t, &t->axis[i], t->axis[i].braked);
        *t->notes |= known ? 0 : HEAD_POSITION_LOST;
    }
}

/* The regions to keep out of now: none on the way out of one. One it will run into whatever is done gives way: at the
 * face that kept it out, it begins where the head comes to rest. */
static void place_regions(struct head_tick *t, struct head *head)
{
    for (int r = 0; r < t->cfg->regions; r++) {
        struct head_region *region = &t->region[r];
        for (int i = 0; i < HEAD_TURNING; i++) {
            region->from[i] = t->cfg->region[r].from[i] - t->cfg->clear_rad;
            region->to[i] = t->cfg->region[r].to[i] + t->cfg->clear_rad;
        }
        struct head_side side = head_reach_side(region, t->box);
        if (head->leaving)
            *region = (struct head_region){{INFINITY, INFINITY, INFINITY}, {-INFINITY, -INFINITY, -INFINITY}};
        if (head->leaving || side.gap >= 0)
            continue;
        int face = head->side[r] >= 0 ? head->side[r] : side.face, i = face / 2;
        head->side[r] = (int8_t)face;
        if (face % 2)
            region->to[i] = lesser(region->to[i], t->box[i].lo);
        else
            region->from[i] = greater(region->from[i], t->box[i].hi);
    }
}

/* Which face keeps it out from now on, whatever the next report says. */
static void remember_sides(const struct head_tick *t, struct head *head)
{
    for (int r = 0; r < HEAD_MAX_REGIONS && r < t->cfg->regions; r++)
        head->side[r] = (int8_t)(head->leaving ? -1 : head_reach_side(&t->region[r], t->box).face);
}

static void wish_for(struct head_tick *t, int which, double rate)
{
    struct head_axis_tick *axis = &t->axis[which];
    axis->wish = rate;
    axis->target = rate > 0 ? INFINITY : -INFINITY;
}

/* Full speed towards a target, unless it is as good as there. */
static void send_to(struct head_tick *t, int which, double target)
{
    struct head_axis_tick *axis = &t->axis[which];
    double gap = target - axis->at, speed = axis->cfg->limits.speed;
    axis->target = target;
    axis->wish = axis->known && fabs(gap) > t->cfg->arrived / 2 ? copysign(speed, gap) : 0;
}

static bool is_home(const struct head_tick *t)
{
    bool home = true;
    for (int i = 0; i < HEAD_AXES; i++) {
        const struct head_axis_tick *axis = &t->axis[i];
        home = home && axis->known && fabs(axis->at - axis->cfg->home) <= t->cfg->arrived && axis->before.v == 0;
    }
    return home;
}

/* False if no way leads home. */
static bool send_home(struct head_tick *t, struct head *head)
{
    double at[HEAD_TURNING], target[HEAD_TURNING];
    bool known = true;
    for (int i = 0; i < HEAD_TURNING; i++) {
        at[i] = t->axis[i].at;
        known = known && t->axis[i].known;
    }
    send_to(t, HEAD_ZOOM, t->cfg->axis[HEAD_ZOOM].home);
    if (!known)
        return true;
    bool way = head_way_target(&head->way, at, target);
    head->leaving = head->leaving && !head_way_open(&head->way, at);
    for (int i = 0; i < HEAD_TURNING && way; i++)
        send_to(t, i, target[i]);
    return way;
}

static void give_up(struct head *head)
{
    head->recovering = head->from_region = head->leaving = false;
}

/* A recovery from a region goes on until it is home. */
static void arrive(const struct head_tick *t, struct head *head)
{
    if (!is_home(t))
        return;
    if (head->from_region)
        head->deaf_s = t->cfg->rest_s;
    head->from_region = false;
    head->way_s = 0;
}

/* Whether it is to go home now. */
static void update_recovery(const struct head_tick *t, struct head *head, bool asked)
{
    bool in = false;
    for (int r = 0; r < t->cfg->regions; r++)
        in = in || head_reach_inside(&t->cfg->region[r], t);
    if (head->way_s > t->cfg->recover_s) {
        give_up(head);
        head->gave_up = true;
        *t->notes |= HEAD_NO_WAY;
    }
    head->gave_up = head->gave_up && (in || asked);
    if (in && !head->gave_up)
        head->from_region = head->leaving = true;
    arrive(t, head);
    head->recovering = !head->gave_up && (head->from_region || asked);
    head->way_s = head->recovering ? head->way_s + t->cfg->dt_s : 0;
    *t->notes |= head->gave_up ? HEAD_NO_WAY : 0;
}

static bool let_go(const struct head_input *in)
{
    bool none = true;
    for (int i = 0; i < HEAD_AXES; i++)
        none = none && !(isfinite(in->wanted[i]) && in->wanted[i] != 0);
    return none;
}

static void hear_lane(struct head_tick *t, struct head *head, const struct head_input *in)
{
    head->deaf_s = let_go(in) ? 0 : greater(head->deaf_s - t->cfg->dt_s, 0);
    if (head->deaf_s > 0)
        *t->notes |= HEAD_LET_GO;
    for (int i = 0; i < HEAD_AXES; i++) {
        double wanted = in->wanted[i], most = t->cfg->axis[i].limits.speed;
        bool numeric = isfinite(wanted);
        *t->notes |= !numeric ? HEAD_BAD_WISH : fabs(wanted) > most ? HEAD_RATE_LIMIT : 0;
        double rate = !numeric ? 0 : fabs(wanted) > most ? copysign(most, wanted) : wanted;
        wish_for(t, i, head->deaf_s > 0 ? 0 : rate);
    }
}

static void keep_comfortable(struct head_tick *t, double cross_s)
{
    const struct head_axis_tick *zoom = &t->axis[HEAD_ZOOM];
    struct head_axis_tick *pan = &t->axis[HEAD_PAN];
    double cross = finite_from(cross_s, 0) ? cross_s : COMFORT_S;
    double cap = cross > 0 ? head_hfov(t->cfg, zoom->known ? zoom->at : NAN) / cross : INFINITY;
    if (fabs(pan->wish) <= cap)
        return;
    pan->wish = copysign(cap, pan->wish);
    *t->notes |= HEAD_COMFORT;
}

static void remember(struct head *head)
{
    for (int i = 0; i < HEAD_AXES; i++)
        head->sent[head->sent_next % HEAD_SENT][i] = head->axis[i].v;
    head->sent_next = (head->sent_next + 1) % HEAD_SENT;
}

static void send(struct head_tick *t, struct head *head, struct head_output *out)
{
    for (int i = 0; i < HEAD_AXES; i++) {
        head->axis[i] = head_reach_decide(t, i);
        t->box[i] = head_reach_of(t, &t->axis[i], head->axis[i]);
        out->rate[i] = head->axis[i].v;
    }
    remember_sides(t, head);
    remember(head);
}

void head_step(const struct head_config *cfg, struct head *head, const struct head_input *in, struct head_output *out)
{
    *out = (struct head_output){0};
    struct head_tick t = {.cfg = cfg, .notes = &out->notes};
    take_reports(&t, head, in);
    update_recovery(&t, head, in->go_home);
    if (head->recovering && !send_home(&t, head)) {
        out->notes |= HEAD_NO_WAY;
        give_up(head);
    }
    if (!head->recovering)
        hear_lane(&t, head, in);
    place_regions(&t, head);
    out->notes |= head->recovering ? HEAD_RECOVERING : 0;
    keep_comfortable(&t, in->cross_s);
    send(&t, head, out);
}

void head_brake(const struct head_config *cfg, struct head *head, double elapsed_s, struct head_output *out)
{
    *out = (struct head_output){0};
    give_up(head);
    for (int i = 0; i < HEAD_AXES; i++) {
        head->axis[i] = head_reach_braked(&cfg->axis[i], head->axis[i], cfg->dt_s, elapsed_s);
        out->rate[i] = head->axis[i].v;
    }
    remember(head);
}
