/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/check.h"

#include "tests/sim/aim.h"
#include "tests/sim/bounds.h"
#include "tests/sim/notice.h"

#define ROUNDING 1e-9
/* A wish that stays the same has come true by then, and the time to get there, or has a reason. */
#define SETTLED_S 2.0
#define CRAWL_MPS 0.02
#define LOOK_S    0.01
#define THROUGH_M                                                                                                      \
    0.05 /* whoever runs deeper into the camera runs through it: nothing is towards or away until they are out again   \
          */
#define STANDS_M 0.03 /* with four times the give of the cords: how far it may ring about where it was stopped */

const char *const check_names[CHECK_COUNT] = {
    [CHECK_UNTOUCHED] = "nothing touches while the rig does what its config promises",
    [CHECK_SUBJECT] = "the camera does not move on towards somebody whom it touches",
    [CHECK_BOUNDED] = "speed, acceleration, jerk and head rates are bounded, and every number is finite",
    [CHECK_STOP_WINS] = "nothing moves under a stop, or before reset and then go",
    [CHECK_RESTS] = "after a stop, or silence on either side, the rig truly is at rest in its stated time",
    [CHECK_AIMED] = "the head keeps to its axes and out of its regions, and does not go to and fro",
    [CHECK_UNSEEN] = "the picture never shows what it must not",
    [CHECK_NOTICED] =
        "a fault beyond the promise is noticed in its time for what it is, and forbids motion while it shows",
    [CHECK_EXPLAINED] = "what was not followed has a reason",
    [CHECK_REPLAYED] = "the same inputs give the same outputs, bit for bit",
    [CHECK_BUSY] =
        "the camera moved, met obstacles, every fault came about and every reason, often enough to mean something",
};

static const struct check_fault holds = {CHECK_COUNT, 0, 0};

/* A stop asks for a reset and then a go, in two ticks, neither of them inhibited; where the power was off, for arming
 * in between. */
static struct check_fault stop_wins(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    struct run_account *a = &run->account;
    bool must_stop = a->pressed || a->late || a->absent;
    if (must_stop)
        a->reset_seen = a->go_seen = false;
    bool allowed = a->go_seen;
    if (!must_stop && in->stop.event == STOP_EVENT_GO && a->reset_seen && a->arm_seen)
        allowed = a->go_seen = true;
    if (!must_stop && (in->stop.event == STOP_EVENT_RESET || in->stop.event == STOP_EVENT_ARM))
        a->reset_seen = true;
    a->arm_seen = out->intent.power && (a->arm_seen || in->stop.event == STOP_EVENT_ARM);
    if (out->stop_state == STOP_HOLDING)
        a->go_seen = false;
    else if (a->moved && !out->intent.motion) /* it stopped for a reason of its own: that latches too */
        a->reset_seen = a->go_seen = false;
    bool permitted = out->intent.permit == out->intent.stop_count;
    bool sound = stop_valid(&run->core.policy.stop) && out->intent.stop_count > in->stop.asked;
    if ((out->intent.motion && !allowed) || out->intent.motion != permitted || !sound)
        return (struct check_fault){CHECK_STOP_WINS, out->intent.motion, allowed};
    return holds;
}

/* Without motion permitted nothing is commanded any more, once there was time to brake. */
static struct check_fault halts(struct run *run, const struct policy_output *out)
{
    const struct policy_config *cfg = &run->scene.cfg;
    struct run_account *a = &run->account;
    double brakes_s = cfg->guard.speed_mps / cfg->guard.brake_mps2 + 2 * cfg->guard.dt_s;
    double speed = vec_norm(out->intent.velocity);
    a->halted_s = out->intent.motion ? 0 : a->halted_s + a->elapsed_s;
    if (a->halted_s > brakes_s && speed > 0)
        return (struct check_fault){CHECK_RESTS, speed, 0};
    for (int i = 0; i < out->intent.cords; i++)
        if (fabs(out->intent.cord_rate_mps[i]) > speed + ROUNDING)
            return (struct check_fault){CHECK_RESTS, out->intent.cord_rate_mps[i], speed};
    for (int i = 0; a->halted_s > 0 && cfg->head.there && i < HEAD_AXES; i++) {
        const struct profile_limits *l = &cfg->head.config.axis[i].limits;
        double stops_s = l->speed / l->accel + 2 * l->accel / l->jerk + 2 * cfg->guard.dt_s;
        if (a->halted_s > stops_s && fabs(out->intent.head_rate[i]) > ROUNDING)
            return (struct check_fault){CHECK_RESTS, out->intent.head_rate[i], 0};
    }
    return holds;
}

static struct check_fault noticed(struct run *run, const struct policy_output *out)
{
    double overdue_s;
    if (!notice_overdue(run, out, &overdue_s))
        return holds;
    return (struct check_fault){CHECK_NOTICED, overdue_s, 0};
}

/* How long the gentlest lane takes from full speed one way to full speed the other. */
static double turning_s(const struct policy_config *cfg)
{
    double slowest = INFINITY, steepest = INFINITY;
    for (int l = 0; l < LANE_COUNT; l++)
        for (int m = 0; m < LIMITS_MODES; m++) {
            slowest = fmin(slowest, cfg->limits.cell[l][m].accel_mps2);
            steepest = fmin(steepest, cfg->limits.cell[l][m].jerk_mps3 / cfg->limits.cell[l][m].accel_mps2);
        }
    return 2 * cfg->guard.speed_mps / slowest + 2 / steepest;
}

