/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The whole simulated rig in virtual time: link, controller, machine, sensors, judge. */
#include <criterion/criterion.h>
#include <jansson.h>
#include <stdlib.h>

#include "tests/unit/rig/rig_bench.h"

#define LEASE (300 * MS)

struct bench {
    struct show show;
    struct sim_rig *rig;
    struct rig_core core;
};

static void begin(struct bench *b)
{
    rig_bench_show(&b->show);
    b->rig = rig_bench_rig(&b->show);
    rig_core_init(&b->core);
    rig_core_connect(&b->core, b->rig);
}

static struct vec3 where(const struct bench *b)
{
    return b->rig->physics.position;
}

static double gone(const struct bench *b, struct vec3 from)
{
    return vec_norm(vec_sub(where(b), from));
}

Test(rig, reports_a_hundred_times_a_second_what_it_measures)
{
    struct bench b;
    begin(&b);
    uint64_t before = b.core.heard;
    double sum = 0;
    for (int i = 0; i < 100; i++) {
        rig_core_run(&b.core, b.rig, 0.01);
        double off = b.core.last.position[0] - b.show.home.x;
        sum += off * off;
        cr_assert_lt(fabs(off), 6 * b.show.sim.noise_m);
    }
    cr_assert_eq(b.core.heard - before, 100);
    double sigma = sqrt(sum / 100);
    cr_assert(sigma > 0.7 * b.show.sim.noise_m && sigma < 1.3 * b.show.sim.noise_m, "%g", sigma);
    cr_assert_float_eq(b.core.last.uncertainty_m, 3 * b.show.sim.noise_m, 1e-6);
    cr_assert_eq(b.core.last.cords, 4);
    cr_assert_float_eq(b.core.last.cord_length[0], b.rig->physics.length_m[0], 1e-4);
    cr_assert_eq(b.core.last.flags, (uint32_t)(WIRE_RIG_BRAKING | WIRE_RIG_LAPSED | WIRE_RIG_POWERED));
    free(b.rig);
}

Test(rig, telemetry_is_as_old_as_the_show_says)
{
    struct bench b;
    begin(&b);
    cr_assert_float_eq((double)(b.rig->now_ns - b.core.last.rig_ns) * 1e-9, b.show.sim.telemetry_latency_s, 0.0101);
    cr_assert_geq(b.rig->now_ns - b.core.last.rig_ns, 20 * MS);
    free(b.rig);
}

Test(rig, a_fifth_of_a_metre_a_second_for_a_second_moves_the_camera_a_fifth_of_a_metre)
{
    static const struct vec3 way[] = {{0.2, 0, 0}, {0, -0.2, 0}, {0, 0, 0.2}, {-0.1, 0.15, -0.05}};
    for (size_t k = 0; k < sizeof way / sizeof *way; k++) {
        struct bench b;
        begin(&b);
        struct vec3 from = where(&b);
        rig_core_drive(&b.core, b.rig, way[k], 1, 1, LEASE);
        rig_core_drive(&b.core, b.rig, (struct vec3){0, 0, 0}, 1, 2, LEASE);
        struct vec3 miss = vec_sub(vec_sub(where(&b), from), way[k]);
        cr_assert_lt(vec_norm(miss), 0.002, "way %zu: %g m", k, vec_norm(miss));
        cr_assert_eq(b.rig->judge.slack, 0);
        free(b.rig);
    }
}

/* The true stop, machine and latencies included, stays within what the guard reckons with: v (latency + lease) +
 * v^2 / 2a for silence, v latency + v^2 / 2a for a stop. */
