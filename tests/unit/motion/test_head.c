/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/heads.h"

/*
 * The exact speed limit at a wall in discrete time (set of Ames et al. 2019; discrete form derived and checked by
 * bisection on a simulated stop): tests/reference/motion.json. With a jerk that is no limit, an axis follows it.
 */
static void expect_wall(const char *id)
{
    json_t *one = reference_case("motion.json", id), *input = json_object_get(one, "input"), *row;
    double a = reference_number(input, "a"), dt = reference_number(input, "dt"), x = reference_number(input, "x0");
    cr_assert_geq(a, reference_number(input, "a_up"));
    struct head_config cfg = heads_config();
    struct head head;
    struct head_input in = {.cross_s = 0};
    struct head_output out;
    size_t i;
    cfg.dt_s = dt;
    cfg.axis[HEAD_TILT] = (struct head_axis_config){-10, reference_number(input, "x_max"), 0, {10, a, 1e5}};
    head_init(&head, &cfg);
    double v = reference_number(input, "v0"), up = reference_number(input, "a_up");
    head.axis[HEAD_TILT].v = v;
    json_array_foreach(json_object_get(json_object_get(one, "expect"), "rows"), i, row)
    {
        cr_assert_float_eq(x, json_number_value(json_array_get(row, 1)), 2e-5, "%s row %zu: x %.12g", id, i, x);
        in.position[HEAD_TILT] = x;
        in.position[HEAD_ZOOM] = 1;
        in.wanted[HEAD_TILT] = fmin(reference_number(input, "v_cmd"), v + up * dt);
        head_step(&cfg, &head, &in, &out);
        double v1 = out.rate[HEAD_TILT];
        cr_assert_float_eq(v1, json_number_value(json_array_get(row, 3)), 1e-4, "%s row %zu: v %.12g", id, i, v1);
        x += (v + v1) * dt / 2;
        v = v1;
        cr_assert_leq(x, reference_number(input, "x_max") + 1e-9, "%s row %zu", id, i);
    }
    json_decref(one);
}

Test(head, slows_at_a_limit_as_published)
{
    expect_wall("cbf-discrete-0");
    expect_wall("cbf-discrete-1");
}

/* Common practice in panning: an object takes 7 s or more through the frame. */
Test(head, pans_no_faster_than_is_comfortable)
{
    static const double hfov_deg[] = {40, 60, 75, 90}, cap_deg[] = {5.7, 8.6, 10.7, 12.9};
    for (int i = 0; i < 4; i++) {
        struct head_config cfg = heads_config();
        struct head head;
        struct head_input in = {.position = {[HEAD_ZOOM] = 1}, .wanted = {[HEAD_PAN] = -1}, .cross_s = 7};
        struct head_output out = {0};
        cfg.hfov_wide_rad = hfov_deg[i] * heads_rad;
        head_init(&head, &cfg);
        for (int n = 0; n < 200; n++)
            head_step(&cfg, &head, &in, &out);
        cr_assert_float_eq(-out.rate[HEAD_PAN] / heads_rad, cap_deg[i], 0.06);
        cr_assert(out.notes & HEAD_COMFORT);
        in.cross_s = NAN; /* what is no number is no permission */
        for (int n = 0; n < 200; n++)
            head_step(&cfg, &head, &in, &out);
        cr_assert_float_eq(-out.rate[HEAD_PAN] / heads_rad, cap_deg[i], 0.06);
        in.cross_s = 0;
        for (int n = 0; n < 200; n++)
            head_step(&cfg, &head, &in, &out);
        cr_assert_float_eq(-out.rate[HEAD_PAN] / heads_rad, 30, 1e-9);
    }
}

