/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/guard.h"

#include <stddef.h>

#include "policy/motion/travel.h"

#define GRAVITY_MPS2 9.80665
#define HALF_TURN    3.14159265358979323846
#define SLACK_M      VOLUME_ERROR_M /* proofs allow this: clearances asked for in two ways differ so much */
#define STAND_OFF_M  1e-3 /* shaping keeps this and the uncertainty clear of the proven margin, for each turn */
#define SLOPE_STEP_M 1e-3 /* for the direction away from what blocks */
#define SLIDE_OUT    0.75 /* 0.6 m out a metre of way: more than the half that the way out asks for */
#define STILL_MPS    1e-9 /* slower than this is at rest */

enum { TURNS = 2 }; /* along a wall, and where that runs into another, along the corner */

/* What one step works with. */
struct step {
    const struct guard_config *cfg;
    const struct guard_input *in;
    struct volume_near near;
    double margin_m, reaction_s, accel_mps2;
};

void guard_init(struct guard *guard)
{
    *guard = (struct guard){.settling = false};
}

static double swing_reach(const struct guard_config *cfg, const struct guard_input *in)
{
    double boom = cfg->volume.outline.boom_m;
    if (!(boom > 0))
        return 0;
    double braking = atan(cfg->brake_mps2 / GRAVITY_MPS2);
    double moving = atan(lesser(in->accel_mps2, cfg->brake_mps2) / GRAVITY_MPS2);
    double omega = sqrt(GRAVITY_MPS2 / boom);
    double now = greater(in->swing_rad, 2 * moving);
    double peak = now + braking * (2 + omega * (cfg->latency_s + in->age_s));
    return 2 * boom * sin(lesser(peak, HALF_TURN) / 2);
}

static double reaction(const struct guard_config *cfg, double age_s)
{
    return cfg->latency_s + age_s + cfg->lease_s;
}

double guard_margin(const struct guard_config *cfg, const struct guard_input *in)
{
    double window = reaction(cfg, in->age_s) + cfg->dt_s;
    double bend = cfg->brake_mps2 * window * window / 2;
    return cfg->margin_m + in->uncertainty_m + bend + swing_reach(cfg, in);
}

static double path_length(const struct step *s, double speed, double brake)
{
    return speed * s->reaction_s + travel_stop_distance(speed, brake, s->cfg->dt_s);
}

/* No way is asked about that is longer than that of the wish, or of the last velocity if that is faster; and of
 * clearances those matter that are less than the margin and what is kept clear of it. */
static double horizon(const struct step *s, double speed)
{
    double wish = lesser(vec_norm(s->in->wanted), s->cfg->speed_mps);
    double longest =
        greater(path_length(s, wish, s->accel_mps2), path_length(s, greater(speed, wish), s->cfg->brake_mps2));
    return longest + s->margin_m + TURNS * (STAND_OFF_M + s->in->uncertainty_m) + 4 * SLOPE_STEP_M;
}

static void begin(const struct guard_config *cfg, const struct guard *guard, const struct guard_input *in,
                  struct step *s)
{
    struct volume_now now = volume_now_usual();
    s->cfg = cfg;
    s->in = in;
    s->margin_m = guard_margin(cfg, in);
    s->reaction_s = reaction(cfg, in->age_s);
    s->accel_mps2 = lesser(in->accel_mps2, cfg->brake_mps2);
    volume_look(&s->near, &cfg->volume, &now, in->position, horizon(s, vec_norm(guard->velocity)));
}

/* How far the rig may go in a direction: while it keeps the margin, or, where it has none to keep, while it gains. */
static double room(const struct step *s, struct vec3 direction, double margin_m, double limit_m,
                   struct volume_clearance *block)
{
    if (s->near.nearest.distance_m >= margin_m)
        return travel_free(&s->near, s->in->position, direction, margin_m, limit_m, block);
    *block = s->near.nearest;
    return travel_away(&s->near, s->in->position, direction, limit_m);
}

/* The line that decides whether the camera may move: is the whole braking path of this velocity clear? */
static bool provable(const struct step *s, struct vec3 velocity, struct volume_clearance *block)
{
    double speed = vec_norm(velocity);
    if (speed < STILL_MPS)
        return true;
    double path = path_length(s, speed, s->cfg->brake_mps2);
    return room(s, vec_scale(velocity, 1 / speed), s->margin_m - SLACK_M, path, block) >= path;
}

