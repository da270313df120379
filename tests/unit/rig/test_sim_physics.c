/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>
#include <stdlib.h>

#include "tests/unit/rig/rig_bench.h"

#define DT 0.00025

static double get(const json_t *row, const char *key)
{
    return json_number_value(json_object_get(row, key));
}

static struct sim_pendulum tilted(double angle)
{
    return (struct sim_pendulum){.n = {sin(angle), 0, -cos(angle)}};
}

/* T = 2 pi sqrt(L / g): small swings, timed between zero crossings in the same direction. */
Test(pendulum, its_period_is_two_pi_root_l_over_g)
{
    static const double published[][2] = {{1, 2.0}, {2, 2.8}, {3, 3.5}}; /* s, to a digit */
    for (size_t k = 0; k < 3; k++) {
        struct sim_pendulum_config cfg = {.length_m = published[k][0]};
        struct sim_pendulum p = tilted(0.01);
        double first = 0, last = 0, before = p.n.x;
        int crossings = 0;
        for (double t = DT; crossings < 11; t += DT) {
            sim_pendulum_step(&cfg, &p, (struct vec3){0, 0, 0}, DT);
            if (before < 0 && p.n.x >= 0) {
                last = t - DT * p.n.x / (p.n.x - before);
                first = crossings++ == 0 ? last : first;
            }
            before = p.n.x;
        }
        double period = (last - first) / 10;
        cr_assert_float_eq(period, 2 * M_PI * sqrt(cfg.length_m / SIM_GRAVITY), 1e-4);
        cr_assert_float_eq(period, published[k][1], 0.06);
    }
}

static double peak(const struct sim_pendulum_config *cfg, double a, double *least_x)
{
    struct sim_pendulum p;
    double highest = 0;
    sim_pendulum_init(&p);
    for (double t = 0; t < 3; t += DT) {
        sim_pendulum_step(cfg, &p, (struct vec3){a, 0, 0}, DT);
        highest = fmax(highest, sim_pendulum_angle(&p));
        *least_x = fmin(*least_x, p.n.x);
    }
    return highest;
}

/* A pivot that starts to accelerate: 2 atan(a / g) undamped, and with damping a little under the linear value, as the
 * full pendulum is a little under the linear one. */
Test(pendulum, a_started_pivot_throws_it_to_the_published_angle)
{
    json_t *doc = json_load_file(REFERENCE "/rig.json", 0, NULL), *c, *row;
    size_t i, r, rows = 0;
    json_array_foreach(json_object_get(doc, "cases"), i, c)
    {
        if (strcmp(json_string_value(json_object_get(c, "id")), "pendulum-step") != 0)
            continue;
        json_array_foreach(json_object_get(json_object_get(c, "expect"), "rows"), r, row)
        {
            struct sim_pendulum_config cfg = {.length_m = get(row, "L")};
            double a = get(row, "a"), lag = 0;
            cr_assert_float_eq(peak(&cfg, a, &lag), get(row, "peak_nonlinear_undamped"), 2e-5);
            cr_assert(a == 0 ? lag == 0 : lag < -0.05, "the mass lags");
            cfg.damping = get(row, "zeta");
            double lower = get(row, "peak_linear_damped") -
                           1.1 * (get(row, "peak_linear_undamped") - get(row, "peak_nonlinear_undamped"));
            double damped = peak(&cfg, a, &lag);
            cr_assert(damped <= get(row, "peak_linear_damped") + 1e-9 && damped >= lower - 2e-5, "row %zu", r);
            rows++;
        }
    }
    cr_assert_eq(rows, 4);
    json_decref(doc);
}

Test(pendulum, stays_on_its_sphere_and_keeps_its_energy_through_a_thousand_swings)
{
    struct sim_pendulum_config cfg = {.length_m = 0.35};
    struct sim_pendulum p = tilted(0.3);
    p.rate = (struct vec3){0, 1.0, 0};
    double start = 0.5 * cfg.length_m * vec_dot(p.rate, p.rate) + SIM_GRAVITY * p.n.z;
    for (long step = 0; step < 4800000; step++)
        sim_pendulum_step(&cfg, &p, (struct vec3){0, 0, 0}, DT);
    double end = 0.5 * cfg.length_m * vec_dot(p.rate, p.rate) + SIM_GRAVITY * p.n.z;
    cr_assert_float_eq(vec_norm(p.n), 1, 1e-12);
    cr_assert_lt(fabs(vec_dot(p.n, p.rate)), 1e-9);
    cr_assert_float_eq(end, start, 2e-3);
}

