/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_power.h"

#include <criterion/criterion.h>

#include "tests/unit/rig/rig_bench.h"

static struct sim_power powered(void)
{
    struct sim_power p;
    sim_power_init(&p);
    sim_power_intent(&p, &(struct wire_intent){.stop_count = 1, .power = 0, .category = 2}, 1);
    sim_power_intent(&p, &(struct wire_intent){.stop_count = 1, .power = 1, .category = 2}, 1);
    cr_assert(p.on);
    return p;
}

/* Every combination of what decides: only one of them brings the power back. */
Test(power, comes_back_only_by_what_was_armed_after_the_stop)
{
    for (unsigned k = 0; k < 2 * 2 * 3 * 2; k++) {
        struct sim_power p;
        bool told_off = k & 1, power = k >> 1 & 1, knows = k >> 2 & 1;
        uint8_t category = (uint8_t)(k / 8);
        sim_power_init(&p);
        if (told_off)
            sim_power_intent(&p, &(struct wire_intent){.stop_count = 1, .power = 0, .category = 1}, 2);
        struct wire_intent i = {.stop_count = knows ? 2 : 1, .power = power, .category = category};
        sim_power_intent(&p, &i, 2);
        cr_assert_eq(p.on, told_off && power && knows && category == 2, "%u", k);
    }
}

Test(power, goes_as_the_category_says)
{
    for (uint8_t category = 0; category < 3; category++) {
        struct sim_power p = powered();
        sim_power_stop(&p, category);
        sim_power_step(&p, false);
        cr_assert_eq(p.on, category != 0);
        sim_power_step(&p, true);
        cr_assert_eq(p.on, category == 2);
        p = powered();
        sim_power_stop(&p, category);
        sim_power_stop(&p, 2);
        sim_power_intent(&p, &(struct wire_intent){.stop_count = 2, .power = 1, .category = 2}, 2);
        sim_power_step(&p, true);
        cr_assert_eq(p.on, category == 2, "the most severe holds");
    }
    struct sim_power p = powered();
    sim_power_intent(&p, &(struct wire_intent){.stop_count = 1, .power = 0, .category = 2}, 1);
    sim_power_step(&p, false);
    cr_assert(p.on, "parked: at rest first");
    sim_power_step(&p, true);
    cr_assert_not(p.on);
}

Test(power, outlives_a_session_but_is_given_anew_in_each)
{
    struct sim_power p = powered();
    sim_power_session(&p);
    sim_power_step(&p, true);
    cr_assert(p.on);
    sim_power_intent(&p, &(struct wire_intent){.stop_count = 1, .power = 0, .category = 2}, 1);
    sim_power_step(&p, true);
    cr_assert_not(p.on);
    sim_power_session(&p);
    sim_power_intent(&p, &(struct wire_intent){.stop_count = 1, .power = 1, .category = 2}, 1);
    cr_assert_not(p.on, "a core that was armed under another session");
}

/* The whole rig: how far it goes on, how hard it swings, and where it is when power comes back. */
struct stopped {
    double went_m, swing_rad, moved_m;
    bool on_at_once, on_at_rest;
};

static struct stopped stop_with(uint8_t category)
{
    struct show show;
    struct rig_core core;
    struct stopped s;
    rig_bench_show(&show);
    show.policy.guard.speed_mps = 0.6;
    struct sim_rig *rig = rig_bench_rig(&show);
    rig_core_init(&core);
    rig_core_connect(&core, rig);
    rig_core_drive(&core, rig, (struct vec3){0.4, 0, 0}, 1, 2, 300 * MS);
    struct vec3 from = rig->physics.position;
    struct wire_message m = rig_core_stop(&core, 2);
    m.body.stop.category = category;
    rig_core_send(&core, rig, &m);
    rig_core_run(&core, rig, 0.03);
    s.on_at_once = rig->controller.power.on;
    rig_core_run(&core, rig, 4);
    s.on_at_rest = rig->controller.power.on;
    s.went_m = vec_norm(vec_sub(rig->physics.position, from));
    s.swing_rad = sim_physics_swing(&rig->physics_cfg, &rig->physics);
    cr_assert_eq((core.last.flags & WIRE_RIG_POWERED) != 0, s.on_at_rest);
    from = rig->physics.position;
    for (int k = 0; k < 4; k++) {
        m = rig_core_intent(&core, false, (struct vec3){0, 0, 0}, 2, 1, rig->now_ns + 300 * MS);
        m.body.intent.power = (uint8_t)(k / 2);
        rig_core_send(&core, rig, &m);
        rig_core_run(&core, rig, 0.5);
    }
    cr_assert(rig->controller.power.on && !rig->controller.fault, "category %d: power %d fault %d", category,
              rig->controller.power.on, rig->controller.fault);
    s.moved_m = vec_norm(vec_sub(rig->physics.position, from));
    free(rig);
    return s;
}

Test(power, categories_as_the_machine_shows_them)
{
    struct stopped s[3];
    for (uint8_t c = 0; c < 3; c++)
        s[c] = stop_with(c);
    cr_assert(!s[0].on_at_once && s[1].on_at_once && s[2].on_at_once);
    cr_assert(!s[0].on_at_rest && !s[1].on_at_rest && s[2].on_at_rest);
    cr_assert_lt(s[0].went_m, 0.04, "brakes are hard: %.3f m", s[0].went_m);
    cr_assert(s[2].went_m > 0.1 && fabs(s[1].went_m - s[2].went_m) < 0.005, "%.3f %.3f m", s[1].went_m, s[2].went_m);
    cr_assert_gt(s[0].swing_rad, s[2].swing_rad, "and it swings for it");
    for (int c = 0; c < 3; c++)
        cr_assert_lt(s[c].moved_m, 0.01, "power comes back without a jerk: category %d moved %.4f m", c, s[c].moved_m);
}

/* A brake holds what a drive does not. */
Test(power, brakes_hold_a_winch_that_runs_away)
{
    struct show show;
    struct rig_core core;
    rig_bench_show(&show);
    struct sim_rig *rig = rig_bench_rig(&show);
    rig_core_init(&core);
    rig_core_connect(&core, rig);
    cr_assert(rig->controller.power.on);
    rig->faults.winch[0] = (struct sim_winch_fault){SIM_WINCH_RUNS_AWAY, 0, 0.1};
    rig_core_run(&core, rig, 1);
    struct vec3 at = rig->physics.position;
    rig_core_run(&core, rig, 0.5);
    cr_assert_gt(vec_norm(vec_sub(rig->physics.position, at)), 0.01, "a stop that holds under power does not hold it");
    struct wire_message m = rig_core_stop(&core, 2);
    m.body.stop.category = 0;
    rig_core_send(&core, rig, &m);
    rig_core_run(&core, rig, 1);
    at = rig->physics.position;
    rig_core_run(&core, rig, 1);
    cr_assert_lt(vec_norm(vec_sub(rig->physics.position, at)), 0.005);
    free(rig);
}
