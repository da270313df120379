/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What decides about motion but knows no geometry: the stop, the lanes and the reasons. Wishes, modes and events are
 * anything; so is the stop's state. The rig is where locate can say that it is.
 *
 * analyse: policy/motion/cords.c policy/motion/lanes.c policy/motion/reason.c policy/motion/stop.c
 * analyse: policy/motion/limits.c policy/motion/travel.c
 * options: -eva-precision 4
 */
#include "policy/motion/lanes.h"
#include "policy/motion/cords.h"
#include "policy/motion/stop.h"
#include "tests/proof/rooms.h"

static void stop(void)
{
    ANY(struct stop, stop);
    ANY(struct stop_input, in);
    if (either())
        stop_init(&stop);
    stop_step(&stop, &in);
    stop_valid(&stop);
    if (stop_allows_motion(&stop))
        must_hold(stop.state == STOP_RUNNING);
    ANY(enum stop_state, state);
    must_hold(*stop_state_name(state) != 0);
}

static void reason(void)
{
    ANY(reason_set, set);
    ANY(enum reason, r);
    must_hold((unsigned)reason_first(set) < REASON_COUNT);
    must_hold(*reason_code(r) != 0);
    must_hold(reason_for_viewers(r) != NULL);
    must_hold(reason_for_desk(r) != NULL);
}

static void cords(int count)
{
    struct volume_outline outline;
    double length_m[VOLUME_MAX_CORDS], rate_mps[VOLUME_MAX_CORDS];
    outline.cords = count;
    for (int i = 0; i < count; i++)
        outline.anchor[i] = somewhere();
    cords_lengths(&outline, somewhere(), length_m);
    cords_rates(&outline, somewhere(), a_velocity(FASTEST), rate_mps);
    for (int i = 0; i < count; i++) {
        must_be_within(0, length_m[i], 4 * SHAPE_FAR_M);
        must_be_within(-2 * FASTEST, rate_mps[i], 2 * FASTEST);
    }
}

static struct lanes_config lanes_cfg(void)
{
    struct lanes_config cfg;
    cfg.max_nudge_m = between(1e-3, 1e3);
    cfg.goal_timeout_s = between(1e-3, 1e6);
    cfg.brake_mps2 = between(1e-3, 1e3);
    cfg.dt_s = between(1e-4, 1);
    lanes_config_valid(&cfg);
    return cfg;
}

static void must_be_limits(struct limits l)
{
    must_be_within(0, l.speed_mps, FASTEST);
    must_be_within(1e-3, l.accel_mps2, 1e3);
    must_be_within(0, l.jerk_mps3, 1e9);
    must_hold(l.floor_m >= -SHAPE_FAR_M);
    must_hold(l.ceiling_m <= SHAPE_FAR_M);
}

/* Whatever is asked for, by anyone, of any lane and mode: within the commissioned table. */
static void limits(void)
{
    struct limits_table table;
    struct limits_layer layer;
    ANY(struct limits, wanted);
    ANY(enum lane, lane);
    ANY(enum limits_mode, mode);
    ANY(double, lag_s);
    for (int l = 0; l < LANE_COUNT; l++)
        for (int m = 0; m < LIMITS_MODES; m++)
            table.cell[l][m] = some_limits();
    table.unseen_m = between(0, 1e3);
    limits_table_valid(&table);
    limits_layer_init(&table, &layer);
    limits_layer_set(&table, &layer, lane, &wanted, either(), either());
    for (int l = 0; l < LANE_COUNT; l++)
        must_be_limits(layer.lane[l]);
    must_be_limits(limits_in_force(&table, &layer, lane, mode));
    must_be_within(0, limits_unseen_mps(&table, lag_s), SHAPE_FAR_M);
    must_be_finite(limits_near_zone_mps(between(-SHAPE_FAR_M, SHAPE_FAR_M), between(0, FASTEST), between(1e-3, 1e3),
                                        between(0, 1e3)));
    must_hold(*limits_mode_name(mode) != 0);
}

static void lanes(void)
{
    struct lanes_config cfg = lanes_cfg();
    ANY(struct lanes, lanes);
    ANY(struct lanes_input, in);
    struct lanes_rig rig = {.position = somewhere(), .ahead = within_cube(1e4), .may_move = either()};
    struct lanes_output out;
    rig.latency_s = between(0, 1e3);
    rig.limits.speed_mps = between(0, FASTEST);
    rig.limits.accel_mps2 = between(1e-3, 1e3);
    rig.limits.jerk_mps3 = between(1e-4, 1e9);
    lanes.goal = within_cube(1e110);
    lanes.goal_age_s = between(0, 1e9);
    if (either())
        lanes_init(&lanes);
    lanes_step(&cfg, &lanes, &in, &rig, &out);
    must_hold(out.lane == LANE_IDLE || out.lane == LANE_AUDIENCE || out.lane == LANE_OPERATOR);
    must_be_velocity(out.wanted, 1.001 * FASTEST);
    must_be_within(0, out.asked_mps, SHAPE_FAR_M);
    must_be_within(-1e110, lanes.goal.x, 1e110);
    must_be_within(-1e110, lanes.goal.y, 1e110);
    must_be_within(-1e110, lanes.goal.z, 1e110);
    must_be_within(1e-3, out.accel_mps2, 1e3);
}

int main(void)
{
    stop();
    reason();
    for (int count = 0; count <= VOLUME_MAX_CORDS; count++)
        cords(count);
    limits();
    lanes();
}
