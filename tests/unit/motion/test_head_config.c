/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What is refused at load, a head that is found beyond its limits, and axes that are not there. */
#include "tests/unit/motion/heads.h"

static struct head_config regioned(void)
{
    struct head_config cfg = heads_config();
    heads_region(&cfg, 40, 60, -60, 100);
    return cfg;
}

Test(head_config, takes_what_makes_sense)
{
    struct head_config cfg = regioned();
    cr_assert(head_config_valid(&cfg));
    cfg.regions = 0;
    cfg.clear_rad = 0;
    cr_assert(head_config_valid(&cfg));
    cfg.axis[HEAD_ROLL].min = cfg.axis[HEAD_ROLL].max = cfg.axis[HEAD_ROLL].home = 0;
    cr_assert(head_config_valid(&cfg));
}

/* Every number of it, put to something that cannot be, one at a time. */
Test(head_config, refuses_what_cannot_be)
{
    struct head_config cfg;
    double *const everywhere[] = {&cfg.axis[HEAD_PAN].min,
                                  &cfg.axis[HEAD_TILT].max,
                                  &cfg.axis[HEAD_ROLL].home,
                                  &cfg.axis[HEAD_PAN].limits.speed,
                                  &cfg.axis[HEAD_ZOOM].limits.accel,
                                  &cfg.axis[HEAD_TILT].limits.jerk,
                                  &cfg.clear_rad,
                                  &cfg.hfov_wide_rad,
                                  &cfg.latency_s,
                                  &cfg.lease_s,
                                  &cfg.arrived,
                                  &cfg.rest_s,
                                  &cfg.dt_s,
                                  &cfg.recover_s};
    static const double bad[] = {NAN, INFINITY, -INFINITY, -1e9, 1e300};
    for (size_t i = 0; i < sizeof everywhere / sizeof everywhere[0]; i++) {
        for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
            bool harmless =
                bad[k] == 1e300 && (everywhere[i] == &cfg.clear_rad || everywhere[i] == &cfg.arrived ||
                                    everywhere[i] == &cfg.rest_s || everywhere[i] == &cfg.recover_s ||
                                    everywhere[i] == &cfg.dt_s || everywhere[i] == &cfg.axis[HEAD_TILT].limits.jerk ||
                                    everywhere[i] == &cfg.axis[HEAD_ZOOM].limits.accel);
            cfg = regioned();
            *everywhere[i] = bad[k];
            cr_assert(harmless || !head_config_valid(&cfg), "number %zu took %g", i, bad[k]);
        }
    }
}

Test(head_config, refuses_regions_that_leave_no_home)
{
    struct head_config cfg = regioned();
    cfg.region[0].from[HEAD_PAN] = 1 * heads_rad; /* grown by 2 deg it holds home */
    cr_assert_not(head_config_valid(&cfg));
    cfg.region[0].from[HEAD_PAN] = 3 * heads_rad;
    cr_assert(head_config_valid(&cfg));
    cfg.region[0].to[HEAD_PAN] = cfg.region[0].from[HEAD_PAN];
    cr_assert_not(head_config_valid(&cfg));
    cfg = regioned();
    cfg.region[0].to[HEAD_ROLL] = NAN;
    cr_assert_not(head_config_valid(&cfg));
    cfg = regioned();
    cfg.clear_rad = 0;
    cr_assert_not(head_config_valid(&cfg));
    cfg = regioned();
    cfg.regions = HEAD_MAX_REGIONS + 1;
    cr_assert_not(head_config_valid(&cfg));
    cfg.regions = -1;
    cr_assert_not(head_config_valid(&cfg));
}

/* An overrun that the tolerance of home does not cover would keep a recovery from ending. */
Test(head_config, refuses_a_home_it_could_not_stop_at)
{
    struct head_config cfg = regioned();
    double accel = cfg.axis[HEAD_PAN].limits.accel; /* the hardest */
    cfg.latency_s = sqrt(2 * cfg.arrived / accel) * 1.01;
    cr_assert_not(head_config_valid(&cfg));
    cfg.latency_s = sqrt(2 * cfg.arrived / accel) * 0.98;
    cr_assert(head_config_valid(&cfg));
}