Test(rig, silence_brings_the_camera_to_rest_within_lease_and_braking_distance)
{
    for (double v = 0.1; v <= 0.4; v += 0.1) {
        struct bench b;
        begin(&b);
        rig_core_drive(&b.core, b.rig, (struct vec3){v, 0, 0}, 1, 2, LEASE);
        struct vec3 from = where(&b);
        rig_core_run(&b.core, b.rig, LEASE * 1e-9 + v / 0.6 + 0.25);
        cr_assert(sim_judge_at_rest(&b.rig->judge));
        cr_assert_leq(gone(&b, from), v * 0.3 + v * v / (2 * 0.6) + 0.001, "%g m/s: %g m", v, gone(&b, from));
        cr_assert_eq(b.rig->controller.lapses, 1);
        cr_assert(b.core.last.flags & WIRE_RIG_LAPSED);
        free(b.rig);
    }
}

Test(rig, a_stop_brings_the_camera_to_rest_within_braking_distance)
{
    for (double v = 0.1; v <= 0.4; v += 0.1) {
        struct bench b;
        begin(&b);
        rig_core_drive(&b.core, b.rig, (struct vec3){v, 0, 0}, 1, 2, LEASE);
        struct vec3 from = where(&b);
        struct wire_message stop = rig_core_stop(&b.core, 2);
        rig_core_send(&b.core, b.rig, &stop);
        rig_core_drive(&b.core, b.rig, (struct vec3){v, 0, 0}, 1, v / 0.6 + 0.2, LEASE);
        cr_assert(sim_judge_at_rest(&b.rig->judge));
        cr_assert_leq(gone(&b, from), v * 0.02 + v * v / (2 * 0.6) + 0.001, "%g m/s: %g m", v, gone(&b, from));
        cr_assert_eq(b.core.last.stop_count, 2);
        free(b.rig);
    }
}

/* A run of moves over the demo's stage, at the operator's pace: no cord may go slack, no part stray from the reference,
 * and the swing stays that of a pivot started and stopped at the braking it has. */
Test(rig, keeps_every_cord_taut_over_the_stage)
{
    static const struct vec3 way[] = {{0.4, 0, 0}, {0, 0.3, 0},  {-0.4, 0, 0}, {-0.4, 0, 0}, {0, -0.4, 0},
                                      {0.4, 0, 0}, {0, 0, -0.2}, {0, 0, 0.3},  {0.4, 0, 0},  {0, 0.3, -0.1}};
    struct bench b;
    double swing = 0;
    begin(&b);
    for (size_t k = 0; k < sizeof way / sizeof *way; k++) {
        for (int tick = 0; tick < 50; tick++) {
            rig_core_drive(&b.core, b.rig, way[k], 1, 0.1, LEASE);
            swing = fmax(swing, sim_physics_swing(&b.rig->physics_cfg, &b.rig->physics));
            cr_assert_lt(gone(&b, b.rig->controller.reference), 0.01);
        }
        rig_core_drive(&b.core, b.rig, (struct vec3){0, 0, 0}, 1, 1, LEASE);
    }
    cr_assert_eq(b.rig->judge.slack, 0);
    cr_assert_eq(b.rig->controller.fault, false);
    cr_assert_gt(swing, atan(0.66 / SIM_GRAVITY));
    cr_assert_lt(swing, 2 * 2 * atan(0.66 / SIM_GRAVITY)); /* two such throws at the most, a start and a stop */
    free(b.rig);
}

Test(rig, a_parted_cord_is_a_fault_within_a_tenth_of_a_second)
{
    struct bench b;
    begin(&b);
    rig_core_drive(&b.core, b.rig, (struct vec3){0.2, 0, 0}, 1, 1, LEASE);
    b.rig->physics.parted[1] = true;
    rig_core_drive(&b.core, b.rig, (struct vec3){0.2, 0, 0}, 1, 0.1, LEASE);
    cr_assert(b.core.last.flags & WIRE_RIG_FAULT);
    rig_core_drive(&b.core, b.rig, (struct vec3){0.2, 0, 0}, 1, 0.5, LEASE);
    cr_assert_eq(vec_norm(b.rig->controller.velocity), 0);
    cr_assert_gt(b.rig->judge.slack, 0);
    free(b.rig);
}