Test(pendulum, damping_takes_the_amplitude_down_by_its_ratio)
{
    struct sim_pendulum_config cfg = {.length_m = 0.5, .damping = 0.05};
    struct sim_pendulum p = tilted(0.02);
    double omega = sqrt(SIM_GRAVITY / 0.5), seconds = 4;
    for (long step = 0; step < (long)(seconds / DT); step++)
        sim_pendulum_step(&cfg, &p, (struct vec3){0, 0, 0}, DT);
    /* The estimate ripples by about zeta within a period. */
    double expect = 0.02 * exp(-0.05 * omega * seconds);
    cr_assert_float_eq(sim_pendulum_amplitude(&cfg, &p), expect, 0.06 * expect);
}

/* The machine of the bench show, with winches that hold still. */
static struct sim_rig *machine(struct sim_winch_target *hold)
{
    struct show show;
    rig_bench_show(&show);
    struct sim_rig *rig = rig_bench_rig(&show);
    *hold = rig->controller.target;
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        hold->rate_mps[i] = 0;
    return rig;
}

Test(physics, hangs_still_where_the_statics_put_it)
{
    struct sim_winch_target hold;
    struct sim_rig *rig = machine(&hold);
    struct vec3 home = rig->physics.position, pull = {0, 0, 0};
    for (int step = 0; step < 20000; step++)
        sim_physics_step(&rig->physics_cfg, &rig->physics, &hold, DT);
    cr_assert_lt(vec_norm(vec_sub(rig->physics.position, home)), 1e-9);
    for (int i = 0; i < 4; i++) {
        struct vec3 to = vec_sub(rig->physics_cfg.anchor[i], home);
        pull = vec_along(pull, to, rig->physics.tension_n[i] / vec_norm(to));
    }
    cr_assert_float_eq(pull.z, 2.4 * SIM_GRAVITY, 1e-6);
    cr_assert_lt(hypot(pull.x, pull.y), 1e-6);
    free(rig);
}

Test(physics, a_pushed_machine_only_loses_energy_and_comes_to_rest)
{
    struct sim_winch_target hold;
    struct sim_rig *rig = machine(&hold);
    struct vec3 home = rig->physics.position;
    double rest = sim_physics_energy(&rig->physics_cfg, &rig->physics);
    rig->physics.velocity = (struct vec3){0.3, -0.2, 0.25};
    rig->physics.swing.rate = (struct vec3){1.0, 0.5, 0};
    double before = sim_physics_energy(&rig->physics_cfg, &rig->physics), lowest = before;
    for (int step = 0; step < 40 * 4000; step++) {
        sim_physics_step(&rig->physics_cfg, &rig->physics, &hold, DT);
        double now = sim_physics_energy(&rig->physics_cfg, &rig->physics);
        /* The integrator lets the energy of a vibration ripple by omega dt / 2 of it, and no more. */
        cr_assert_leq(now - rest, 1.05 * (lowest - rest) + 1e-7, "step %d", step);
        lowest = fmin(lowest, now);
    }
    cr_assert_float_eq(lowest, rest, 1e-4);
    cr_assert_lt(vec_norm(vec_sub(rig->physics.position, home)), 1e-4);
    free(rig);
}

