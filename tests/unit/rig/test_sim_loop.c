/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The real policy round the whole simulated rig, in virtual time: the demo show, wire and all but the sockets. What it
 * does with the rig as it is, and how soon it notices each fault by itself (the rig's own watch is off). */
#include <criterion/criterion.h>
#include <stdlib.h>

#include "gateway/rig/link_report.h"
#include "tests/unit/rig/rig_bench.h"

#define TICK_S 0.01

struct loop {
    struct show show;
    struct sim_rig *rig;
    struct rig_core core;
    struct link_report_clock clock;
    uint64_t heard, measured, began; /* telemetry: so far, when measured, rig time of the newest */
    struct policy policy;
    struct policy_input in;
    struct policy_output out;
    reason_set seen; /* of all ticks since it was last cleared */
};

/* Core's clock is another one. */
static uint64_t core_ns(const struct loop *l)
{
    return l->rig->now_ns + 500 * SECOND;
}

static void hear(struct loop *l)
{
    const struct wire_telemetry *t = &l->core.last;
    if (l->core.heard == l->heard || t->rig_ns <= l->began)
        return;
    l->measured = link_report_measured(&l->clock, t->rig_ns, core_ns(l), l->heard == 0);
    l->heard = l->core.heard;
    l->began = t->rig_ns;
    link_report_fill(l->show.sensor, t, l->measured, l->heard, &l->in.rig);
}

static void send(struct loop *l)
{
    const struct intent *i = &l->out.intent;
    uint64_t lease = (uint64_t)(l->show.policy.guard.lease_s * 1e9);
    struct wire_message m =
        rig_core_intent(&l->core, i->motion, i->velocity, i->stop_count, i->permit, l->began + lease);
    m.body.intent.power = i->power;
    m.body.intent.category = (uint8_t)i->category;
    m.body.intent.cords = (uint8_t)i->cords;
    for (int k = 0; k < i->cords; k++) {
        m.body.intent.cord_rate[k] = (float)i->cord_rate_mps[k];
        m.body.intent.cord_tension[k] = (float)i->cord_tension_n[k];
    }
    for (int k = 0; k < HEAD_AXES; k++)
        m.body.intent.head_rate[k] = (float)i->head_rate[k];
    rig_core_send(&l->core, l->rig, &m);
}

static void tick(struct loop *l)
{
    rig_core_run(&l->core, l->rig, TICK_S);
    hear(l);
    l->in.now_ns = l->in.presence_ns = core_ns(l);
    policy_step(&l->show.policy, &l->policy, &l->in, &l->out);
    l->in.stop.event = STOP_EVENT_NONE;
    l->seen |= l->out.reasons;
    send(l);
}

static void run(struct loop *l, double seconds)
{
    for (int n = (int)(seconds / TICK_S + 0.5); n > 0; n--)
        tick(l);
}

static void drive(struct loop *l, struct vec3 stick)
{
    l->in.lanes.operator_holds = true;
    l->in.lanes.operator_wish = (struct wish){.kind = WISH_VELOCITY, .v = stick};
}

/* Connected, armed, and live. */
static struct loop *begin(void)
{
    static const struct vec3 rest = {0, 0, 0};
    struct loop *l = calloc(1, sizeof *l);
    cr_assert(l && show_load(SHOW_FILE, &l->show, stderr) == 0);
    l->rig = rig_bench_rig(&l->show);
    l->rig->faults.deaf_controller = true;
    policy_init(&l->show.policy, &l->policy);
    rig_core_init(&l->core);
    rig_core_connect(&l->core, l->rig);
    drive(l, rest);
    run(l, 1);
    l->in.stop.event = STOP_EVENT_ARM;
    run(l, 0.2);
    l->in.stop.event = STOP_EVENT_GO;
    tick(l);
    cr_assert_eq(l->out.stop_state, STOP_RUNNING, "%s", reason_code(reason_first(l->out.reasons)));
    l->seen = 0;
    return l;
}

static void end(struct loop *l)
{
    free(l->rig);
    free(l);
}

static double true_error(const struct loop *l)
{
    return vec_norm(vec_sub(l->out.place.position, l->rig->physics.position));
}

Test(loop, drives_and_knows_where_it_is)
{
    static const struct vec3 way[] = {{-1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {1, 0, 0}, {0.6, -0.6, -0.5}};
    struct loop *l = begin();
    double gone = 0, worst = 0;
    for (size_t k = 0; k < sizeof way / sizeof *way; k++) {
        struct vec3 from = l->rig->physics.position;
        drive(l, way[k]);
        for (int n = 0; n < 300; n++) {
            tick(l);
            cr_assert_eq(l->out.stop_state, STOP_RUNNING, "%s", reason_code(l->out.stop_reason));
            /* it says where the platform is now, and may be wrong by what it says and by the way of the telemetry */
            double spare = l->show.sim.telemetry_latency_s * vec_norm(l->rig->physics.velocity) + 0.002;
            cr_assert_lt(true_error(l), l->out.place.uncertainty_m + spare);
            worst = fmax(worst, l->out.place.uncertainty_m);
        }
        gone += vec_norm(vec_sub(l->rig->physics.position, from));
    }
    cr_assert_gt(gone, 2);
    cr_assert_lt(worst, 0.08);
    cr_assert_eq(l->rig->judge.touched, 0);
    cr_assert_eq(l->rig->judge.slack, 0);
    end(l);
}

Test(loop, the_head_turns_keeps_its_limits_and_comes_home)
{
    struct loop *l = begin();
    const struct head_axis_config *pan = &l->show.policy.head.config.axis[HEAD_PAN];
    l->in.head_wish[HEAD_PAN] = 1;
    run(l, 15);
    cr_assert(l->rig->head.at[HEAD_PAN] <= pan->max + 0.005 && l->rig->head.at[HEAD_PAN] > pan->home + 0.3, "%g",
              l->rig->head.at[HEAD_PAN]);
    cr_assert_not(l->rig->head.hit);
    l->in.head_wish[HEAD_PAN] = 0;
    l->in.head_home = true;
    run(l, 20);
    double away = fabs(l->rig->head.at[HEAD_PAN] - pan->home);
    cr_assert_lt(away, 0.02, "%g from home, %s", away, reason_code(reason_first(l->out.reasons)));
    end(l);
}

/* What breaks, and the reasons that may be given for the stop that it must lead to. */
struct breakage {
    const char *what;
    void (*breaks)(struct sim_faults *f);
    reason_set why;
    double within_s;
    bool true_change; /* what is true changes: it may touch something, and comes to rest where it may */
};

static void pose_jumps(struct sim_faults *f)
{
    f->sensor[WIRE_POSE].offset[0] = 0.5;
}

static void all_sensors_freeze(struct sim_faults *f)
{
    f->sensor[WIRE_POSE].frozen = f->sensor[WIRE_LENGTH].frozen = f->sensor[WIRE_TENSION].frozen = true;
}

static void all_places_silent(struct sim_faults *f)
{
    f->sensor[WIRE_POSE].silent = f->sensor[WIRE_LENGTH].silent = f->sensor[WIRE_TENSION].silent = true;
}

static void length_drifts(struct sim_faults *f)
{
    f->sensor[WIRE_LENGTH].offset[1] = 0.12;
}

static void anchor_gives_way(struct sim_faults *f)
{
    f->anchor_moved_m[0] = (struct vec3){0.15, 0.15, -0.1};
}

static void cord_parts(struct sim_faults *f)
{
    f->parted[1] = true;
}

static void winch_runs_away(struct sim_faults *f)
{
    f->winch[0] = (struct sim_winch_fault){.trouble = SIM_WINCH_RUNS_AWAY, .rate_mps = 0.3};
}

static void winch_sticks(struct sim_faults *f)
{
    f->winch[0] = (struct sim_winch_fault){.trouble = SIM_WINCH_STICKS};
}

static void telemetry_is_late(struct sim_faults *f)
{
    f->to_core.delay_s = 0.3;
}

static void telemetry_is_lost(struct sim_faults *f)
{
    f->to_core.loss = 1;
}

static void orders_are_lost(struct sim_faults *f)
{
    f->to_rig.loss = 1;
}

#define BIT(reason) ((reason_set)1 << (reason))
#define PLACE                                                                                                          \
    (BIT(REASON_POSITION_JUMP) | BIT(REASON_SENSORS_DISAGREE) | BIT(REASON_ANCHOR_MOVED) | BIT(REASON_POSITION_VAGUE))
#define PULL (BIT(REASON_CORD_SLACK) | BIT(REASON_CORD_OVERLOAD) | BIT(REASON_RIG_ASTRAY))

static const struct breakage breakages[] = {
    {"the pose jumps", pose_jumps, PLACE, 0.5, false},
    {"all sensors freeze", all_sensors_freeze, BIT(REASON_POSITION_FROZEN), 2.5, false},
    {"nothing says where it is", all_places_silent, PLACE, 1, false},
    {"one length is off", length_drifts, PLACE, 0.5, false},
    {"an anchor gives way", anchor_gives_way, PLACE | PULL, 2, true},
    {"a cord parts", cord_parts, PLACE | PULL, 1, true},
    {"a winch runs away", winch_runs_away, PLACE | PULL, 1.5, true},
    {"a winch sticks", winch_sticks, PLACE | PULL, 3, true},
    {"telemetry is late", telemetry_is_late, BIT(REASON_RIG_LOST), 0.6, false},
    {"telemetry is lost", telemetry_is_lost, BIT(REASON_RIG_LOST), 0.4, false},
    {"orders are lost", orders_are_lost, BIT(REASON_RIG_FAULT), 0.6, false},
};

static void expect_noticed(const struct breakage *b)
{
    struct loop *l = begin();
    drive(l, (struct vec3){-0.8, 0.3, 0});
    run(l, 1.5);
    cr_assert_eq(l->out.stop_state, STOP_RUNNING, "%s: before it", b->what);
    uint64_t touched = l->rig->judge.touched;
    l->seen = 0;
    b->breaks(&l->rig->faults);
    double noticed_s = 0;
    for (; l->out.stop_state == STOP_RUNNING && noticed_s < b->within_s; noticed_s += TICK_S)
        tick(l);
    cr_assert_eq(l->out.stop_state, STOP_LATCHED, "%s: not within %g s", b->what, b->within_s);
    cr_assert(l->seen & b->why, "%s: for %s", b->what, reason_code(l->out.stop_reason));
    cr_assert_not(l->out.intent.motion);
    run(l, 3);
    cr_assert_eq(l->out.stop_state, STOP_LATCHED);
    cr_assert(sim_judge_at_rest(&l->rig->judge) || b->true_change, "%s: at %g m/s", b->what, l->rig->judge.speed_mps);
    cr_assert(l->rig->judge.touched == touched || b->true_change, "%s", b->what);
    end(l);
}

Test(loop, every_fault_is_noticed_and_latches_with_a_reason_for_it)
{
    for (size_t k = 0; k < sizeof breakages / sizeof *breakages; k++)
        expect_noticed(&breakages[k]);
}

/* A stop that holds under power does not hold this one; what follows when it is not seen to rest does. */
Test(loop, a_winch_that_runs_on_under_a_stop_ends_at_its_brake)
{
    struct loop *l = begin();
    drive(l, (struct vec3){-0.5, 0, 0});
    run(l, 1);
    l->rig->faults.winch[0] = (struct sim_winch_fault){SIM_WINCH_RUNS_AWAY, 0, 0.1};
    run(l, 3);
    cr_assert(l->out.stop_state == STOP_LATCHED && l->out.intent.power && !l->out.at_rest);
    cr_assert(l->rig->controller.power.on && !sim_judge_at_rest(&l->rig->judge), "nothing holds it yet");
    run(l, 4);
    cr_assert((l->seen & BIT(REASON_STOP_UNCONFIRMED)) && l->out.stop_category == STOP_CATEGORY_0);
    cr_assert_not(l->rig->controller.power.on);
    run(l, 2);
    cr_assert(sim_judge_at_rest(&l->rig->judge), "by what is true: %g m/s", l->rig->judge.speed_mps);
    cr_assert(l->out.at_rest && !(l->out.reasons & BIT(REASON_STOP_UNCONFIRMED)));
    end(l);
}

/* What a network may do within the promise: nothing latches. */
Test(loop, a_bad_network_is_no_fault)
{
    struct loop *l = begin();
    l->rig->faults.to_rig = (struct sim_path_fault){.loss = 0.05, .duplicate = 0.1, .reorder = 0.1, .late_s = 0.03};
    l->rig->faults.to_core = l->rig->faults.to_rig;
    struct vec3 from = l->rig->physics.position;
    drive(l, (struct vec3){-1, 0, 0});
    run(l, 3);
    cr_assert_eq(l->out.stop_state, STOP_RUNNING, "%s", reason_code(l->out.stop_reason));
    cr_assert_gt(vec_norm(vec_sub(l->rig->physics.position, from)), 0.5);
    end(l);
}
