/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Forbidden regions: the way home around them, and lanes that push back in. */
#include "tests/unit/motion/heads.h"

#define GRID_DEG 2.0

struct rest {
    int ticks, recoveries;
    double deepest; /* in a grown region, after it was first outside all of them */
    bool home, left;
};

static double deepest_in(const struct head_config *cfg, double by, const double at[HEAD_AXES])
{
    double deepest = -INFINITY;
    for (int k = 0; k < cfg->regions; k++)
        deepest = fmax(deepest, heads_depth(&cfg->region[k], by, at));
    return deepest;
}

static bool at_home(const struct head_config *cfg, const double at[HEAD_AXES])
{
    bool home = true;
    for (int k = 0; k < HEAD_AXES; k++)
        home = home && fabs(at[k] - cfg->axis[k].home) <= cfg->arrived;
    return home;
}

/* Sends it home from somewhere, or lets it find that it must. */
static struct rest run_home(const struct head_config *cfg, struct heads_sim *sim, struct random *r, bool ask)
{
    struct rest rest = {.deepest = -INFINITY};
    struct head head;
    struct head_input in = {.go_home = ask};
    struct head_output out;
    head_init(&head, cfg);
    for (; rest.ticks < 12000 && !rest.home; rest.ticks++) {
        heads_report(sim, r, &in);
        head_step(cfg, &head, &in, &out);
        if (out.notes & HEAD_NO_WAY)
            return rest;
        heads_run(sim, &out);
        double depth = deepest_in(cfg, cfg->clear_rad, sim->at);
        rest.left = rest.left || depth <= 0;
        rest.deepest = rest.left ? fmax(rest.deepest, depth) : rest.deepest;
        rest.home = at_home(cfg, sim->at) && head.axis[HEAD_PAN].v == 0 && head.axis[HEAD_TILT].v == 0;
    }
    return rest;
}

/* Pan is blocked at every tilt but the lowest: it must tilt down, pan past, and tilt up again. */
Test(head_recovery, goes_round_a_region)
{
    struct random r = {1};
    struct head_config cfg = heads_config();
    heads_region(&cfg, 40, 60, -60, 100);
    cr_assert(head_config_valid(&cfg));
    const double start[HEAD_AXES] = {100 * heads_rad, 0, 0, 4};
    struct heads_sim sim = {0};
    heads_start(&sim, start);
    struct rest rest = run_home(&cfg, &sim, &r, true);
    cr_assert(rest.home, "at pan %g tilt %g", sim.at[0] / heads_rad, sim.at[1] / heads_rad);
    cr_assert_leq(rest.deepest, 1e-9);
    /* 100 deg of pan and 2 x 62 deg of tilt at 30 deg/s, with a stop at each of two turns. */
    cr_assert_lt(rest.ticks, 1200, "%d ticks", rest.ticks);
}

Test(head_recovery, says_so_where_no_way_leads_home)
{
    struct random r = {2};
    struct head_config cfg = heads_config();
    heads_region(&cfg, 40, 60, -100, 100);
    const double start[HEAD_AXES] = {100 * heads_rad, 0, 0, 1};
    struct heads_sim sim = {0};
    heads_start(&sim, start);
    struct head head;
    struct head_input in = {.go_home = true};
    struct head_output out;
    head_init(&head, &cfg);
    for (int n = 0; n < 500; n++) {
        heads_report(&sim, &r, &in);
        head_step(&cfg, &head, &in, &out);
        heads_run(&sim, &out);
        cr_assert(out.notes & HEAD_NO_WAY);
    }
    cr_assert_eq(sim.at[HEAD_PAN], start[HEAD_PAN]);
    in.wanted[HEAD_PAN] = 0.2; /* but a lane may still move it where it is */
    head_step(&cfg, &head, &in, &out);
    cr_assert_gt(out.rate[HEAD_PAN], 0);
}

/* A way by brute force: a flood over a fine grid of pan and tilt. */
struct grid {
    int pans, tilts, queue[200 * 200];
    bool free[200][200], reached[200][200];
};

static void grid_visit(struct grid *grid, int *end, int p, int t)
{
    if (p < 0 || t < 0 || p >= grid->pans || t >= grid->tilts || !grid->free[p][t] || grid->reached[p][t])
        return;
    grid->reached[p][t] = true;
    grid->queue[(*end)++] = p * 200 + t;
}

static int grid_index(double x, double min)
{
    return (int)lround((x - min) / heads_rad / GRID_DEG);
}

