/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/fill_limits.h"

#include <math.h>

static const double setup_speed_mps = 0.25;

static double said(double x, double otherwise)
{
    return isnan(x) ? otherwise : x;
}

static struct limits of_lane(const struct layout_limits *lane)
{
    return (struct limits){lane->speed_mps, lane->accel_mps2, lane->jerk_mps3, -SHAPE_FAR_M, SHAPE_FAR_M, true};
}

/* What is not said does not bind. */
static struct limits of_mode(const struct layout_limits *mode, bool yields)
{
    return (struct limits){
        said(mode->speed_mps, SHAPE_FAR_M),      said(mode->accel_mps2, SHAPE_FAR_M),
        said(mode->jerk_mps3, LIMITS_JERK_FREE), said(mode->floor_m, -SHAPE_FAR_M),
        said(mode->ceiling_m, SHAPE_FAR_M),      yields,
    };
}

static void fill_cells(const struct layout_draft *draft, const struct limits *lane, struct limits cell[LIMITS_MODES])
{
    struct limits show = of_mode(&draft->mode[LIMITS_SHOW], false);
    struct limits setup = of_mode(&draft->mode[LIMITS_SETUP], false);
    struct limits low = of_mode(&draft->mode[LIMITS_LOW], draft->mode[LIMITS_LOW].given);
    if (isnan(draft->mode[LIMITS_SETUP].speed_mps))
        setup.speed_mps = setup_speed_mps;
    cell[LIMITS_SHOW] = limits_tighter(lane, &show);
    cell[LIMITS_SETUP] = limits_tighter(&cell[LIMITS_SHOW], &setup);
    cell[LIMITS_LOW] = cell[LIMITS_SHOW];
    if (!draft->mode[LIMITS_LOW].given)
        return;
    show.floor_m = -SHAPE_FAR_M;
    show.yields = true;
    cell[LIMITS_LOW] = limits_tighter(lane, &show);
    cell[LIMITS_LOW] = limits_tighter(&cell[LIMITS_LOW], &low);
}

void fill_limits(const struct layout_draft *draft, struct policy_config *policy)
{
    struct limits op = of_lane(&draft->operator), au = of_lane(&draft->audience), idle = limits_tighter(&op, &au);
    fill_cells(draft, &op, policy->limits.cell[LANE_OPERATOR]);
    fill_cells(draft, &au, policy->limits.cell[LANE_AUDIENCE]);
    fill_cells(draft, &idle, policy->limits.cell[LANE_IDLE]);
    policy->limits.unseen_m = draft->unseen_m;
    if (!draft->mode[LIMITS_LOW].given)
        policy->spotter_timeout_ns = 0;
}