/* With a third of all datagrams lost both ways motion goes on; a stop repeated each tick still gets through. */
Test(rig, lives_with_a_link_that_loses_a_third)
{
    struct bench b;
    begin(&b);
    b.rig->in.loss = b.rig->out.loss = 1.0 / 3;
    struct vec3 from = where(&b);
    rig_core_drive(&b.core, b.rig, (struct vec3){0.2, 0, 0}, 1, 2, LEASE);
    cr_assert_float_eq(gone(&b, from), 0.4, 0.05);
    cr_assert_gt(b.rig->in.lost, 30);
    cr_assert_gt(b.rig->out.lost, 30);
    for (int i = 0; i < 10; i++) {
        struct wire_message stop = rig_core_stop(&b.core, 2);
        rig_core_send(&b.core, b.rig, &stop);
        rig_core_run(&b.core, b.rig, 0.01);
    }
    rig_core_run(&b.core, b.rig, 0.6);
    cr_assert(sim_controller_stopped(&b.rig->controller));
    cr_assert(sim_judge_at_rest(&b.rig->judge));
    free(b.rig);
}

Test(rig, a_flood_of_forgeries_does_not_crowd_out_a_stop)
{
    struct bench b;
    uint8_t junk[WIRE_MAX] = {0};
    begin(&b);
    rig_core_drive(&b.core, b.rig, (struct vec3){0.2, 0, 0}, 1, 1, LEASE);
    for (int i = 0; i < 10 * SIM_PATH_SLOTS; i++)
        sim_rig_arrive(b.rig, b.rig->now_ns, 2, junk, (size_t)(i % (int)sizeof junk));
    struct wire_message stop = rig_core_stop(&b.core, 2);
    rig_core_send(&b.core, b.rig, &stop);
    rig_core_run(&b.core, b.rig, 0.7);
    cr_assert(sim_controller_stopped(&b.rig->controller));
    cr_assert(sim_judge_at_rest(&b.rig->judge));
    cr_assert_eq(b.core.last.refused_tag, 10 * SIM_PATH_SLOTS);
    free(b.rig);
}

Test(rig, an_intent_later_than_its_lease_is_counted)
{
    struct bench b;
    begin(&b);
    struct wire_message m = rig_core_intent(&b.core, true, (struct vec3){0.2, 0, 0}, 1, 1, b.rig->now_ns + 19 * MS);
    rig_core_send(&b.core, b.rig, &m); /* 20 ms under way */
    rig_core_run(&b.core, b.rig, 0.1);
    cr_assert_eq(b.core.last.refused_late, 1);
    cr_assert_eq(vec_norm(b.rig->controller.velocity), 0);
    free(b.rig);
}

Test(rig, the_judge_sees_a_rig_driven_into_a_keep_out)
{
    struct bench b;
    begin(&b);
    cr_assert_float_eq(b.rig->judge.min_clearance_m, 0.58, 0.01);
    rig_core_drive(&b.core, b.rig, (struct vec3){0.28, 0.28, 0}, 1, 4.2, LEASE);
    cr_assert_lt(b.rig->judge.min_clearance_m, 0);
    cr_assert_eq(b.rig->judge.touched, 1);
    free(b.rig);
}