/* Optics: the tangent of half the field goes down as the focal length goes up. */
Test(head, comfort_follows_the_zoom)
{
    struct head_config cfg = heads_config();
    struct head head;
    struct head_input in = {.position = {[HEAD_ZOOM] = 3}, .wanted = {[HEAD_PAN] = 1}, .cross_s = 10};
    struct head_output out = {0};
    double expect = 2 * atan(tan(30 * heads_rad) / 3);
    cr_assert_float_eq(head_hfov(&cfg, 3), expect, 1e-12);
    cr_assert_float_eq(head_hfov(&cfg, 0.1), 60 * heads_rad, 1e-12);
    cr_assert_float_eq(head_hfov(&cfg, NAN), head_hfov(&cfg, 10), 1e-12);
    head_init(&head, &cfg);
    for (int n = 0; n < 200; n++)
        head_step(&cfg, &head, &in, &out);
    cr_assert_float_eq(out.rate[HEAD_PAN], expect / 10, 1e-9);
    in.position[HEAD_ZOOM] = NAN;
    for (int n = 0; n < 200; n++)
        head_step(&cfg, &head, &in, &out);
    cr_assert_float_eq(out.rate[HEAD_PAN], head_hfov(&cfg, 10) / 10, 1e-9);
}

static void expect_within(const struct head_config *cfg, const struct head *before, const struct head *now,
                          const struct head_output *out, int i)
{
    double near = 1 + 1e-9;
    for (int k = 0; k < HEAD_AXES; k++) {
        const struct profile_limits *limits = &cfg->axis[k].limits;
        struct profile was = before->axis[k], is = now->axis[k];
        cr_assert(isfinite(is.v) && isfinite(is.a), "%d axis %d", i, k);
        cr_assert_eq(out->rate[k], is.v);
        cr_assert_leq(fabs(is.v), limits->speed * near, "%d axis %d", i, k);
        cr_assert_leq(fabs(is.a), limits->accel * near, "%d axis %d", i, k);
        cr_assert_leq(fabs(is.a - was.a), limits->jerk * cfg->dt_s * near, "%d axis %d", i, k);
        cr_assert_float_eq(is.v - was.v, is.a * cfg->dt_s, 1e-9 * limits->speed, "%d axis %d", i, k);
    }
}

/* 1e5 ticks of nonsense, now and then something that makes sense. */
Test(head, keeps_every_limit_whatever_comes_in)
{
    struct random r = {1};
    struct head_config cfg = heads_config();
    heads_region(&cfg, 40, 60, -100, 100);
    heads_region(&cfg, -100, -60, -50, -30);
    cfg.latency_s = 0.05;
    cr_assert(head_config_valid(&cfg));
    struct head head, before;
    struct head_output out;
    head_init(&head, &cfg);
    for (int i = 0; i < 100000; i++) {
        struct head_input in = {.go_home = random_below(&r, 50) == 0};
        double hostile = random_below(&r, 300) < 150 ? 0.02 : 0.3;
        for (int k = 0; k < HEAD_AXES; k++) {
            bool bad = random_between(&r, 0, 1) < hostile;
            in.position[k] = bad ? profiles_hostile(&r) : random_between(&r, cfg.axis[k].min, cfg.axis[k].max);
            bad = random_between(&r, 0, 1) < hostile;
            in.wanted[k] = bad ? profiles_hostile(&r) : random_between(&r, -1, 1);
        }
        in.uncertainty = random_below(&r, 30) ? 0.01 : profiles_hostile(&r);
        in.age_s = random_below(&r, 30) ? 0.01 : profiles_hostile(&r);
        in.cross_s = random_below(&r, 3) ? 7 : profiles_hostile(&r);
        before = head;
        head_step(&cfg, &head, &in, &out);
        expect_within(&cfg, &before, &head, &out, i);
    }
}

