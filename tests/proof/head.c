/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The head: axes, regions and times as they can be configured, the ways home planned from them; reports, wishes and the
 * profile's state anything.
 *
 * analyse: policy/motion/head.c policy/motion/head_reach.c policy/motion/head_way.c
 * analyse: policy/motion/profile.c policy/motion/profile_stop.c
 * options: -eva-precision 1 -eva-slevel 10 -eva-auto-loop-unroll 10
 */
#include "policy/motion/head.h"
#include "tests/proof/rooms.h"

static struct profile_limits limits(void)
{
    return (struct profile_limits){between(1e-3, 1e3), between(1e-3, 1e3), between(1e-3, 1e5)};
}

static struct head_config config(void)
{
    struct head_config cfg;
    for (int i = 0; i < HEAD_AXES; i++) {
        cfg.axis[i].min = between(-1e6, 1e6);
        cfg.axis[i].max = between(-1e6, 1e6);
        cfg.axis[i].home = between(-1e6, 1e6);
        cfg.axis[i].limits = limits();
    }
    cfg.axis[HEAD_ZOOM].min = between(1, 1e3);
    cfg.axis[HEAD_ZOOM].max = between(1, 1e3);
    for (int r = 0; r < HEAD_MAX_REGIONS; r++)
        for (int i = 0; i < HEAD_TURNING; i++) {
            ANY(double, from);
            ANY(double, to);
            cfg.region[r].from[i] = from;
            cfg.region[r].to[i] = to;
        }
    cfg.regions = among(0, HEAD_MAX_REGIONS);
    cfg.clear_rad = between(0, 1e3);
    cfg.hfov_wide_rad = between(1e-3, 3.14);
    cfg.latency_s = between(0, 60);
    cfg.lease_s = between(0, 60);
    cfg.arrived = between(1e-6, 1e6);
    cfg.rest_s = between(0, 1e6);
    cfg.recover_s = between(1e-3, 1e6);
    cfg.dt_s = between(1e-4, 0.1);
    return cfg;
}

int main(void)
{
    struct head_config cfg = config();
    ANY(struct head, any);
    ANY(struct head_input, in);
    ANY(double, magnification);
    ANY(double, elapsed_s);
    struct head head;
    struct head_output out;
    head_config_valid(&cfg);
    head_init(&head, &cfg);
    struct head_way way = head.way;
    head = any;
    head.way = way;
    head.way_s = between(0, 1e7);
    head.deaf_s = between(0, 1e7);
    for (int r = 0; r < HEAD_MAX_REGIONS; r++)
        head.side[r] = (int8_t)among(-1, 2 * HEAD_TURNING - 1);
    head_step(&cfg, &head, &in, &out);
    for (int i = 0; i < HEAD_AXES; i++)
        must_be_finite(out.rate[i]);
    for (int r = 0; r < HEAD_MAX_REGIONS; r++)
        must_hold(head.side[r] >= -1 && head.side[r] < 2 * HEAD_TURNING);
    must_be_within(0, head.way_s, 2e7);
    must_be_within(0, head.deaf_s, 1e7);
    must_be_within(-3.15, head_hfov(&cfg, magnification), 3.15);
    head_brake(&cfg, &head, elapsed_s, &out);
    for (int i = 0; i < HEAD_AXES; i++)
        must_be_finite(out.rate[i]);
}
