/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/property/checks.h"

#include <string.h>

#define ROUNDING 1e-9

const char *const check_names[CHECK_COUNT] = {
    [CHECK_UNTOUCHED] = "nothing of the rig ever touches anything",
    [CHECK_STOPPABLE] = "from every tick, silence ends without touching",
    [CHECK_BOUNDED] = "speed and acceleration are bounded, and every number is finite",
    [CHECK_STOP_WINS] = "nothing moves under a stop, or before reset and then go",
    [CHECK_AUTHORITY] = "the audience changes nothing while the operator holds",
    [CHECK_FRESH] = "a nudge moves the camera when it is new, or never",
    [CHECK_SMOOTH] = "jerk, acceleration and speed are within the limits in force",
    [CHECK_SLOW] = "slow zones are slow, whoever drives",
    [CHECK_LOW] = "nothing is low, or in what yields, without a spotter",
    [CHECK_HEAD] = "the head keeps its rates and its ends",
    [CHECK_EXPLAINED] = "a velocity that was not asked for has a reason",
    [CHECK_REPLAYED] = "the same inputs give the same outputs, bit for bit",
    [CHECK_BUSY] = "the camera moved, met obstacles and was stopped often enough for all this to mean something",
};

static bool finite_output(const struct policy_output *out)
{
    bool finite = vec_finite(out->intent.velocity) && vec_finite(out->wanted) && vec_finite(out->goal) &&
                  vec_finite(out->guard.velocity) && isfinite(out->guard.margin_m) && isfinite(out->guard.braking_m) &&
                  isfinite(out->guard.nearest.distance_m);
    for (int i = 0; i < out->intent.cords; i++)
        finite = finite && isfinite(out->intent.cord_rate_mps[i]) && isfinite(out->intent.cord_tension_n[i]);
    for (int i = 0; i < HEAD_AXES; i++)
        finite = finite && isfinite(out->intent.head_rate[i]);
    for (int i = 0; i < REASON_COUNT; i++)
        finite = finite && isfinite(out->detail[i].value) && isfinite(out->detail[i].limit);
    finite = finite && vec_finite(out->place.position) && vec_finite(out->place.velocity) &&
             isfinite(out->place.uncertainty_m) && isfinite(out->tension_margin_n);
    return finite;
}

bool check_bounded(const struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    const struct guard_config *guard = &run->room.cfg.guard;
    double elapsed_s = (double)(run->rig.now_ns - run->last_ns) * 1e-9;
    double speed = vec_norm(out->intent.velocity), before = vec_norm(run->last_velocity);
    double change = vec_norm(vec_sub(out->intent.velocity, run->last_velocity));
    bool swings = in->rig.seq == run->policy.last.seq && in->rig.swing_rad > guard->swing_max_rad;
    bool slows = (out->intent.motion && !swings) || speed <= before + ROUNDING;
    return finite_output(out) && speed <= guard->speed_mps + ROUNDING &&
           change <= guard->brake_mps2 * elapsed_s + ROUNDING && slows &&
           out->intent.cords == guard->volume.outline.cords;
}

/* A stop, or an inhibit, asks for a reset and then a go, in two ticks, neither of them inhibited; a start, or one that
 * took the power off, for arming in between. */
bool check_stop_wins(struct run *run, const struct policy_input *in, const struct hostile_told *told,
                     const struct policy_output *out)
{
    if (told->pressed || told->must_stop)
        run->reset_seen = run->go_seen = false;
    bool held = in->stop.event == STOP_EVENT_HOLD && out->stop_state == STOP_HOLDING;
    bool allowed = run->go_seen && !told->must_stop;
    if (!told->must_stop && in->stop.event == STOP_EVENT_GO && run->reset_seen && run->arm_seen)
        allowed = run->go_seen = true;
    if (!told->must_stop && (in->stop.event == STOP_EVENT_RESET || in->stop.event == STOP_EVENT_ARM))
        run->reset_seen = true;
    run->arm_seen = out->intent.power && (run->arm_seen || in->stop.event == STOP_EVENT_ARM);
    if (held)
        run->go_seen = false;
    else if (run->moved_last && !out->intent.motion) /* it stopped for a reason of its own: that latches too */
        run->reset_seen = run->go_seen = false;
    bool counted = !run->moved_last || out->intent.motion || out->intent.stop_count > run->last_count;
    run->last_count = out->intent.stop_count;
    run->moved_last = out->intent.motion;
    bool severe = out->stop_state == STOP_LATCHED && out->stop_category != STOP_CATEGORY_2;
    if (out->intent.motion && (!out->intent.power || out->intent.category != STOP_CATEGORY_2))
        return false;
    if (out->intent.power && (severe || out->stop_state == STOP_PARKED))
        return false;
    bool permitted = out->intent.permit == out->intent.stop_count;
    return (!out->intent.motion || allowed) && out->intent.motion == permitted && counted &&
           out->intent.stop_count > in->stop.asked && stop_valid(&run->policy.stop);
}