static struct check_fault explained(struct run *run, const struct policy_output *out)
{
    struct run_account *a = &run->account;
    bool same = vec_norm(vec_sub(out->wanted, a->wanted)) <= ROUNDING;
    a->alike = same && out->intent.motion ? a->alike + 1 : 0;
    a->wanted = out->wanted;
    if (!out->intent.motion)
        return out->stop_reason != REASON_NONE ? holds : (struct check_fault){CHECK_EXPLAINED, 0, 0};
    double missing = vec_norm(vec_sub(out->wanted, out->intent.velocity));
    double for_s = a->alike * run->scene.cfg.guard.dt_s;
    if (for_s > SETTLED_S + turning_s(&run->scene.cfg) && missing > 1e-3 && out->reasons == 0)
        return (struct check_fault){CHECK_EXPLAINED, missing, 0};
    return holds;
}

struct check_fault check_tick(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    struct run_account *a = &run->account;
    struct check_fault found = holds;
    const struct check_fault all[] = {bounds_tick(run, out), stop_wins(run, in, out), halts(run, out),
                                      noticed(run, out),     explained(run, out),     aim_tick(run, in, out)};
    for (unsigned i = 0; i < sizeof all / sizeof *all && found.check == CHECK_COUNT; i++)
        found = all[i];
    a->moved = out->intent.motion;
    if (out->intent.motion)
        a->moved_ns = run->now_ns;
    if (out->mode == LIMITS_LOW)
        a->yielded_ns = run->now_ns;
    if (out->mode == LIMITS_SETUP)
        a->setup_ns = run->now_ns;
    a->change = vec_sub(out->intent.velocity, a->sent);
    a->sent = out->intent.velocity;
    return found;
}

/* From the last intent with motion on: its lease, and braking. */
static double rest_allowed_s(const struct run *run)
{
    const struct guard_config *guard = &run->scene.cfg.guard;
    return guard->lease_s + guard->speed_mps / guard->brake_mps2 + 0.02;
}

static double since_motion_s(const struct run *run)
{
    return (double)(run->now_ns - run->account.moved_ns) * 1e-9;
}

/* Winches and head are told to stand still, whatever has befallen. */
static struct check_fault stands(const struct run *run)
{
    const struct sim_head_config *head = &run->scene.head;
    double since_s = since_motion_s(run), allowed_s = rest_allowed_s(run);
    double speed = vec_norm(run->machine.controller.velocity);
    if (since_s > allowed_s && speed > 0)
        return (struct check_fault){CHECK_RESTS, speed, 0};
    for (int i = 0; head->there && since_s > allowed_s && i < HEAD_AXES; i++)
        if (since_s > allowed_s + head->axis[i].speed / head->axis[i].accel &&
            fabs(run->machine.head.rate[i]) > ROUNDING)
            return (struct check_fault){CHECK_RESTS, run->machine.head.rate[i], 0};
    return holds;
}

static struct check_fault rests(const struct run *run)
{
    const struct scene *s = &run->scene;
    double since_s = since_motion_s(run), allowed_s = rest_allowed_s(run);
    double off = vec_norm(vec_sub(run->machine.physics.position, run->machine.controller.reference));
    if (since_s > allowed_s + 5 * s->lag_s && off > STANDS_M + 4 * s->slip_m)
        return (struct check_fault){CHECK_RESTS, off, STANDS_M + 4 * s->slip_m};
    return holds;
}

static bool promised(const struct run *run)
{
    const struct scene_trouble *t = &run->scene.trouble;
    enum fault_touch touch = fault_kinds[t->fault].touch;
    if (t->fault == FAULT_FROZEN && !run->scene.cfg.locates)
        touch = FAULT_UNTIL_THEN; /* a pose that is believed as it is is believed for ever */
    return touch == FAULT_NEVER || run->tick <= t->begin || (touch == FAULT_UNTIL_GO && !run->notice.again);
}

/* Whoever walks into the camera does; but body and boom must not be on their way towards them then. Of cords and tether
 * that is not asserted: the policy knows how deep they are in what somebody may have come to only roughly. */
static struct check_fault near_subject(struct run *run)
{
    const struct volume *vol = &run->scene.cfg.guard.volume;
    struct truth_pose pose = run->truth.pose;
    int part;
    double left = pose.subject && run->truth.subject_m <= 0 ? truth_subject(vol, &pose, TRUTH_CORD, &part) : 1;
    run->account.through = left <= -THROUGH_M || (run->account.through && left <= 0);
    if (left > 0 || run->account.through)
        return holds;
    struct vec3 step = vec_scale(run->machine.controller.velocity, LOOK_S);
    pose.platform = vec_add(pose.platform, step);
    pose.body = vec_add(pose.body, step);
    double closing = (left - truth_subject(vol, &pose, TRUTH_CORD, &part)) / LOOK_S;
    if (closing > CRAWL_MPS)
        return (struct check_fault){CHECK_SUBJECT, left, closing};
    return holds;
}

struct check_fault check_truth(struct run *run)
{
    struct check_fault found = stands(run);
    notice_watch(run);
    if (found.check != CHECK_COUNT || !promised(run))
        return found;
    run->least_m = run->truth.least_m;
    if (!(run->truth.least_m > 0))
        return (struct check_fault){CHECK_UNTOUCHED, run->truth.least_m, 0};
    const struct check_fault all[] = {near_subject(run), rests(run), bounds_truth(run), aim_truth(run)};
    for (unsigned i = 0; i < sizeof all / sizeof *all && found.check == CHECK_COUNT; i++)
        found = all[i];
    return found;
}
