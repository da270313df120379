/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/homing.h"

#include <math.h>

static bool is_home(const struct homing_input *in)
{
    bool home = in->rig->ever && in->rig->head_known;
    for (int i = 0; i < HEAD_AXES; i++)
        home = home && fabs(in->rig->head[i] - in->config->config.axis[i].home) <= in->config->config.arrived;
    return home;
}

static bool wishes(const double wish[HEAD_AXES])
{
    bool any = false;
    for (int i = 0; i < HEAD_AXES; i++)
        any = any || wish[i] != 0;
    return any;
}

bool homing_step(struct homing *homing, const struct homing_input *in)
{
    if (in->presses != homing->presses)
        *homing = (struct homing){true, in->presses, in->now_ns};
    double been_s = in->now_ns > homing->since_ns ? (double)(in->now_ns - homing->since_ns) * 1e-9 : 0;
    homing->on = homing->on && in->config->there && in->may_move && !wishes(in->wish) && !is_home(in) &&
                 been_s <= in->config->config.recover_s;
    return homing->on;
}
