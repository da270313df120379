/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/lanes.h"

#include "policy/motion/travel.h"

#define REACHED_M 0.01
/* With a delay T in the loop, a speed of distance / r settles without overshoot for r > e T (Wright 1946). */
#define SETTLE_PER_LATENCY 3.0
#define SETTLE_TICKS       2.0
#define LONGEST_WISH       1e100 /* nobody means more, and its square is still a number */

static const struct vec3 zero = {0, 0, 0};

void lanes_init(struct lanes *lanes)
{
    *lanes = (struct lanes){.lane = LANE_IDLE};
}

/* Precedence, in one place: the highest present lane drives. */
enum lane lanes_present(const struct lanes_input *in)
{
    if (in->operator_holds)
        return LANE_OPERATOR;
    if (in->audience_open && in->audience_fresh)
        return LANE_AUDIENCE;
    return LANE_IDLE;
}

/* What cannot be followed counts as stay. To stay asks for no velocity, whatever stands beside it. */
static struct wish understood(const struct wish *wish, reason_set *reasons)
{
    bool moves = wish->kind == WISH_VELOCITY || wish->kind == WISH_NUDGE;
    if (moves && vec_norm(wish->v) <= LONGEST_WISH) /* false for NaN */
        return *wish;
    if (moves || wish->kind != WISH_STAY)
        *reasons |= reason_bit(REASON_BAD_WISH);
    return (struct wish){.kind = WISH_STAY};
}

static bool asks(const struct wish *wish)
{
    return wish->kind != WISH_STAY && vec_norm(wish->v) > 0;
}

/* Why the audience is not heard, if it is not. */
static reason_set turned_away(const struct lanes_input *in, enum lane lane, const struct wish *audience)
{
    if (lane == LANE_AUDIENCE)
        return 0;
    if (!in->audience_open)
        return asks(audience) ? reason_bit(REASON_AUDIENCE_CLOSED) : 0;
    if (lane == LANE_OPERATOR)
        return asks(audience) ? reason_bit(REASON_OPERATOR_HAS_IT) : 0;
    return reason_bit(REASON_CROWD_SILENT);
}

/* True once for every new nudge, whether anybody may follow it or not. */
static bool seen_first(struct lanes *lanes, enum lane lane, const struct wish *wish)
{
    if (wish->kind != WISH_NUDGE || wish->id == 0 || wish->id == lanes->nudge_id[lane])
        return false;
    lanes->nudge_id[lane] = wish->id;
    return true;
}

static struct vec3 cut(struct vec3 v, double most, reason_set *reasons, enum reason why)
{
    if (vec_norm(v) <= most)
        return v;
    *reasons |= reason_bit(why);
    return vec_capped(v, most);
}

static void drop_goal(struct lanes *lanes)
{
    lanes->goal_set = false;
    lanes->goal = zero;
    lanes->goal_age_s = 0;
}

static void set_goal(const struct lanes_config *cfg, struct lanes *lanes, struct vec3 from, struct vec3 step,
                     reason_set *reasons)
{
    drop_goal(lanes);
    lanes->goal = vec_add(from, cut(step, cfg->max_nudge_m, reasons, REASON_BAD_WISH));
    lanes->goal_set = true;
}

/* Towards the goal, no faster than it can still brake for it: the acceleration takes accel / jerk to build up. */
static struct vec3 to_goal(const struct lanes_config *cfg, struct lanes *lanes, const struct lanes_rig *rig,
                           double speed_mps, double accel_mps2)
{
    struct vec3 way = vec_sub(lanes->goal, vec_add(rig->position, rig->ahead));
    double distance = vec_norm(way), build_s = accel_mps2 / rig->limits.jerk_mps3;
    double settle_s = SETTLE_PER_LATENCY * rig->latency_s + SETTLE_TICKS * cfg->dt_s + build_s;
    lanes->goal_age_s += cfg->dt_s;
    if (!(distance > REACHED_M) || lanes->goal_age_s > cfg->goal_timeout_s) {
        drop_goal(lanes);
        return zero;
    }
    double arrive = travel_speed_limit(distance, settle_s, accel_mps2, cfg->dt_s);
    return vec_capped(vec_scale(way, arrive / distance), speed_mps);
}

/* 0..1, and 0 for what is not a number: only the audience is scaled. */
static double scale_of(const struct lanes_input *in, enum lane lane)
{
    if (lane != LANE_AUDIENCE)
        return 1;
    return in->audience_scale > 0 ? lesser(in->audience_scale, 1) : 0;
}

static void drive(const struct lanes_config *cfg, struct lanes *lanes, const struct lanes_rig *rig,
                  const struct wish *wish, double speed_mps, struct lanes_output *out)
{
    if (wish->kind != WISH_NUDGE)
        drop_goal(lanes);
    if (wish->kind == WISH_VELOCITY) {
        out->wanted = vec_scale(cut(wish->v, 1, &out->reasons, REASON_SPEED_LIMIT), speed_mps);
        out->asked_mps = lesser(vec_norm(wish->v) * speed_mps, SHAPE_FAR_M);
        return;
    }
    if (lanes->goal_set)
        out->wanted = to_goal(cfg, lanes, rig, speed_mps, out->accel_mps2);
    out->asked_mps = vec_norm(out->wanted);
}

void lanes_step(const struct lanes_config *cfg, struct lanes *lanes, const struct lanes_input *in,
                const struct lanes_rig *rig, struct lanes_output *out)
{
    enum lane lane = lanes_present(in);
    *out = (struct lanes_output){.lane = lane, .wanted = zero};
    struct wish wish[LANE_COUNT] = {
        [LANE_IDLE] = {.kind = WISH_STAY},
        [LANE_AUDIENCE] = understood(&in->audience_wish, &out->reasons),
        [LANE_OPERATOR] = understood(&in->operator_wish, &out->reasons),
    };
    out->accel_mps2 = lesser(rig->limits.accel_mps2, cfg->brake_mps2);
    out->reasons |= turned_away(in, lane, &wish[LANE_AUDIENCE]);
    if (lane != lanes->lane || !rig->may_move)
        drop_goal(lanes);
    lanes->lane = lane;
    for (int l = 0; l < LANE_COUNT; l++) {
        bool new_nudge = seen_first(lanes, (enum lane)l, &wish[l]);
        if (new_nudge && l == (int)lane && rig->may_move)
            set_goal(cfg, lanes, rig->position, wish[l].v, &out->reasons);
    }
    drive(cfg, lanes, rig, &wish[lane], rig->limits.speed_mps * scale_of(in, lane), out);
}

bool lanes_config_valid(const struct lanes_config *cfg)
{
    return cfg->brake_mps2 > 0 && isfinite(cfg->brake_mps2) && cfg->dt_s > 0 && isfinite(cfg->dt_s) &&
           cfg->max_nudge_m > 0 && isfinite(cfg->max_nudge_m) && cfg->goal_timeout_s > 0 &&
           isfinite(cfg->goal_timeout_s);
}
