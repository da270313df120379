/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/aim.h"

#define BEYOND   0.02 /* rad, or magnification: an axis must not pass its ends by more than it is measured wrongly */
#define MOVES    1e-3 /* rad/s, or 1/s: less is none */
#define EASED_S  1.0  /* wishes must have been the same for so long: a jerk that is limited swings past what is new */
#define SETTLE_S 3.0  /* what came into the picture in setup may go on coming for so long */

enum { TURNS = 1, STARTS = 20 };

static const struct check_fault holds = {CHECK_COUNT, 0, 0};

static bool alike(const struct run_aim *aim, const double wish[HEAD_AXES])
{
    bool same = true;
    for (int i = 0; i < HEAD_AXES; i++)
        same = same && aim->axis[i].wish == wish[i]; /* one that is no number is never the same */
    return same;
}

static struct check_fault steady(struct run_axis *axis, double rate, bool same)
{
    int sign = rate > MOVES ? 1 : rate < -MOVES ? -1 : 0;
    if (!same)
        axis->turned = axis->started = 0;
    axis->turned += same && sign * axis->sign < 0;
    axis->started += same && sign != 0 && axis->rests;
    axis->rests = sign == 0;
    axis->sign = sign != 0 ? sign : axis->sign;
    if (axis->turned > TURNS)
        return (struct check_fault){CHECK_AIMED, axis->turned, TURNS};
    if (axis->started > STARTS)
        return (struct check_fault){CHECK_AIMED, axis->started, STARTS};
    return holds;
}

struct check_fault aim_tick(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    const reason_set own = reason_bit(REASON_HEAD_RECOVERING);
    struct run_aim *aim = &run->aim;
    struct check_fault found = holds;
    bool same = alike(aim, in->head_wish) && out->intent.motion && out->lane == run->account.lane &&
                !(out->reasons & own) && !in->head_home;
    aim->alike_s = same ? aim->alike_s + run->account.elapsed_s : 0;
    for (int i = 0; run->scene.head.there && i < HEAD_AXES; i++) {
        struct check_fault f = steady(&aim->axis[i], out->intent.head_rate[i], aim->alike_s > EASED_S);
        aim->axis[i].wish = in->head_wish[i];
        found = found.check == CHECK_COUNT ? f : found;
    }
    return found;
}

static struct check_fault in_bounds(const struct run *run)
{
    const struct head_config *cfg = &run->scene.cfg.head.config;
    const double *at = run->machine.head.at;
    for (int i = 0; i < HEAD_AXES; i++) {
        const struct head_axis_config *axis = &cfg->axis[i];
        if (at[i] < axis->min - BEYOND || at[i] > axis->max + BEYOND)
            return (struct check_fault){CHECK_AIMED, at[i], at[i] < axis->min ? axis->min : axis->max};
    }
    for (int r = 0; r < cfg->regions; r++) {
        double deep = INFINITY;
        for (int i = 0; i < HEAD_TURNING; i++)
            deep = lesser(deep, lesser(at[i] - cfg->region[r].from[i], cfg->region[r].to[i] - at[i]));
        if (deep > 0)
            return (struct check_fault){CHECK_AIMED, deep, 0};
    }
    return holds;
}

static struct check_fault unseen(struct run *run)
{
    const struct scene *s = &run->scene;
    const double *at = run->machine.head.at;
    bool pans = s->cfg.guard.volume.outline.yaw == VOLUME_YAW_PAN;
    struct truth_view_pose pose = {
        .body = run->truth.pose.body,
        .down = run->truth.pose.down,
        .azimuth_rad = at[HEAD_PAN] + (pans ? 0 : run->truth.pose.yaw_rad),
        .tilt_rad = at[HEAD_TILT],
        .roll_rad = at[HEAD_ROLL],
        .hfov_rad = 2 * atan(tan(s->cfg.head.config.hfov_wide_rad / 2) / at[HEAD_ZOOM]),
        .aspect = s->cfg.head.aspect,
    };
    double left = truth_view_left(&s->unseen, &s->cfg.view, &pose);
    bool excuse = run->account.setup_ns > 0 && (double)(run->now_ns - run->account.setup_ns) * 1e-9 < SETTLE_S;
    run->aim.seen = left <= 0 && (run->aim.seen || excuse);
    if (run->aim.seen)
        return holds;
    run->aim.least_m = lesser(run->aim.least_m, left);
    return left > 0 ? holds : (struct check_fault){CHECK_UNSEEN, left, 0};
}

struct check_fault aim_truth(struct run *run)
{
    if (!run->scene.head.there)
        return holds;
    struct check_fault found = in_bounds(run);
    if (found.check == CHECK_COUNT && run->scene.cfg.view.shapes > 0)
        found = unseen(run);
    return found;
}