/* A wish and how far it may run. */
struct way {
    struct vec3 velocity; /* the wish, slowed so that gentle braking ends in the room there is */
    double free_m;
    bool blocked; /* it had to be slowed, by *block */
};

static struct way slowed(const struct step *s, struct vec3 wish, double margin_m, struct volume_clearance *block)
{
    double speed = vec_norm(wish);
    if (speed < STILL_MPS)
        return (struct way){.blocked = false};
    struct vec3 direction = vec_scale(wish, 1 / speed);
    double gentle = path_length(s, speed, s->accel_mps2);
    double free_m = room(s, direction, margin_m, gentle, block);
    if (free_m >= gentle)
        return (struct way){wish, free_m, false};
    double limit = travel_speed_limit(free_m, s->reaction_s, s->accel_mps2, s->cfg->dt_s);
    return (struct way){vec_scale(direction, lesser(speed, limit)), free_m, true};
}

static struct vec3 capped(struct vec3 v, double most)
{
    double size = vec_norm(v);
    return size > most ? vec_scale(v, most / size) : v;
}

static double clearance_at(const struct volume_near *near, struct vec3 place)
{
    return volume_path_clearance(near, place, place, (double)INFINITY).distance_m;
}

/* Unit vector in which clearance grows fastest; zero where no direction stands out. */
static struct vec3 outward(const struct volume_near *near, struct vec3 at)
{
    static const struct vec3 axis[3] = {{SLOPE_STEP_M, 0, 0}, {0, SLOPE_STEP_M, 0}, {0, 0, SLOPE_STEP_M}};
    double rise[3];
    for (int i = 0; i < 3; i++)
        rise[i] = clearance_at(near, vec_add(at, axis[i])) - clearance_at(near, vec_sub(at, axis[i]));
    struct vec3 slope = {rise[0], rise[1], rise[2]};
    double steep = vec_norm(slope);
    return steep > SLOPE_STEP_M / 4 ? vec_scale(slope, 1 / steep) : (struct vec3){0, 0, 0};
}

/*
 * A wish that runs into something, turned to slide along it. Of its part towards the obstacle there stays what can
 * still be taken away in time: moving at v along a wall with a gap g, the path stays clear as long as the speed
 * towards it is below g v / path(v), which is about g / (reaction + v / 2a). Inside the gap that should be kept it is
 * negative, so the camera drifts back out instead of wandering in with the noise of its position. Inside the proven
 * margin it slides out as steeply as a way out must be (travel_away): nobody gets stuck at a wall by a millimetre.
 */
static struct vec3 along(const struct step *s, struct vec3 wish, double margin_m, double free_m)
{
    double speed = vec_norm(wish);
    struct vec3 out = outward(&s->near, vec_along(s->in->position, wish, free_m / speed));
    double into = -vec_dot(wish, out);
    struct vec3 level = vec_along(wish, out, into);
    if (s->near.nearest.distance_m < s->margin_m)
        return capped(vec_along(level, out, greater(-into, SLIDE_OUT * vec_norm(level))), speed);
    double short_of = s->near.nearest.distance_m - margin_m;
    double gap = short_of < 0 ? short_of : free_m * into / speed;
    double push = lesser(into, gap / (s->reaction_s + speed / (2 * s->accel_mps2)));
    return into > 0 ? capped(vec_along(level, out, -push), speed) : wish;
}

/*
 * The wish as far as it can be followed: straight on but slower, or turned along what is in the way, whichever gets
 * further. `block` is what is in the way, if anything. What the camera slides along it keeps clear of by more than it
 * then asks for on the way: else the noise of its position would make every other proof along a wall fail.
 */
static struct way steered(const struct step *s, struct vec3 wish, int turns, struct volume_clearance *block)
{
    double margin_m = s->margin_m + turns * (STAND_OFF_M + s->in->uncertainty_m);
    struct way straight = slowed(s, wish, margin_m, block);
    if (!straight.blocked || turns == 0)
        return straight;
    struct volume_clearance next;
    struct way turned = steered(s, along(s, wish, margin_m, straight.free_m), turns - 1, &next);
    if (vec_dot(turned.velocity, wish) > vec_dot(straight.velocity, wish)) {
        straight.velocity = turned.velocity;
        straight.blocked = vec_norm(vec_sub(turned.velocity, wish)) > STILL_MPS;
    }
    return straight;
}