static void grid_flood(const struct head_config *cfg, struct grid *grid)
{
    const struct head_axis_config *pan = &cfg->axis[HEAD_PAN], *tilt = &cfg->axis[HEAD_TILT];
    int end = 0;
    *grid = (struct grid){.pans = grid_index(pan->max, pan->min) + 1, .tilts = grid_index(tilt->max, tilt->min) + 1};
    for (int p = 0; p < grid->pans; p++) {
        for (int t = 0; t < grid->tilts; t++) {
            double at[HEAD_AXES] = {pan->min + p * GRID_DEG * heads_rad, tilt->min + t * GRID_DEG * heads_rad};
            grid->free[p][t] = deepest_in(cfg, cfg->clear_rad, at) <= 1e-9;
        }
    }
    grid_visit(grid, &end, grid_index(pan->home, pan->min), grid_index(tilt->home, tilt->min));
    for (int i = 0; i < end; i++) {
        int p = grid->queue[i] / 200, t = grid->queue[i] % 200;
        grid_visit(grid, &end, p - 1, t);
        grid_visit(grid, &end, p + 1, t);
        grid_visit(grid, &end, p, t - 1);
        grid_visit(grid, &end, p, t + 1);
    }
}

/* Faces lie between the points of the grid, and no gap is narrower than two steps of it. */
static struct head_config random_maze(struct random *r)
{
    for (;;) {
        struct head_config cfg = heads_config();
        cfg.clear_rad = 1 * heads_rad;
        for (uint32_t k = 1 + random_below(r, 4); k > 0; k--) {
            double pan = -172 + 8 * (double)random_below(r, 40),
                   tilt = random_below(r, 2) ? -92 : -92 + 8 * (double)random_below(r, 14);
            heads_region(&cfg, pan, pan + 2 + 8 * random_below(r, 6), tilt, tilt + 2 + 8 * random_below(r, 18));
        }
        if (head_config_valid(&cfg))
            return cfg;
    }
}

Test(head_recovery, finds_a_way_if_there_is_one)
{
    static struct grid grid;
    struct random r = {3};
    int ways = 0, none = 0;
    for (int i = 0; i < 300; i++) {
        struct head_config cfg = random_maze(&r);
        grid_flood(&cfg, &grid);
        double at[HEAD_AXES] = {0, 0, 0, 1};
        int p = (int)random_below(&r, (uint32_t)grid.pans), t = (int)random_below(&r, (uint32_t)grid.tilts);
        at[HEAD_PAN] = cfg.axis[HEAD_PAN].min + p * GRID_DEG * heads_rad;
        at[HEAD_TILT] = cfg.axis[HEAD_TILT].min + t * GRID_DEG * heads_rad;
        if (!grid.free[p][t])
            continue;
        struct heads_sim sim = {0};
        heads_start(&sim, at);
        struct rest rest = run_home(&cfg, &sim, &r, true);
        cr_assert_eq(rest.home, grid.reached[p][t], "maze %d from %g %g: at %g %g", i, at[0] / heads_rad,
                     at[1] / heads_rad, sim.at[0] / heads_rad, sim.at[1] / heads_rad);
        cr_assert_leq(rest.deepest, 1e-9, "maze %d", i);
        ways += rest.home;
        none += !rest.home;
    }
    cr_assert(ways > 100 && none > 5, "%d %d", ways, none);
}

/* Found inside a region: out, and home, wherever it was. */
Test(head_recovery, leaves_a_region_and_does_not_come_back)
{
    struct random r = {4};
    int found = 0;
    for (int i = 0; i < 300; i++) {
        struct head_config cfg = random_maze(&r);
        const struct head_region *in = &cfg.region[0];
        double at[HEAD_AXES] = {0, 0, 0, 1};
        for (int k = 0; k < 2; k++)
            at[k] = random_between(&r, fmax(in->from[k], cfg.axis[k].min), fmin(in->to[k], cfg.axis[k].max));
        struct heads_sim sim = {.noise = 0.002};
        heads_start(&sim, at);
        struct rest rest = run_home(&cfg, &sim, &r, false);
        if (!rest.left)
            continue; /* no way: all round it is shut */
        cr_assert(rest.home, "maze %d: at %g %g", i, sim.at[0] / heads_rad, sim.at[1] / heads_rad);
        cr_assert_leq(rest.deepest, 0.005, "maze %d", i);
        found++;
    }
    cr_assert_gt(found, 150, "%d", found);
}

/* In one region, and another between it and home: through it, for there is no other way out. */
Test(head_recovery, leaves_through_another_region_if_it_must)
{
    struct random r = {5};
    struct head_config cfg = heads_config();
    heads_region(&cfg, 40, 60, -100, 100);
    heads_region(&cfg, 20, 45, -100, 100);
    const double start[HEAD_AXES] = {55 * heads_rad, -20 * heads_rad, 0, 1};
    struct heads_sim sim = {.noise = 0.001};
    heads_start(&sim, start);
    struct rest rest = run_home(&cfg, &sim, &r, false);
    cr_assert(rest.home, "at %g", sim.at[HEAD_PAN] / heads_rad);
}