bool check_authority(const struct run *run, const struct policy *before, const struct policy_input *in,
                     const struct policy_output *out, struct random *r)
{
    if (!in->lanes.operator_holds)
        return out->lane != LANE_OPERATOR;
    struct policy other = *before;
    struct policy_input scrambled = *in;
    struct policy_output then;
    hostile_scramble_audience(r, &scrambled.lanes);
    policy_step(&run->room.cfg, &other, &scrambled, &then);
    return out->lane == LANE_OPERATOR &&
           memcmp(&then.intent.velocity, &out->intent.velocity, sizeof(struct vec3)) == 0 &&
           memcmp(&then.wanted, &out->wanted, sizeof(struct vec3)) == 0 &&
           memcmp(&then.goal, &out->goal, sizeof(struct vec3)) == 0 && then.intent.motion == out->intent.motion;
}

/* No goal under a stop, and no new goal but from a nudge that the driving lane has not shown before. */
bool check_fresh(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    const struct wish *wish[LANE_COUNT] = {NULL, &in->lanes.audience_wish, &in->lanes.operator_wish};
    bool new_goal = out->goal_set && vec_norm(vec_sub(out->goal, run->last_goal)) > 0;
    bool shown_first = false;
    for (int l = LANE_AUDIENCE; l < LANE_COUNT; l++) {
        if (wish[l]->kind != WISH_NUDGE)
            continue;
        shown_first = shown_first || (l == (int)out->lane && wish[l]->id != run->shown_id[l]);
        run->shown_id[l] = wish[l]->id;
    }
    run->last_goal = out->goal_set ? out->goal : (struct vec3){0, 0, 0};
    return (out->intent.motion || !out->goal_set) && (!new_goal || shown_first);
}

/* As asked: closer to what was wanted by what the lane's acceleration allows in the time, or there. */
bool check_explained(const struct run *run, const struct policy_output *out)
{
    const reason_set why = reason_bit(REASON_KEEPOUT) | reason_bit(REASON_STAGE_EDGE) | reason_bit(REASON_SWING) |
                           reason_bit(REASON_SPEED_LIMIT) | reason_bit(REASON_OUT_OF_VOLUME) |
                           reason_bit(REASON_SLOW_ZONE) | reason_bit(REASON_LAG_LIMIT) |
                           reason_bit(REASON_TENSION_LIMIT) | reason_bit(REASON_SPOTTER_NEEDED);
    if (!out->intent.motion)
        return out->stop_reason != REASON_NONE;
    const struct policy_config *cfg = &run->room.cfg;
    if (cfg->swing.taps > 1 || out->limits.jerk_mps3 < LIMITS_JERK_FREE || run->policy.shape.braking)
        return true; /* shaped: it takes its time */
    double elapsed_s = fmin((double)(run->rig.now_ns - run->last_ns) * 1e-9, cfg->guard.dt_s);
    double most = out->limits.accel_mps2 * elapsed_s;
    struct vec3 missing = vec_sub(out->wanted, run->last_velocity);
    double size = vec_norm(missing);
    struct vec3 asked = size > most ? vec_along(run->last_velocity, missing, most / size) : out->wanted;
    return vec_norm(vec_sub(asked, out->intent.velocity)) <= ROUNDING || (out->reasons & why);
}

bool check_busy(const struct tally_of_run *t)
{
    double all = (double)t->ticks;
    return (double)t->running > 0.3 * all && (double)t->moving > 0.2 * all && (double)t->blocked > 0.02 * all &&
           (double)t->shaped > 0.1 * all && t->slowed > 0 && t->low > 0 && t->turning > 0 && t->fallback > 0 &&
           t->inside > 0 && t->nudging > 0 && t->swinging > 0;
}
