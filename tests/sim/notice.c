/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/notice.h"

#define DRIFTED_M   0.3
#define DRIFTED_S   1.0
#define ANCHOR_M    0.15
#define ANCHOR_S    1.5
#define CLEAR_SHARE 0.02 /* of the load: so far beyond a limit it is beyond any noise and bias of the sensor */
#define TICK_S      (SCENE_STEP_S * SCENE_STEPS_A_TICK)

/* The length that is measured of the cord, against where its anchor is believed to be. */
static void watch_anchor(struct run *run)
{
    int c = run->scene.trouble.cord;
    struct vec3 believed = vec_sub(run->scene.physics.anchor[c], run->machine.physics.position);
    bool off = fabs(vec_norm(believed) - run->machine.physics.length_m[c]) > ANCHOR_M;
    run->notice.astray_s = off && run->active ? run->notice.astray_s + TICK_S : 0;
}

void notice_watch(struct run *run)
{
    const struct scene *s = &run->scene;
    const struct tension_rig *rig = &s->cfg.anticipate.rig;
    double clear = CLEAR_SHARE * s->controller.load_n;
    for (int i = 0; i < rig->cords; i++) {
        double t = run->machine.physics.tension_n[i];
        bool beyond = t < rig->min_n[i] - fmin(clear, 0.9 * rig->min_n[i]) || t > 1.05 * rig->max_n[i] + clear;
        run->notice.slack_s[i] = t > 0 ? 0 : run->notice.slack_s[i] + TICK_S;
        run->notice.beyond_s[i] = beyond ? run->notice.beyond_s[i] + TICK_S : 0;
    }
    watch_anchor(run);
}

/* The whole time from a reading to the tick that looks at it, two lost reports included. */
static double way_s(const struct run *run)
{
    return run_to_core_s(run) + 3 * run_report_s(run) + TICK_S;
}

static double longest_beyond(const struct run *run)
{
    double longest = 0;
    for (int i = 0; i < run->scene.physics.cords; i++)
        longest = fmax(longest, run->notice.beyond_s[i]);
    return longest;
}

static bool measures_cords(const struct scene *s)
{
    return s->cfg.anticipates && scene_has(s, WIRE_TENSION);
}

static bool contradicted(const struct scene *s)
{
    return s->cfg.locates && scene_has(s, WIRE_POSE) && scene_has(s, WIRE_LENGTH);
}

/* How long it has shown, less the time in which it must be noticed; negative: not yet, or it does not show. */
static double overdue(const struct run *run, double since_s)
{
    const struct scene *s = &run->scene;
    const struct scene_trouble *t = &s->trouble;
    const struct run_account *a = &run->account;
    double timeout_s = (double)s->cfg.telemetry_timeout_ns * 1e-9;
    switch (t->fault) {
    case FAULT_SILENCE:
    case FAULT_FROZEN_SEQ:
        return (double)(run->now_ns - a->heard_ns) * 1e-9 - timeout_s - 1e-6;
    case FAULT_NOT_A_NUMBER:
    case FAULT_FLAG:
        return a->spoilt - 1;
    case FAULT_JUMP:
    case FAULT_JUMPING:
        return a->spoilt - 1 - (s->cfg.locates ? s->cfg.locate.outliers : 0);
    case FAULT_DRIFT:
        return contradicted(s) ? since_s - way_s(run) - DRIFTED_S - DRIFTED_M / (0.02 + 0.08 * t->size) : -1;
    case FAULT_FROZEN:
        return s->cfg.locates ? fmin(vec_norm(run->notice.way) - 2 * s->cfg.locate.frozen_m,
                                     run->notice.frozen_s - 2 * s->cfg.locate.frozen_s - way_s(run))
                              : -1;
    case FAULT_ANCHOR:
        if (contradicted(s) && run->notice.astray_s > ANCHOR_S + way_s(run))
            return run->notice.astray_s - ANCHOR_S - way_s(run);
        break;
    default:
        break;
    }
    return measures_cords(s) ? longest_beyond(run) - s->cfg.anticipate.trip_s - way_s(run) : -1;
}

static void follow_frozen(struct run *run, const struct policy_output *out)
{
    struct run_notice *n = &run->notice;
    bool counts = run->account.spoilt > 0 && out->intent.motion;
    n->way = counts ? vec_along(n->way, out->intent.velocity, run->account.elapsed_s) : (struct vec3){0, 0, 0};
    n->frozen_s = counts ? n->frozen_s + run->account.elapsed_s : 0;
}

/* How long it has shown in a way that tells, where it shows gradually. */
static double shown_s(const struct run *run, double since_s)
{
    enum fault fault = run->scene.trouble.fault;
    if (fault == FAULT_FROZEN)
        return run->notice.frozen_s;
    if (fault < FAULT_PARTED || fault == FAULT_ANCHOR)
        return since_s;
    return measures_cords(&run->scene) ? longest_beyond(run) : 0;
}

static bool hears_nothing(const struct run *run)
{
    enum fault fault = run->scene.trouble.fault;
    return fault == FAULT_SILENCE || fault == FAULT_FROZEN_SEQ;
}

bool notice_overdue(struct run *run, const struct policy_output *out, double *overdue_s)
{
    const struct fault_kind *kind = &fault_kinds[run->scene.trouble.fault];
    struct run_notice *n = &run->notice;
    bool tells = (out->reasons & kind->told_by) != 0 && !out->intent.motion;
    if (kind->demand == FAULT_MOVES || !run->active) {
        n->shown_ns = 0;
        n->noticed = n->stopped = false;
        return false;
    }
    if (n->shown_ns == 0 && (run->account.spoilt > 0 || kind->touch == FAULT_UNTIL_THEN || hears_nothing(run)))
        n->shown_ns = hears_nothing(run) ? run->account.heard_ns : run->now_ns;
    if (n->shown_ns == 0)
        return false;
    double since_s = (double)(run->now_ns - n->shown_ns) * 1e-9;
    n->again |= n->stopped && out->intent.motion;
    n->stopped |= !out->intent.motion;
    if (tells && !n->noticed) {
        n->noticed = n->ever = true;
        n->took_s = fmax(n->took_s, shown_s(run, since_s));
    }
    follow_frozen(run, out);
    *overdue_s = overdue(run, since_s);
    bool moves = kind->demand == FAULT_FORBIDS && out->intent.motion;
    return *overdue_s >= 0 && kind->told_by != 0 && (moves || !n->noticed);
}
