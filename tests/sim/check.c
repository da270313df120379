/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/check.h"

#define ROUNDING  1e-9
#define SETTLED_S 3.0 /* a wish that stays the same has come true by then, or a reason says why not */
#define CRAWL_MPS 0.1 /* what the cords' own give leaves of a stop, at most */
#define RINGS_S   0.5 /* and for so long */

const char *const check_names[CHECK_COUNT] = {
    [CHECK_UNTOUCHED] = "nothing touches while the rig does what its config promises",
    [CHECK_BOUNDED] = "speed and acceleration are bounded, and every number is finite",
    [CHECK_STOP_WINS] = "nothing moves under a stop, or before reset and then go",
    [CHECK_RESTS] = "after a stop, or silence on either side, the rig truly is at rest in its stated time",
    [CHECK_NOTICED] = "a fault beyond the promise is noticed in its time, and motion not permitted while it shows",
    [CHECK_EXPLAINED] = "what was not followed has a reason",
    [CHECK_REPLAYED] = "the same inputs give the same outputs, bit for bit",
    [CHECK_BUSY] =
        "the camera moved, met obstacles, and every fault came about often enough for this to mean something",
};

static const struct check_fault holds = {CHECK_COUNT, 0, 0};

static bool finite_output(const struct policy_output *out)
{
    bool finite = vec_finite(out->intent.velocity) && vec_finite(out->wanted) && vec_finite(out->goal) &&
                  isfinite(out->guard.margin_m) && isfinite(out->guard.braking_m) &&
                  isfinite(out->guard.nearest.distance_m);
    for (int i = 0; i < out->intent.cords; i++)
        finite = finite && isfinite(out->intent.cord_rate_mps[i]);
    return finite;
}

static struct check_fault bounded(const struct run *run, const struct policy_output *out)
{
    double elapsed_s = run->account.elapsed_s;
    const struct guard_config *guard = &run->scene.cfg.guard;
    double speed = vec_norm(out->intent.velocity), before = vec_norm(run->account.sent);
    double change = vec_norm(vec_sub(out->intent.velocity, run->account.sent));
    if (!finite_output(out))
        return (struct check_fault){CHECK_BOUNDED, (double)NAN, 0};
    if (!(speed <= guard->speed_mps + ROUNDING))
        return (struct check_fault){CHECK_BOUNDED, speed, guard->speed_mps};
    if (!(change <= guard->brake_mps2 * elapsed_s + ROUNDING))
        return (struct check_fault){CHECK_BOUNDED, change, guard->brake_mps2 * elapsed_s};
    if (!out->intent.motion && speed > before + ROUNDING)
        return (struct check_fault){CHECK_BOUNDED, speed, before};
    return holds;
}

/* A stop asks for a reset and then a go, in two ticks, neither of them inhibited. */
static struct check_fault stop_wins(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    struct run_account *a = &run->account;
    bool must_stop = a->pressed || a->late || a->absent;
    if (must_stop)
        a->reset_seen = a->go_seen = false;
    bool allowed = a->go_seen;
    if (!must_stop && in->stop.event == STOP_EVENT_GO && a->reset_seen)
        allowed = a->go_seen = true;
    if (!must_stop && in->stop.event == STOP_EVENT_RESET)
        a->reset_seen = true;
    if (a->moved && !out->intent.motion) /* it stopped for a reason of its own: that latches too */
        a->reset_seen = a->go_seen = false;
    bool permitted = out->intent.permit == out->intent.stop_count;
    bool sound = stop_valid(&run->core.policy.stop) && out->intent.stop_count > in->stop.asked;
    if ((out->intent.motion && !allowed) || out->intent.motion != permitted || !sound)
        return (struct check_fault){CHECK_STOP_WINS, out->intent.motion, allowed};
    return holds;
}

/* When the fault began to show, and until when it must have been noticed. */
static uint64_t notice_until(struct run *run, const struct policy_input *in)
{
    const struct fault_kind *kind = &fault_kinds[run->scene.trouble.fault];
    struct run_account *a = &run->account;
    uint64_t timeout_ns = run->scene.cfg.telemetry_timeout_ns;
    uint64_t report_ns = (uint64_t)(run->scene.sense.ticks_a_report * SCENE_STEPS_A_TICK) * SCENE_STEP_NS;
    (void)in;
    if (!run->active)
        a->shown_ns = a->noticed_ns = 0;
    else if (a->shown_ns == 0)
        a->shown_ns = kind->notice_s == 0 ? a->heard_ns : run->now_ns;
    if (kind->notice_s == 0)
        return a->heard_ns + timeout_ns + 1;
    return a->shown_ns + (uint64_t)(kind->notice_s * 1e9) + run_to_core_ns(run) + 2 * report_ns;
}