static struct vec3 approached(struct vec3 from, struct vec3 to, double most)
{
    struct vec3 change = vec_sub(to, from);
    return vec_norm(change) > most ? vec_add(from, capped(change, most)) : to;
}

static struct vec3 braked(const struct guard_config *cfg, struct vec3 v, double elapsed_s)
{
    return approached(v, (struct vec3){0, 0, 0}, cfg->brake_mps2 * elapsed_s);
}

static void name_block(struct guard_output *out, const struct volume_clearance *block)
{
    bool keepout = block->bound == VOLUME_KEEPOUT;
    out->reasons |= reason_bit(keepout ? REASON_KEEPOUT : REASON_STAGE_EDGE);
    out->keepout = keepout ? block->keepout : -1;
}

static bool input_valid(const struct guard_input *in)
{
    return vec_finite(in->position) && vec_finite(in->wanted) && isfinite(vec_norm(in->wanted)) && in->age_s >= 0 &&
           isfinite(in->age_s) && in->uncertainty_m >= 0 && isfinite(in->uncertainty_m) && in->swing_rad >= 0 &&
           isfinite(in->swing_rad) && in->accel_mps2 > 0;
}

/* Hysteresis, so that a swing about the limit does not make the camera stop and go. */
static void judge_swing(const struct guard_config *cfg, struct guard *guard, double swing_rad)
{
    double limit = guard->settling ? cfg->swing_max_rad / 2 : cfg->swing_max_rad;
    guard->settling = swing_rad > limit;
}

static struct guard_output started(const struct step *s)
{
    return (struct guard_output){
        .margin_m = s->margin_m,
        .nearest = s->near.nearest,
        .keepout = -1,
        .reasons = s->near.nearest.distance_m < 0 ? reason_bit(REASON_OUT_OF_VOLUME) : 0,
    };
}

void guard_step(const struct guard_config *cfg, struct guard *guard, double elapsed_s, const struct guard_input *in,
                struct guard_output *out)
{
    if (!input_valid(in)) {
        guard_brake(cfg, guard, elapsed_s, NULL, out);
        return;
    }
    struct step s;
    struct volume_clearance block;
    begin(cfg, guard, in, &s);
    *out = started(&s);
    judge_swing(cfg, guard, in->swing_rad);

    struct vec3 wish = capped(in->wanted, cfg->speed_mps);
    struct way way = steered(&s, wish, TURNS, &block);
    struct vec3 next = approached(guard->velocity, way.velocity, s.accel_mps2 * lesser(elapsed_s, cfg->dt_s));
    if (way.blocked)
        name_block(out, &block);
    if (!provable(&s, next, &block)) {
        out->fallback = true;
        if (!way.blocked)
            name_block(out, &block);
    }
    if (vec_norm(in->wanted) > cfg->speed_mps)
        out->reasons |= reason_bit(REASON_SPEED_LIMIT);
    if (guard->settling)
        out->reasons |= reason_bit(REASON_SWING);

    guard->velocity = out->fallback || guard->settling ? braked(cfg, guard->velocity, elapsed_s) : next;
    out->velocity = guard->velocity;
    out->braking_m = path_length(&s, vec_norm(out->velocity), cfg->brake_mps2);
}

void guard_brake(const struct guard_config *cfg, struct guard *guard, double elapsed_s, const struct guard_input *in,
                 struct guard_output *out)
{
    guard->velocity = braked(cfg, guard->velocity, elapsed_s);
    double speed = vec_norm(guard->velocity);
    *out = (struct guard_output){.velocity = guard->velocity, .fallback = speed > 0, .keepout = -1};
    if (in && input_valid(in)) {
        judge_swing(cfg, guard, in->swing_rad);
        out->margin_m = guard_margin(cfg, in);
        struct volume_now now = volume_now_usual();
        out->nearest = volume_clearance(&cfg->volume, &now, in->position);
        out->reasons = out->nearest.distance_m < 0 ? reason_bit(REASON_OUT_OF_VOLUME) : 0;
    }
    out->braking_m = speed * reaction(cfg, in && input_valid(in) ? in->age_s : 0) +
                     travel_stop_distance(speed, cfg->brake_mps2, cfg->dt_s);
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
