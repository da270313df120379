/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/guard.h"

#include <stddef.h>

#include "policy/motion/guard_path.h"
#include "policy/motion/units.h"

void guard_init(struct guard *guard)
{
    *guard = (struct guard){.settling = false};
}

/* From the platform to what is furthest of the body: the ends of its limbs, as their thickness turns about them. */
static double arm(const struct volume_outline *o)
{
    double furthest = o->boom_m;
    for (int i = 0; i < o->limbs; i++) {
        struct vec3 a = o->limb[i].a, b = o->limb[i].b;
        a.z -= o->boom_m;
        b.z -= o->boom_m;
        furthest = greater(furthest, greater(vec_norm(a), vec_norm(b)));
    }
    return furthest;
}

double guard_swing(const struct guard_config *cfg, const struct guard_input *in)
{
    double boom = cfg->volume.outline.boom_m;
    if (!(boom > 0))
        return in->swing_rad;
    double braking = atan(cfg->brake_mps2 / UNITS_GRAVITY_MPS2);
    double moving = atan(lesser(in->accel_mps2, cfg->brake_mps2) / UNITS_GRAVITY_MPS2);
    double omega = sqrt(UNITS_GRAVITY_MPS2 / boom);
    double now = greater(in->swing_rad, 2 * moving);
    return now + braking * (2 + omega * (cfg->latency_s + in->swing_age_s));
}

static double swing_reach(const struct guard_config *cfg, const struct guard_input *in)
{
    if (!(cfg->volume.outline.boom_m > 0))
        return 0;
    return 2 * arm(&cfg->volume.outline) * sin(lesser(guard_swing(cfg, in), UNITS_HALF_TURN) / 2);
}

static double reaction(const struct guard_config *cfg, double age_s)
{
    return cfg->latency_s + age_s + cfg->lease_s;
}

double guard_margin(const struct guard_config *cfg, const struct guard_input *in)
{
    bool hangs = cfg->volume.outline.tether.kind == VOLUME_TETHER_HANGING;
    double window = reaction(cfg, in->age_s) + cfg->dt_s;
    double bend = cfg->brake_mps2 * window * window / 2;
    double moves = in->uncertainty_m + bend + swing_reach(cfg, in);
    return cfg->margin_m + (hangs ? VOLUME_TETHER_STEEP : 1) * moves;
}

static bool input_valid(const struct guard_input *in)
{
    return vec_finite(in->position) && vec_finite(in->wanted) && isfinite(vec_norm(in->wanted)) && in->age_s >= 0 &&
           isfinite(in->age_s) && in->uncertainty_m >= 0 && isfinite(in->uncertainty_m) && in->swing_rad >= 0 &&
           isfinite(in->swing_rad) && in->swing_age_s >= 0 && isfinite(in->swing_age_s) && in->accel_mps2 > 0 &&
           isfinite(vec_norm(in->ahead)) && in->settle_s >= 0 && isfinite(in->settle_s);
}

/* No way is asked about that is longer than that of the wish, from ahead, or of what may be sent; and of clearances
 * those matter that are less than the margin and what is kept clear of it. */
static double horizon(const struct guard_tick *t, double speed)
{
    const struct guard_config *cfg = t->cfg;
    double wish = lesser(vec_norm(t->in.wanted), cfg->speed_mps), most = speed + cfg->brake_mps2 * cfg->dt_s;
    double steered = vec_norm(t->in.ahead) + guard_path_length(t, wish, t->reaction_s + t->in.settle_s, t->accel_mps2);
    double longest = greater(steered, guard_path_length(t, most, t->reaction_s, cfg->brake_mps2));
    return longest + t->margin_m + GUARD_TURNS * (GUARD_STAND_OFF_M + t->in.uncertainty_m) + 4 * GUARD_SLOPE_M;
}

/* From ahead, unless the camera is inside its margin here and now: then the way out of that is what counts. */
static void place(struct guard_tick *t)
{
    t->from = t->in.position;
    t->clear_m = t->near.nearest.distance_m;
    if (!(vec_norm(t->in.ahead) > 0) || t->clear_m < t->margin_m)
        return;
    t->from = vec_add(t->in.position, t->in.ahead);
    double enough = t->margin_m + GUARD_TURNS * (GUARD_STAND_OFF_M + t->in.uncertainty_m) + GUARD_SLOPE_M;
    t->clear_m = guard_path_clear(&t->near, t->from, enough);
}

bool guard_begin(const struct guard_config *cfg, const struct guard *guard, const struct guard_input *in,
                 struct guard_tick *tick)
{
    tick->cfg = cfg;
    tick->in = *in;
    if (!input_valid(in))
        return false;
    tick->margin_m = guard_margin(cfg, in);
    tick->reaction_s = reaction(cfg, in->age_s);
    tick->accel_mps2 = lesser(in->accel_mps2, cfg->brake_mps2);
    volume_look(&tick->near, &cfg->volume, in->now, in->position, horizon(tick, vec_norm(guard->velocity)));
    place(tick);
    return true;
}

/* The line that decides whether the camera may move: is the whole braking path of this velocity clear? */
static bool provable(const struct guard_tick *t, struct vec3 velocity, double *free_m, struct volume_clearance *block)
{
    double speed = vec_norm(velocity);
    if (speed < GUARD_STILL_MPS)
        return true;
    struct volume_few few;
    double path = guard_path_length(t, speed, t->reaction_s, t->cfg->brake_mps2), keep_m = t->margin_m - GUARD_SLACK_M;
    *free_m = guard_path_room(t, t->in.position, t->near.nearest.distance_m, vec_scale(velocity, 1 / speed), keep_m,
                              keep_m, path, block, &few);
    return *free_m >= path;
}

