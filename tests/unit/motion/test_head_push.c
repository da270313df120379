/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Lanes that push back into a forbidden region, or on against a limit: the head stands still, it does not go to and
 * fro. */
#include "tests/unit/motion/heads.h"

struct watch {
    int recoveries, turns, moving;
    double last;
    bool recovering;
};

static void watch_tick(struct watch *w, const struct head_output *out, int axis)
{
    bool recovering = out->notes & HEAD_RECOVERING;
    double rate = out->rate[axis];
    w->recoveries += recovering && !w->recovering;
    w->recovering = recovering;
    w->turns += rate * w->last < 0;
    w->moving += rate != 0;
    w->last = rate != 0 ? rate : w->last;
}

static struct head_config walled(struct heads_sim *sim, struct random *r)
{
    struct head_config cfg = heads_config();
    heads_region(&cfg, 40, 60, -100, 100);
    *sim = (struct heads_sim){.command_late = (int)random_below(r, 8), .report_late = (int)random_below(r, 8)};
    sim->noise = random_between(r, 0.0005, 0.008);
    cfg.latency_s = (sim->command_late + sim->report_late) * HEADS_DT;
    cfg.arrived = 0.04;
    cr_assert(head_config_valid(&cfg));
    return cfg;
}

/* Found vibrating, with a lane that never stops pushing in: once home, then up to the region and there at rest. */
Test(head_push, a_lane_that_pushes_back_in_does_not_make_it_go_to_and_fro)
{
    struct random r = {1};
    for (int i = 0; i < 40; i++) {
        struct heads_sim sim;
        struct head_config cfg = walled(&sim, &r);
        const double start[HEAD_AXES] = {50 * heads_rad, -20 * heads_rad, 0, 1};
        struct head head;
        struct head_input in = {.wanted = {[HEAD_PAN] = random_between(&r, 0.05, 2)}};
        struct head_output out;
        struct watch first = {0}, then = {0};
        heads_start(&sim, start);
        head_init(&head, &cfg);
        for (int n = 0; n < 12000; n++) {
            heads_report(&sim, &r, &in);
            head_step(&cfg, &head, &in, &out);
            heads_run(&sim, &out);
            watch_tick(n < 8000 ? &first : &then, &out, HEAD_PAN);
        }
        double short_of = 40 * heads_rad - sim.at[HEAD_PAN];
        cr_assert_eq(first.recoveries, 1, "%d: %d", i, first.recoveries);
        cr_assert_leq(first.turns, 3, "%d: turned %d times", i, first.turns);
        cr_assert_eq(then.recoveries, 0, "%d", i);
        cr_assert_eq(then.moving, 0, "%d: moved in %d ticks", i, then.moving);
        cr_assert(out.notes & HEAD_REGION);
        cr_assert(short_of >= cfg.clear_rad && short_of < cfg.clear_rad + 0.05, "%d: %g", i, short_of);
    }
}

/* After a recovery a lane is heard when it has let go, or after a while. */
Test(head_push, is_deaf_to_a_lane_that_has_not_let_go)
{
    struct random r = {2};
    for (int i = 0; i < 2; i++) {
        struct head_config cfg = heads_config();
        heads_region(&cfg, 40, 60, -100, 100);
        struct heads_sim sim = {0};
        const double start[HEAD_AXES] = {42 * heads_rad, -20 * heads_rad, 0, 1};
        struct head head;
        struct head_input in = {.wanted = {[HEAD_PAN] = 0.2}};
        struct head_output out;
        int deaf = 0;
        heads_start(&sim, start);
        head_init(&head, &cfg);
        for (int n = 0; n < 1000; n++) {
            heads_report(&sim, &r, &in);
            head_step(&cfg, &head, &in, &out);
            heads_run(&sim, &out);
            deaf += (out.notes & HEAD_LET_GO) != 0;
            in.wanted[HEAD_PAN] = i == 1 && deaf == 10 && (out.notes & HEAD_LET_GO) ? 0 : 0.2;
            if (deaf && (out.notes & HEAD_LET_GO))
                cr_assert_eq(out.rate[HEAD_PAN], 0);
        }
        cr_assert(i == 1 ? deaf == 10 : abs(deaf - 100) <= 1, "%d: %d ticks", i, deaf);
        cr_assert_gt(sim.at[HEAD_PAN], 0.2);
    }
}