/* Found beyond a limit: back in at any wish that leads there, out no further at any that does not. */
Test(head_config, comes_back_from_beyond_a_limit)
{
    struct random r = {1};
    for (int out = 0; out < 2; out++) {
        struct head_config cfg = heads_config();
        struct heads_sim sim = {.command_late = 3, .report_late = 3, .noise = 0.001};
        cfg.latency_s = 0.06;
        cfg.arrived = 0.05;
        const double start[HEAD_AXES] = {0, 40 * heads_rad, 0, 1};
        struct head head;
        struct head_input in = {.wanted = {[HEAD_TILT] = out ? 0.3 : -0.3}};
        struct head_output said;
        heads_start(&sim, start);
        head_init(&head, &cfg);
        for (int n = 0; n < 300; n++) {
            heads_report(&sim, &r, &in);
            head_step(&cfg, &head, &in, &said);
            heads_run(&sim, &said);
            cr_assert_leq(sim.at[HEAD_TILT], start[HEAD_TILT], "tick %d", n);
            cr_assert(!out || said.rate[HEAD_TILT] == 0, "tick %d", n);
        }
        cr_assert(out ? said.notes & HEAD_AT_LIMIT : sim.at[HEAD_TILT] < cfg.axis[HEAD_TILT].max);
    }
}

Test(head_config, says_what_was_wrong_with_a_wish)
{
    struct head_config cfg = heads_config();
    struct head head;
    struct head_input in = {.position = {[HEAD_ZOOM] = 2}, .wanted = {NAN, 0.1, 0, 0}};
    struct head_output out;
    head_init(&head, &cfg);
    head_step(&cfg, &head, &in, &out);
    cr_assert_eq(out.notes, HEAD_BAD_WISH);
    cr_assert(out.rate[HEAD_PAN] == 0 && out.rate[HEAD_TILT] > 0);
    in.wanted[HEAD_PAN] = 40 * heads_rad;
    head_step(&cfg, &head, &in, &out);
    cr_assert_eq(out.notes, HEAD_RATE_LIMIT);
    in.wanted[HEAD_PAN] = 0;
    in.position[HEAD_ROLL] = 1e9;
    head_step(&cfg, &head, &in, &out);
    cr_assert_eq(out.notes, HEAD_POSITION_LOST);
    in = (struct head_input){.position = {cfg.axis[HEAD_PAN].max, cfg.axis[HEAD_TILT].min, 0, 1}, .uncertainty = 0.01};
    head_init(&head, &cfg);
    head_step(&cfg, &head, &in, &out);
    cr_assert_eq(out.notes, 0, "nothing wanted, nothing refused");
}

/* A hostile state, as after a bad memory: finite rates within the limits all the same. */
Test(head_config, bears_a_hostile_state)
{
    struct random r = {2};
    struct head_config cfg = regioned();
    struct head_output out;
    struct head head;
    for (int i = 0; i < 100000; i++) {
        struct head_input in = {.uncertainty = 0.001, .cross_s = 7, .go_home = i % 7 == 0};
        head_init(&head, &cfg);
        for (int k = 0; k < HEAD_AXES; k++) {
            head.axis[k].v = profiles_hostile(&r);
            head.axis[k].a = random_below(&r, 2) ? profiles_hostile(&r) : 0;
            in.position[k] = random_between(&r, cfg.axis[k].min, cfg.axis[k].max);
            in.wanted[k] = random_between(&r, -1, 1);
        }
        head_step(&cfg, &head, &in, &out);
        for (int k = 0; k < HEAD_AXES; k++)
            cr_assert(fabs(out.rate[k]) <= cfg.axis[k].limits.speed, "%d axis %d: %g", i, k, out.rate[k]);
    }
}