/* Straight home from either side, and not past it. */
Test(head_recovery, does_not_pass_home)
{
    struct random r = {8};
    for (int i = 0; i < 2; i++) {
        struct head_config cfg = heads_config();
        double way = i ? -1 : 1;
        const double start[HEAD_AXES] = {way * 100 * heads_rad, (-20 + way * 30) * heads_rad, way * 0.3, 2};
        struct heads_sim sim = {0};
        struct head head;
        struct head_input in = {.go_home = true};
        struct head_output out;
        head_init(&head, &cfg);
        heads_start(&sim, start);
        for (int n = 0; n < 1000; n++) {
            heads_report(&sim, &r, &in);
            head_step(&cfg, &head, &in, &out);
            heads_run(&sim, &out);
            for (int k = 0; k < HEAD_TURNING; k++)
                cr_assert_geq(way * (sim.at[k] - cfg.axis[k].home), -1e-9, "%d axis %d tick %d", i, k, n);
        }
        cr_assert(at_home(&cfg, sim.at));
    }
}

/* The only gap is too narrow for what is known of the position: it says so, and the lane is heard again. */
Test(head_recovery, gives_up_where_it_does_not_fit)
{
    struct random r = {6};
    struct head_config cfg = heads_config();
    heads_region(&cfg, 40, 60, -100, -25);
    heads_region(&cfg, 40, 60, -20.9, 100);
    heads_region(&cfg, 100, 120, -100, 100);
    cfg.recover_s = 15;
    cr_assert(head_config_valid(&cfg));
    const double start[HEAD_AXES] = {105 * heads_rad, -10 * heads_rad, 0, 1};
    struct heads_sim sim = {.noise = 0.003};
    struct head head;
    struct head_input in = {.wanted = {[HEAD_TILT] = 0.2}};
    struct head_output out;
    bool said = false;
    head_init(&head, &cfg);
    heads_start(&sim, start);
    for (int n = 0; n < 3000; n++) {
        heads_report(&sim, &r, &in);
        head_step(&cfg, &head, &in, &out);
        heads_run(&sim, &out);
        said = said || (out.notes & HEAD_NO_WAY);
        cr_assert(n == 1500 || ((out.notes & HEAD_RECOVERING) != 0) == (n < 1500), "tick %d", n);
    }
    cr_assert(said, "at %g %g notes %x", sim.at[0] / heads_rad, sim.at[1] / heads_rad, out.notes);
    cr_assert_not(out.notes & HEAD_RECOVERING);
    cr_assert_gt(sim.at[HEAD_TILT], 25 * heads_rad);
    cr_assert_lt(sim.at[HEAD_PAN], 100 * heads_rad);
    cr_assert_gt(sim.at[HEAD_PAN], 60 * heads_rad);
}

/* Nor does it try for ever where it is asked to: not again before it is asked anew. */
Test(head_recovery, gives_up_a_stuck_motor)
{
    struct head_config cfg = heads_config();
    struct head head;
    struct head_input in = {.position = {1, 0, 0, 1}, .wanted = {[HEAD_PAN] = 0.2}, .go_home = true};
    struct head_output out;
    cfg.recover_s = 2;
    head_init(&head, &cfg);
    for (int n = 0; n < 500; n++) {
        head_step(&cfg, &head, &in, &out);
        cr_assert(n == 200 || ((out.notes & HEAD_NO_WAY) != 0) == (n > 200), "tick %d", n);
    }
    cr_assert_gt(out.rate[HEAD_PAN], 0);
    in.go_home = false;
    head_step(&cfg, &head, &in, &out);
    cr_assert_not(out.notes & HEAD_NO_WAY);
    in.go_home = true;
    head_step(&cfg, &head, &in, &out);
    cr_assert(out.notes & HEAD_RECOVERING);
    in = (struct head_input){.position = {0, -20 * heads_rad, 0, 1}, .go_home = true};
    for (int n = 0; n < 500; n++) /* held at home it is not on the way */
        head_step(&cfg, &head, &in, &out);
    cr_assert(out.notes & HEAD_RECOVERING);
}

/* Moved by hand through one face of a region, and the motor stuck: then a lane can leave it by the nearest face, not
 * on through the region to the one it came from. */