Test(head, brakes_to_rest_without_being_told_anything)
{
    struct head_config cfg = heads_config();
    struct head head, before;
    struct head_input in = {.position = {[HEAD_ZOOM] = 5}, .wanted = {1, -1, 1, -1}};
    struct head_output out;
    head_init(&head, &cfg);
    for (int n = 0; n < 60; n++)
        head_step(&cfg, &head, &in, &out);
    cr_assert_gt(out.rate[HEAD_PAN], 0.2);
    for (int n = 0; n < 200; n++) {
        before = head;
        if (n % 2)
            head_brake(&cfg, &head, 0, &out);
        else
            head_step(&cfg, &head, &(struct head_input){.position = {NAN, NAN, NAN, NAN}, .wanted = {1, 1, 1, 1}},
                      &out);
        expect_within(&cfg, &before, &head, &out, n);
    }
    for (int k = 0; k < HEAD_AXES; k++)
        cr_assert_eq(out.rate[k], 0);
}

/* The truth, late and noisy: no axis ever overruns, no region is ever entered, grown as it is. */
Test(head, never_overruns_a_limit_or_enters_a_region)
{
    struct random r = {2};
    for (int i = 0; i < 60; i++) {
        struct head_config cfg = heads_config();
        heads_region(&cfg, 40, 60, -100, 100);
        heads_region(&cfg, -100, -60, -50, -30);
        heads_region(&cfg, -40, 20, 0, 15);
        struct heads_sim sim = {.command_late = (int)random_below(&r, 10), .report_late = (int)random_below(&r, 10)};
        sim.noise = random_between(&r, 0, 0.01);
        bool aged = i % 2; /* the report says how old it is, or it is part of the rig's latency */
        cfg.latency_s = (sim.command_late + (aged ? 0 : sim.report_late)) * HEADS_DT;
        cfg.arrived = 0.05;
        cr_assert(head_config_valid(&cfg));
        const double start[HEAD_AXES] = {0, -20 * heads_rad, 0, 2};
        struct head head;
        struct head_input in = {.age_s = aged ? sim.report_late * HEADS_DT : 0};
        struct head_output out;
        head_init(&head, &cfg);
        heads_start(&sim, start);
        for (int n = 0; n < 3000; n++) {
            heads_report(&sim, &r, &in);
            for (int k = 0; k < HEAD_AXES && n % 100 == 0; k++)
                in.wanted[k] = random_between(&r, -1, 1);
            in.go_home = n % 1000 > 900;
            head_step(&cfg, &head, &in, &out);
            heads_run(&sim, &out);
            for (int k = 0; k < HEAD_AXES; k++)
                cr_assert(sim.at[k] >= cfg.axis[k].min && sim.at[k] <= cfg.axis[k].max, "%d axis %d: %g", i, k,
                          sim.at[k]);
            for (int k = 0; k < cfg.regions; k++)
                cr_assert_leq(heads_depth(&cfg.region[k], cfg.clear_rad, sim.at), 1e-9, "%d region %d", i, k);
        }
    }
}

/* What the rig makes of it: intents get lost, fewer in a row than a lease lasts; and ticks come late. */
struct link {
    double loss;
    int lease, latest, lost; /* ticks */
    struct head_output heard;
};

static void pass_on(struct link *link, struct heads_sim *sim, struct random *r, const struct head_output *out,
                    int ticks)
{
    bool lost = link->lost + 2 * link->latest < link->lease && random_between(r, 0, 1) < link->loss;
    link->lost = lost ? link->lost + ticks : 0;
    link->heard = lost ? link->heard : *out;
    for (int i = 0; i < ticks; i++)
        heads_run(sim, &link->heard);
}

static void expect_clear(const struct head_config *cfg, const struct heads_sim *sim, const char *when)
{
    for (int k = 0; k < HEAD_AXES; k++)
        cr_assert(sim->at[k] >= cfg->axis[k].min - 1e-9 && sim->at[k] <= cfg->axis[k].max + 1e-9, "%s, axis %d: %.9g",
                  when, k, sim->at[k]);
    for (int k = 0; k < cfg->regions; k++)
        cr_assert_leq(heads_depth(&cfg->region[k], cfg->clear_rad, sim->at), 1e-9, "%s, region %d", when, k);
}