Test(rig, its_report_is_json_with_what_it_promises)
{
    struct bench b;
    char line[1024];
    begin(&b);
    rig_core_run(&b.core, b.rig, 0.1);
    int len = sim_rig_report(b.rig, 12.5, line, sizeof line);
    cr_assert(len > 0 && len < (int)sizeof line && line[len - 1] == '\n');
    json_t *doc = json_loads(line, JSON_REJECT_DUPLICATES, NULL), *pos, *body, *refused;
    double t, speed, least, now;
    json_int_t touched, intents, stops, lapses, slack, no[5];
    int stopped, rest;
    cr_assert_eq(json_unpack(doc, "{s:F,s:o,s:o,s:F,s:F,s:F,s:I,s:b,s:b,s:I,s:I,s:o,s:I,s:I}", "t_s", &t, "pos", &pos,
                             "body", &body, "speed", &speed, "min_clearance_m", &least, "clearance_m", &now, "touched",
                             &touched, "stopped", &stopped, "at_rest", &rest, "intents", &intents, "stops", &stops,
                             "refused", &refused, "lapses", &lapses, "slack", &slack),
                 0);
    cr_assert_eq(json_unpack(refused, "{s:I,s:I,s:I,s:I,s:I!}", "tag", &no[0], "session", &no[1], "seq", &no[2], "late",
                             &no[3], "form", &no[4]),
                 0);
    cr_assert(t == 12.5 && stopped && rest && touched == 0 && intents == 6 && stops == 0);
    cr_assert_float_eq(json_number_value(json_array_get(pos, 2)) - json_number_value(json_array_get(body, 2)), 0.35,
                       1e-4);
    json_decref(doc);
    b.rig->judge.clearance_m = b.rig->judge.min_clearance_m = -(double)INFINITY;
    sim_rig_report(b.rig, 0, line, sizeof line);
    doc = json_loads(line, 0, NULL);
    cr_assert(doc, "no infinity in JSON");
    json_decref(doc);
    free(b.rig);
}

Test(rig, the_same_datagrams_give_the_same_run_bit_for_bit)
{
    struct bench b[2];
    for (int k = 0; k < 2; k++) {
        begin(&b[k]);
        b[k].rig->in.loss = 0.2;
        rig_core_drive(&b[k].core, b[k].rig, (struct vec3){0.1, 0.1, 0.05}, 1, 3, LEASE);
    }
    cr_assert_eq(memcmp(&b[0].rig->physics, &b[1].rig->physics, sizeof b[0].rig->physics), 0);
    cr_assert_eq(memcmp(&b[0].core.last, &b[1].core.last, sizeof b[0].core.last), 0);
    cr_assert_eq(b[0].rig->in.lost, b[1].rig->in.lost);
    free(b[0].rig);
    free(b[1].rig);
}

/* However late and in whatever pieces the real clock wakes it. */
Test(rig, the_pieces_it_is_run_in_do_not_matter)
{
    struct bench a, b;
    begin(&a);
    begin(&b);
    for (int i = 0; i < 1000; i++)
        sim_rig_run(a.rig, a.rig->now_ns + MS);
    for (uint64_t end = b.rig->now_ns + SECOND, at = b.rig->now_ns; at < end;) {
        at = at + 17 * MS + 333333 < end ? at + 17 * MS + 333333 : end;
        sim_rig_run(b.rig, at);
    }
    cr_assert_eq(a.rig->now_ns, b.rig->now_ns);
    cr_assert_eq(memcmp(&a.rig->physics, &b.rig->physics, sizeof a.rig->physics), 0);
    free(a.rig);
    free(b.rig);
}

static const char *why_not(void (*spoil)(struct show *))
{
    static const uint8_t master[SEAL_KEY];
    struct show show;
    struct sim_rig_options opt = {.seed = 1};
    const char *why = NULL;
    struct sim_rig *rig = calloc(1, sizeof *rig);
    rig_bench_show(&show);
    spoil(&show);
    bool made = sim_rig_init(rig, &show, master, &opt, &why);
    free(rig);
    return made ? NULL : why;
}

static void two_cords(struct show *s)
{
    s->policy.guard.volume.outline.cords = 2;
}
static void no_mass(struct show *s)
{
    s->sim.platform_kg = 0;
}
static void steel(struct show *s)
{
    s->sim.cord_stiffness_npm = 1e9;
}
static void home_above(struct show *s)
{
    s->home.z = 3.5;
}
static void no_boom(struct show *s)
{
    s->policy.guard.volume.outline.boom_m = 0;
}

Test(rig, refuses_a_machine_it_cannot_simulate_and_says_why)
{
    cr_assert(strstr(why_not(two_cords), "anchors"));
    cr_assert(strstr(why_not(no_mass), "masses"));
    cr_assert(strstr(why_not(steel), "cord_stiffness_npm"));
    cr_assert(strstr(why_not(home_above), "home"));
    cr_assert_null(why_not(no_boom));
}