Test(physics, cords_never_push)
{
    struct sim_winch_target hold;
    struct sim_rig *rig = machine(&hold);
    rig->physics.velocity = (struct vec3){0, 0, 2.0};
    double top = 0, slack_steps = 0;
    for (int step = 0; step < 4000; step++) {
        sim_physics_step(&rig->physics_cfg, &rig->physics, &hold, DT);
        top = fmax(top, rig->physics.position.z);
        bool all_slack = true;
        for (int i = 0; i < 4; i++) {
            cr_assert_geq(rig->physics.tension_n[i], 0);
            all_slack &= rig->physics.tension_n[i] == 0;
        }
        slack_steps += all_slack;
    }
    /* Thrown up at 2 m/s with nothing to hold it down: a projectile, v^2 / 2g = 0.204 m high, slack meanwhile. The
     * cords give first, and the body on its boom comes along. */
    cr_assert_gt(slack_steps, 500);
    cr_assert_float_eq(top - 2.0, 0.204, 0.02);
    free(rig);
}

Test(physics, without_a_cord_the_camera_swings_away_from_it)
{
    struct sim_winch_target hold;
    struct sim_rig *rig = machine(&hold);
    rig->physics.parted[0] = true; /* the one at x 0.2, y 0.2 */
    for (int step = 0; step < 2400; step++)
        sim_physics_step(&rig->physics_cfg, &rig->physics, &hold, DT);
    cr_assert_gt(rig->physics.position.x, 4.0 + 0.3);
    cr_assert_eq(rig->physics.tension_n[0], 0);
    free(rig);
}

/* With every cord parted only gravity acts from outside: whatever boom and friction do inside, the centre of mass falls
 * like a stone and its momentum stays. */
Test(physics, thrown_free_its_centre_of_mass_is_a_projectile)
{
    struct sim_winch_target hold;
    struct sim_rig *rig = machine(&hold);
    const struct sim_physics_config *cfg = &rig->physics_cfg;
    struct sim_physics *s = &rig->physics;
    double m = cfg->body_kg / (cfg->body_kg + cfg->platform_kg), boom = cfg->boom.length_m, t = 0;
    for (int i = 0; i < 4; i++)
        s->parted[i] = true;
    s->velocity = (struct vec3){0.3, -0.2, 0.5};
    s->swing.rate = (struct vec3){4, 2, 0};
    struct vec3 from = vec_along(s->position, s->swing.n, m * boom);
    struct vec3 v = vec_along(s->velocity, s->swing.rate, m * boom);
    for (; t < 0.5; t += DT)
        sim_physics_step(cfg, s, &hold, DT);
    struct vec3 fallen = vec_sub(vec_along(s->position, s->swing.n, m * boom), from);
    struct vec3 expect = vec_along(vec_scale(v, t), (struct vec3){0, 0, -SIM_GRAVITY}, t * t / 2);
    cr_assert_lt(vec_norm(vec_sub(fallen, expect)), 2e-3, "%g", vec_norm(vec_sub(fallen, expect)));
    free(rig);
}

Test(physics, a_winch_keeps_to_its_speed_and_acceleration)
{
    struct sim_winch_target far;
    struct sim_rig *rig = machine(&far);
    const struct sim_physics_config *cfg = &rig->physics_cfg;
    for (int i = 0; i < 4; i++)
        far.rest_m[i] += 3;
    double fastest = 0;
    for (int step = 0; step < 8000; step++) {
        double before = rig->physics.rest_rate_mps[0];
        sim_physics_step(cfg, &rig->physics, &far, DT);
        double rate = rig->physics.rest_rate_mps[0];
        cr_assert_leq(fabs(rate - before), cfg->winch_accel_mps2 * DT * (1 + 1e-9));
        fastest = fmax(fastest, fabs(rate));
    }
    cr_assert_float_eq(fastest, cfg->winch_speed_mps, 1e-12);
    free(rig);
}

Test(physics, the_same_run_twice_is_the_same_bit_for_bit)
{
    struct sim_winch_target hold;
    struct sim_rig *a = machine(&hold), *b = machine(&hold);
    a->physics.velocity = b->physics.velocity = (struct vec3){0.3, 0.1, 0};
    for (int step = 0; step < 4000; step++) {
        sim_physics_step(&a->physics_cfg, &a->physics, &hold, DT);
        sim_physics_step(&b->physics_cfg, &b->physics, &hold, DT);
    }
    cr_assert_eq(memcmp(&a->physics, &b->physics, sizeof a->physics), 0);
    free(a);
    free(b);
}