static struct vec3 braked(const struct guard_config *cfg, struct vec3 v, double elapsed_s)
{
    return vec_approached(v, (struct vec3){0, 0, 0}, cfg->brake_mps2 * elapsed_s);
}

/* Why, by what is in the way. */
static enum reason why(const struct guard_config *cfg, const struct volume_now *now,
                       const struct volume_clearance *block)
{
    static const enum reason by_bound[] = {
        [VOLUME_STAGE] = REASON_STAGE_EDGE,      [VOLUME_FLOOR] = REASON_STAGE_EDGE,
        [VOLUME_CEILING] = REASON_STAGE_EDGE,    [VOLUME_KEEPOUT] = REASON_KEEPOUT,
        [VOLUME_SUBJECT] = REASON_SUBJECT_NEAR,  [VOLUME_REACH] = REASON_OUT_OF_REACH,
        [VOLUME_TETHER_END] = REASON_TETHER_END,
    };
    if (block->bound == VOLUME_KEEPOUT && cfg->volume.keepout[block->keepout].yields && !now->yielded)
        return REASON_SPOTTER_NEEDED;
    return by_bound[block->bound];
}

static void name_block(const struct guard_tick *t, double free_m, const struct volume_clearance *block,
                       struct guard_output *out)
{
    out->why = why(t->cfg, t->in.now, block);
    out->block = *block;
    out->free_m = free_m;
    out->reasons |= reason_bit(out->why);
    out->keepout = block->bound == VOLUME_KEEPOUT ? block->keepout : -1;
}

/* Hysteresis, so that a swing about the limit does not make the camera stop and go. */
static void judge_swing(const struct guard_config *cfg, struct guard *guard, double swing_rad)
{
    double limit = guard->settling ? cfg->swing_max_rad / 2 : cfg->swing_max_rad;
    guard->settling = swing_rad > limit;
}

static struct guard_output started(const struct guard_tick *t)
{
    return (struct guard_output){
        .margin_m = t->margin_m,
        .nearest = t->near.nearest,
        .keepout = -1,
        .reasons = t->near.nearest.distance_m < 0 ? reason_bit(REASON_OUT_OF_VOLUME) : 0,
    };
}

struct vec3 guard_next(const struct guard_tick *tick, const struct guard *guard, double elapsed_s, struct vec3 shaped)
{
    const struct guard_config *cfg = tick->cfg;
    double most = cfg->brake_mps2 * lesser(elapsed_s, cfg->dt_s);
    struct vec3 wish = isfinite(vec_norm(shaped)) ? vec_capped(shaped, cfg->speed_mps) : (struct vec3){0, 0, 0};
    return vec_approached(guard->velocity, wish, most);
}

void guard_prove(const struct guard_tick *tick, struct guard *guard, double elapsed_s, const struct guard_way *way,
                 struct vec3 shaped, bool may, struct guard_output *out)
{
    const struct guard_config *cfg = tick->cfg;
    struct volume_clearance block = tick->near.nearest;
    struct vec3 next = guard_next(tick, guard, elapsed_s, shaped);
    double free_m = 0;
    *out = started(tick);
    judge_swing(cfg, guard, tick->in.swing_rad);
    if (way->blocked)
        name_block(tick, way->free_m, &way->block, out);
    out->fallback = !may;
    if (!provable(tick, next, &free_m, &block)) {
        out->fallback = true;
        if (!way->blocked)
            name_block(tick, free_m, &block, out);
    }
    if (vec_norm(tick->in.wanted) > cfg->speed_mps)
        out->reasons |= reason_bit(REASON_SPEED_LIMIT);
    if (guard->settling)
        out->reasons |= reason_bit(REASON_SWING);

    out->braked = out->fallback || guard->settling;
    guard->velocity = out->braked ? braked(cfg, guard->velocity, elapsed_s) : next;
    out->velocity = guard->velocity;
    out->braking_m = guard_path_length(tick, vec_norm(out->velocity), tick->reaction_s, cfg->brake_mps2);
}

void guard_brake(const struct guard_config *cfg, struct guard *guard, double elapsed_s, const struct guard_input *in,
                 struct guard_output *out)
{
    guard->velocity = braked(cfg, guard->velocity, elapsed_s);
    double speed = vec_norm(guard->velocity);
    bool known = in != NULL && input_valid(in);
    *out = (struct guard_output){.velocity = guard->velocity, .fallback = speed > 0, .braked = true, .keepout = -1};
    if (known) {
        judge_swing(cfg, guard, in->swing_rad);
        out->margin_m = guard_margin(cfg, in);
        out->nearest = volume_clearance(&cfg->volume, in->now, in->position);
        out->reasons = out->nearest.distance_m < 0 ? reason_bit(REASON_OUT_OF_VOLUME) : 0;
    }
    out->braking_m =
        speed * reaction(cfg, known ? in->age_s : 0) + travel_stop_distance(speed, cfg->brake_mps2, cfg->dt_s);
}

static bool positive(double v)
{
    return v > 0 && v <= SHAPE_FAR_M; /* false for NaN */
}

bool guard_config_valid(const struct guard_config *cfg)
{
    return volume_valid(&cfg->volume) && (cfg->margin_m == 0 || positive(cfg->margin_m)) &&
           (cfg->latency_s == 0 || positive(cfg->latency_s)) && positive(cfg->dt_s) && cfg->lease_s >= cfg->dt_s &&
           positive(cfg->lease_s) && positive(cfg->brake_mps2) && positive(cfg->speed_mps) &&
           positive(cfg->swing_max_rad);
}