/* Nothing more is heard: what is under way arrives, holds until it lapses, and then the axes brake by themselves. */
static void expect_clear_alone(const struct head_config *cfg, const struct heads_sim *sim, const struct link *link)
{
    struct heads_sim alone = *sim;
    struct head_output out = link->heard;
    for (int i = 0; i < alone.command_late + link->lease - link->lost; i++)
        heads_run(&alone, &out);
    alone.command_late = 0;
    for (int i = 0; i < 200; i++) {
        for (int k = 0; k < HEAD_AXES; k++)
            out.rate[k] = copysign(fmax(fabs(out.rate[k]) - cfg->axis[k].limits.accel * cfg->dt_s, 0), out.rate[k]);
        heads_run(&alone, &out);
    }
    expect_clear(cfg, &alone, "alone");
}

/* Core may die after any tick: then the head runs on for the lease. Before that it loses intents, and ticks are late.
 */
Test(head, keeps_its_ends_whatever_is_lost_and_if_it_hears_nothing_more)
{
    struct random r = {3};
    for (int i = 0; i < 80; i++) {
        struct head_config cfg = heads_config();
        heads_region(&cfg, 40, 60, -100, 100);
        heads_region(&cfg, -100, -60, -50, -30);
        struct heads_sim sim = {.command_late = (int)random_below(&r, 8), .report_late = (int)random_below(&r, 8)};
        struct link link = {.lease = 5 + (int)random_below(&r, 40), .latest = i % 4 == 3 ? 3 : 1};
        link.loss = i % 2 ? random_between(&r, 0, 0.7) : 0;
        sim.noise = random_between(&r, 0, 0.01);
        cfg.latency_s = (sim.command_late + sim.report_late) * HEADS_DT;
        cfg.lease_s = link.lease * HEADS_DT;
        cfg.arrived = 0.05;
        cr_assert(head_config_valid(&cfg));
        const double start[HEAD_AXES] = {0, -20 * heads_rad, 0, 2};
        struct head head;
        struct head_input in = {.elapsed_s = HEADS_DT};
        struct head_output out;
        head_init(&head, &cfg);
        heads_start(&sim, start);
        for (int n = 0; n < 2000; n++) {
            int ticks = 1 + (int)random_below(&r, (unsigned)link.latest);
            heads_report(&sim, &r, &in);
            for (int k = 0; k < HEAD_AXES && n % 100 == 0; k++)
                in.wanted[k] = random_between(&r, -1, 1);
            head_step(&cfg, &head, &in, &out);
            pass_on(&link, &sim, &r, &out, ticks);
            in.elapsed_s = ticks * HEADS_DT;
            expect_clear(&cfg, &sim, "on its way");
            if (n % 3 == 0)
                expect_clear_alone(&cfg, &sim, &link);
        }
    }
}

/* The lease makes it slow in front of an end, and takes nothing of its range. */
Test(head, comes_to_the_very_ends_whatever_the_lease)
{
    static const double leases[] = {0, 0.3, 1};
    for (int i = 0; i < 3; i++) {
        struct head_config cfg = heads_config();
        struct heads_sim sim = {.command_late = 4, .report_late = 4};
        struct random r = {4};
        cfg.latency_s = 0.08;
        cfg.lease_s = leases[i];
        const double start[HEAD_AXES] = {0, -20 * heads_rad, 0, 1};
        struct head head;
        struct head_input in = {.wanted = {[HEAD_PAN] = 1, [HEAD_TILT] = -1}};
        struct head_output out;
        head_init(&head, &cfg);
        heads_start(&sim, start);
        for (int n = 0; n < 2000; n++) {
            heads_report(&sim, &r, &in);
            head_step(&cfg, &head, &in, &out);
            heads_run(&sim, &out);
        }
        cr_assert(sim.at[HEAD_PAN] > 169.9 * heads_rad && sim.at[HEAD_TILT] < -89.9 * heads_rad,
                  "lease %g s: %.3f, %.3f deg", leases[i], sim.at[HEAD_PAN] / heads_rad, sim.at[HEAD_TILT] / heads_rad);
    }
}