/* A hand that pushes it in again and again: home each time, and home it is before it can be pushed again. */
Test(head_push, goes_all_the_way_home_each_time_it_is_pushed_in)
{
    struct random r = {3};
    struct heads_sim sim;
    struct head_config cfg = walled(&sim, &r);
    const double start[HEAD_AXES] = {30 * heads_rad, -20 * heads_rad, 0, 1};
    struct head head;
    struct head_input in = {.wanted = {[HEAD_PAN] = 0.3}};
    struct head_output out;
    int pushed = 0, homes = 0;
    bool recovering = false;
    heads_start(&sim, start);
    head_init(&head, &cfg);
    for (int n = 0; n < 20000; n++) {
        if (n % 1500 == 1400) {
            sim.at[HEAD_PAN] += 5 * heads_rad;
            pushed++;
        }
        heads_report(&sim, &r, &in);
        head_step(&cfg, &head, &in, &out);
        heads_run(&sim, &out);
        if (recovering && !(out.notes & HEAD_RECOVERING)) {
            cr_assert_lt(fabs(sim.at[HEAD_PAN]), cfg.arrived + 0.02);
            homes++;
        }
        recovering = out.notes & HEAD_RECOVERING;
    }
    cr_assert_eq(pushed, 13);
    cr_assert_eq(homes, 13, "%d", homes);
}

/* On against a limit, in noise: it comes to rest before it and stays there. */
Test(head_push, rests_at_a_limit)
{
    struct random r = {4};
    for (int i = 0; i < 40; i++) {
        struct heads_sim sim;
        struct head_config cfg = walled(&sim, &r);
        const double start[HEAD_AXES] = {0, -20 * heads_rad, 0, 1};
        struct head head;
        struct head_input in = {.wanted = {-2, 2, 2, 2}};
        struct head_output out;
        heads_start(&sim, start);
        head_init(&head, &cfg);
        for (int n = 0; n < 6000; n++) {
            heads_report(&sim, &r, &in);
            head_step(&cfg, &head, &in, &out);
            heads_run(&sim, &out);
            for (int k = 0; k < HEAD_AXES && n > 4000; k++)
                cr_assert_eq(out.rate[k], 0, "%d axis %d tick %d: %g", i, k, n, out.rate[k]);
        }
        for (int k = 0; k < HEAD_AXES; k++) {
            double left = k == HEAD_PAN ? sim.at[k] - cfg.axis[k].min : cfg.axis[k].max - sim.at[k];
            double T = cfg.latency_s, bend = cfg.axis[k].limits.accel * T * T / 2;
            cr_assert(left >= 0 && left < bend + 3.5 * sim.noise + 1e-3, "%d axis %d: %g short, bend %g, noise %g", i,
                      k, left, bend, sim.noise);
        }
        cr_assert(out.notes & HEAD_AT_LIMIT);
    }
}

/* Before one face of a region, and as good as past its edge: noise at the edge does not let it in round the corner. */
Test(head_push, noise_at_an_edge_opens_no_way_in)
{
    struct random r = {5};
    for (int i = 0; i < 40; i++) {
        struct head_config cfg = heads_config();
        heads_region(&cfg, -40, 20, 0, 15);
        struct heads_sim sim = {.report_late = 2, .noise = 0.006};
        cfg.latency_s = 0.02;
        cfg.arrived = 0.02;
        const double start[HEAD_AXES] = {-45 * heads_rad, (-2 + 0.04 * i) * heads_rad, 0, 1};
        struct head head;
        struct head_input in = {.wanted = {[HEAD_PAN] = 0.2}};
        struct head_output out;
        heads_start(&sim, start);
        head_init(&head, &cfg);
        for (int n = 0; n < 3000; n++) {
            heads_report(&sim, &r, &in);
            in.wanted[HEAD_TILT] = n / 7 % 2 ? 0.01 : -0.01;
            head_step(&cfg, &head, &in, &out);
            heads_run(&sim, &out);
            cr_assert_leq(heads_depth(&cfg.region[0], cfg.clear_rad, sim.at), 1e-9, "%d tick %d: at %g %g", i, n,
                          sim.at[0] / heads_rad, sim.at[1] / heads_rad);
        }
    }
}