static struct check_fault noticed(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    const struct fault_kind *kind = &fault_kinds[run->scene.trouble.fault];
    struct run_account *a = &run->account;
    uint64_t until = notice_until(run, in);
    if (kind->demand == FAULT_MOVES || !run->active)
        return holds;
    if (!out->intent.motion && a->noticed_ns == 0)
        a->noticed_ns = run->now_ns;
    bool excused = kind->demand == FAULT_STOPS && a->noticed_ns != 0;
    if (!out->intent.motion || excused || run->now_ns < until)
        return holds;
    return (struct check_fault){CHECK_NOTICED, (double)(run->now_ns - a->shown_ns) * 1e-9,
                                (double)(until - a->shown_ns) * 1e-9};
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
    if (a->alike * run->scene.cfg.guard.dt_s > SETTLED_S && missing > 1e-3 && out->reasons == 0)
        return (struct check_fault){CHECK_EXPLAINED, missing, 0};
    return holds;
}

struct check_fault check_tick(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    struct run_account *a = &run->account;
    struct check_fault found = holds;
    const struct check_fault all[] = {bounded(run, out), stop_wins(run, in, out), noticed(run, in, out),
                                      explained(run, out)};
    for (unsigned i = 0; i < sizeof all / sizeof *all && found.check == CHECK_COUNT; i++)
        found = all[i];
    a->moved = out->intent.motion;
    if (out->intent.motion)
        a->moved_ns = run->now_ns;
    a->sent = out->intent.velocity;
    return found;
}

/* From the last intent with motion on: its way, its lease, and braking. */
static struct check_fault rests(const struct run *run)
{
    const struct scene *s = &run->scene;
    double since_s = (double)(run->now_ns - run->account.moved_ns) * 1e-9;
    double brakes_s = s->cfg.guard.speed_mps / s->cfg.guard.brake_mps2;
    double allowed_s = s->cfg.guard.lease_s + brakes_s + 0.02;
    double speed = vec_norm(run->machine.controller.velocity), true_speed = vec_norm(run->machine.physics.velocity);
    if (since_s > allowed_s && speed > 0)
        return (struct check_fault){CHECK_RESTS, speed, 0};
    if (since_s > allowed_s + RINGS_S + 5 * s->lag_s && true_speed > CRAWL_MPS)
        return (struct check_fault){CHECK_RESTS, true_speed, CRAWL_MPS};
    return holds;
}

struct check_fault check_truth(const struct run *run)
{
    const struct scene_trouble *t = &run->scene.trouble;
    bool broken = fault_kinds[t->fault].physical && run->tick > t->begin;
    if (broken)
        return holds;
    if (!(run->truth.least_m > 0))
        return (struct check_fault){CHECK_UNTOUCHED, run->truth.least_m, 0};
    return rests(run);
}

static uint64_t fold(uint64_t digest, const void *bytes, size_t size)
{
    const unsigned char *b = bytes;
    for (size_t i = 0; i < size; i++)
        digest = (digest ^ b[i]) * 0x100000001b3u; /* FNV-1a */
    return digest;
}

#define FOLD(field) digest = fold(digest, &(field), sizeof(field))

uint64_t check_digest(uint64_t digest, const struct policy_output *out)
{
    FOLD(out->intent.velocity);
    FOLD(out->intent.cord_rate_mps);
    FOLD(out->intent.motion);
    FOLD(out->intent.stop_count);
    FOLD(out->intent.permit);
    FOLD(out->stop_state);
    FOLD(out->stop_reason);
    FOLD(out->lane);
    FOLD(out->wanted);
    FOLD(out->reasons);
    FOLD(out->guard.margin_m);
    FOLD(out->guard.nearest.distance_m);
    FOLD(out->guard.braking_m);
    FOLD(out->goal_set);
    FOLD(out->goal);
    return digest;
}
