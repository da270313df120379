/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where the platform is: from the start, any number of steps with any reports, times and commands; the config is as
 * locate_config_valid wants it. Shown here: nothing out of bounds, no conversion of what does not fit, and an
 * uncertainty that is a number. That reads only read what was written is not looked for here (it follows from sums of
 * counts).
 *
 * analyse: policy/motion/locate.c policy/motion/locate_filter.c policy/motion/locate_frozen.c
 * analyse: policy/motion/locate_model.c policy/motion/locate_reading.c policy/motion/locate_solve.c
 * analyse: policy/motion/locate_watch.c
 * options: -eva-precision 0 -eva-initialized-locals
 */
#include "policy/motion/locate.h"
#include "tests/proof/rooms.h"

static struct locate_config config(void)
{
    ANY(struct locate_config, cfg);
    cfg.cords = among(0, VOLUME_MAX_CORDS);
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        cfg.anchor[i] = somewhere();
    cfg.outliers = among(0, 1000);
    cfg.weight_n = between(0, SHAPE_FAR_M);
    cfg.body_n = between(0, SHAPE_FAR_M);
    cfg.boom_m = between(0, SHAPE_FAR_M);
    cfg.anchor_bias_m = between(0, SHAPE_FAR_M);
    cfg.pose_bias_m = between(0, SHAPE_FAR_M);
    cfg.length_bias_m = between(0, SHAPE_FAR_M);
    cfg.range_bias_m = between(0, SHAPE_FAR_M);
    cfg.slack_n = between(0, SHAPE_FAR_M);
    cfg.floor_m = between(-SHAPE_FAR_M, SHAPE_FAR_M);
    cfg.accel_mps2 = between(1e-6, 1000);
    cfg.speed_mps = between(1e-6, 1000);
    cfg.age_max_s = between(1e-6, 1000);
    cfg.coast_s = between(1e-6, 1000);
    cfg.memory_s = between(1e-6, 1000);
    cfg.frozen_s = between(1e-6, 1000);
    cfg.frozen_m = between(1e-6, 1000);
    cfg.again_s = between(1e-6, 1000);
    cfg.uncertainty_max_m = between(1e-6, 1000);
    cfg.tilt_rad = between(0, 0.7);
    cfg.tension_bias_share = between(0, 1);
    return cfg;
}

int main(void)
{
    struct locate_config cfg = config();
    struct locate locate;
    struct locate_output out;
    locate_config_valid(&cfg);
    locate_init(&locate);
    do {
        ANY(struct locate_report, report);
        ANY(uint64_t, now_ns);
        ANY(struct vec3, commanded);
        locate_step(&cfg, &locate, now_ns, either() ? &report : NULL, commanded, &out);
        must_hold((unsigned)out.fault < LOCATE_FAULTS);
        must_hold(out.uncertainty_m <= SHAPE_FAR_M);
        for (int f = 0; f < LOCATE_FAULTS; f++) {
            must_hold((unsigned)out.detail[f].source <= LOCATE_SOURCES);
            must_hold(out.detail[f].cord >= -1 && out.detail[f].cord < VOLUME_MAX_CORDS);
        }
    } while (either());
    ANY(enum locate_fault, fault);
    ANY(enum locate_source, source);
    must_hold(*locate_fault_code(fault) != 0);
    must_hold(*locate_source_code(source) != 0);
}