Test(head_recovery, forgets_the_face_it_came_through)
{
    struct head_config cfg = heads_config();
    heads_region(&cfg, -60, -40, -100, 0);
    cfg.recover_s = 0.1;
    for (int out = 0; out < 2; out++) {
        struct head head;
        struct head_input in = {.position = {-70 * heads_rad, -20 * heads_rad, 0, 1}};
        struct head_output said;
        head_init(&head, &cfg);
        head_step(&cfg, &head, &in, &said);
        in.position[HEAD_PAN] = -45 * heads_rad;
        in.wanted[HEAD_PAN] = out ? 0.2 : -0.2;
        for (int n = 0; n < 200; n++)
            head_step(&cfg, &head, &in, &said);
        cr_assert(said.notes & HEAD_NO_WAY);
        cr_assert(out ? said.rate[HEAD_PAN] > 0 : said.rate[HEAD_PAN] == 0, "%g", said.rate[HEAD_PAN]);
    }
}

/* Within `clear` of a region but not in it, on either side: no recovery; in no further, but out, and along it. */
static void expect_only_in_is_refused(double pan_deg, double outward, double uncertainty)
{
    const double wanted[3][2] = {{outward, 0}, {0, 0.2}, {-outward, 0}};
    for (int i = 0; i < 3; i++) {
        struct head_config cfg = heads_config();
        heads_region(&cfg, 40, 60, -100, 100);
        struct head head;
        struct head_input in = {.position = {pan_deg * heads_rad, -20 * heads_rad, 0, 1},
                                .uncertainty = uncertainty,
                                .wanted = {wanted[i][0], wanted[i][1]}};
        struct head_output out;
        head_init(&head, &cfg);
        for (int n = 0; n < 10; n++)
            head_step(&cfg, &head, &in, &out);
        cr_assert_not(out.notes & HEAD_RECOVERING);
        cr_assert_eq(out.rate[HEAD_PAN] * outward > 0, i == 0, "pan %g wish %d", pan_deg, i);
        cr_assert_eq(out.rate[HEAD_TILT] > 0, i == 1, "pan %g wish %d", pan_deg, i);
        cr_assert_geq(out.rate[HEAD_PAN] * outward, 0);
        cr_assert_eq((out.notes & HEAD_REGION) != 0, i == 2, "pan %g wish %d", pan_deg, i);
    }
}

Test(head_recovery, lets_a_lane_move_out_and_along)
{
    expect_only_in_is_refused(39, -0.2, 0);
    expect_only_in_is_refused(61, 0.2, 0);
    expect_only_in_is_refused(39, -0.2, 0.03); /* more than it is from the grown region's face */
    expect_only_in_is_refused(61, 0.2, 0.03);
}

/* An axis that is lost may be anywhere: the others keep out of what it could complete. */
Test(head_recovery, counts_a_lost_axis_everywhere)
{
    struct random r = {7};
    struct head_config cfg = heads_config();
    heads_region(&cfg, 40, 60, -80, -60);
    const double start[HEAD_AXES] = {30 * heads_rad, -20 * heads_rad, 0, 1};
    for (int lost = 0; lost < 2; lost++) {
        struct heads_sim sim = {0};
        struct head head;
        struct head_input in = {.wanted = {[HEAD_PAN] = 0.3}};
        struct head_output out;
        head_init(&head, &cfg);
        heads_start(&sim, start);
        for (int n = 0; n < 300; n++) {
            heads_report(&sim, &r, &in);
            in.position[HEAD_TILT] = lost ? NAN : in.position[HEAD_TILT];
            head_step(&cfg, &head, &in, &out);
            heads_run(&sim, &out);
        }
        cr_assert_eq(sim.at[HEAD_PAN] < 38 * heads_rad, lost == 1, "%d: %g", lost, sim.at[HEAD_PAN] / heads_rad);
    }
}

/* Along an axis it goes to where it must turn, or to home's own coordinate, without a stop on the way. */
Test(head_recovery, aims_as_far_as_it_can)
{
    const struct head_span span[HEAD_TURNING] = {{-3, 3, 0.1}, {-1, 1, 0}, {0, 0, 0}};
    const struct head_region region[] = {{{-2, -2, -1}, {-1, 0.5, 1}}, {{1, -0.5, -1}, {2, 2, 1}}};
    const double above[HEAD_TURNING] = {-2.5, 0.8, 0}, beside[HEAD_TURNING] = {-2.5, 0, 0},
                 near[HEAD_TURNING] = {0.5, 0.4, 0};
    double target[HEAD_TURNING];
    struct head_way way;
    head_way_plan(&way, span, region, 2, 0);
    cr_assert(head_way_target(&way, above, target));
    cr_assert(target[0] == 0.1 && target[1] == 0.8 && target[2] == 0, "%g %g", target[0], target[1]);
    cr_assert(head_way_target(&way, beside, target));
    cr_assert(target[0] == -2.5 && target[1] == 0.75, "%g %g", target[0], target[1]);
    cr_assert(head_way_target(&way, near, target));
    cr_assert(target[0] == 0.1 && target[1] == 0, "%g %g", target[0], target[1]);
}
