/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/run.h"

enum { TICK_NS = SCENE_STEP_NS * SCENE_STEPS_A_TICK, LATE_NS = 50000000, START_NS = 1000000000 };

void run_init(struct run *run, uint64_t seed, enum fault fault)
{
    *run = (struct run){.random = {seed}, .now_ns = START_NS};
    do
        scene_make(&run->scene, seed, fault, &run->random);
    while (!machine_init(&run->machine, &run->scene));
    people_init(&run->people);
    post_init(&run->to_rig, &run->scene.to_rig);
    post_init(&run->to_core, &run->scene.to_core);
    policy_init(&run->core.policy);
    truth_init(&run->truth, run->machine.physics.position, machine_body(&run->machine, &run->scene));
}

static uint64_t longest(const struct post_way *way)
{
    return (uint64_t)((way->delay_s + way->jitter_s) * 1e9);
}

uint64_t run_to_rig_ns(const struct run *run)
{
    return longest(&run->scene.to_rig);
}

uint64_t run_to_core_ns(const struct run *run)
{
    return longest(&run->scene.to_core);
}

static void hear(struct run *run)
{
    struct post_item item;
    struct run_core *core = &run->core;
    bool lost = run->active && run->scene.trouble.fault == FAULT_SILENCE;
    bool stuck = run->active && run->scene.trouble.fault == FAULT_FROZEN_SEQ;
    while (post_take(&run->to_core, run->now_ns, &item)) {
        const struct post_news *news = &item.as.news;
        if (lost || (core->rig.ever && news->report.seq <= core->rig.seq && !stuck))
            continue; /* the link lets nothing old pass; if it did, the policy would have to see it */
        if (news->report.seq > core->rig.seq)
            run->account.heard_ns = run->now_ns;
        core->rig = news->report;
        core->rig.received_ns = run->now_ns;
        core->rig_ns = news->rig_ns;
        core->confirmed = news->stop_count;
    }
}

static bool dead(const struct run *run)
{
    return run->active && run->scene.trouble.fault == FAULT_CORE_DEAD;
}

bool run_input(struct run *run, struct policy_input *in)
{
    struct run_core *core = &run->core;
    struct run_account *a = &run->account;
    run->active = run->tick >= run->scene.trouble.begin && run->tick < run->scene.trouble.end;
    if (dead(run))
        return false;
    *in = (struct policy_input){.now_ns = run->now_ns};
    hear(run);
    people_act(&run->people, &run->scene, run->now_ns, &run->random, in, &a->pressed);
    in->rig = core->rig;
    in->tick_late = core->last_ns > 0 && run->now_ns - core->last_ns > LATE_NS;
    a->late = in->tick_late;
    a->elapsed_s = core->last_ns > 0 ? (double)(run->now_ns - core->last_ns) * 1e-9 : 0;
    a->absent = run->scene.cfg.presence_required && run->now_ns - in->presence_ns > run->scene.cfg.presence_timeout_ns;
    core->last_ns = run->now_ns;
    return true;
}

static void send(struct run *run, const struct intent *intent, bool stop_only)
{
    struct run_core *core = &run->core;
    struct post_item item = {.as.order = {.intent = *intent, .stop_only = stop_only, .seq = ++core->sent}};
    /* By the rig's clock, which is known no later than it is. */
    uint64_t since = run->now_ns - core->rig.received_ns;
    item.as.order.expires_ns = core->rig_ns + since + run->scene.controller.lease_ns;
    post_put(&run->to_rig, &run->random, run->now_ns, &item);
}

void run_core(struct run *run, const struct policy_input *in, struct policy_output *out)
{
    struct run_core *core = &run->core;
    policy_step(&run->scene.cfg, &core->policy, in, out);
    if (out->intent.stop_count > core->confirmed && out->intent.stop_count > out->intent.permit)
        send(run, &out->intent, true);
    send(run, &out->intent, false);
}

/* Mostly as planned; with FAULT_STALL early, late, or after a pause in which the rig is on its own. */
static int steps_to_next(struct run *run)
{
    const struct scene *s = &run->scene;
    if (s->uneven == 0 || !run->active)
        return SCENE_STEPS_A_TICK;
    if (random_chance(&run->random, 0.001))
        return 400;
    return random_chance(&run->random, s->uneven) ? 1 + random_below(&run->random, 5 * SCENE_STEPS_A_TICK)
                                                  : SCENE_STEPS_A_TICK;
}

/* Faults of the machine begin and end. */
static void break_machine(struct run *run)
{
    const struct scene_trouble *t = &run->scene.trouble;
    struct machine *m = &run->machine;
    m->flagged = run->active && t->fault == FAULT_FLAG;
    m->runs_mps = 0;
    if (run->active && t->fault == FAULT_PARTED)
        m->physics.parted[t->cord] = true;
    if (run->active && t->fault == FAULT_RUNAWAY)
        m->runs_mps = run->scene.physics.winch_speed_mps * (t->size - 0.5) * 2;
}

static void one_step(struct run *run)
{
    struct post_item item;
    const struct scene *s = &run->scene;
    struct machine *m = &run->machine;
    run->now_ns += SCENE_STEP_NS;
    run->steps++;
    while (post_take(&run->to_rig, run->now_ns, &item))
        machine_hear(m, s, run->now_ns, &item.as.order);
    machine_step(m, s, run->now_ns, run->steps % SCENE_STEPS_A_CONTROL == 0);
    truth_look(&run->truth, &s->cfg.guard.volume, m->physics.position, machine_body(m, s));
    if (run->steps % (SCENE_STEPS_A_TICK * s->sense.ticks_a_report) != 0)
        return;
    item.as.news = sense_read(&run->sense, m, s, run->now_ns, run->active, &run->random);
    post_put(&run->to_core, &run->random, run->now_ns, &item);
}

void run_on(struct run *run)
{
    break_machine(run);
    for (int i = steps_to_next(run); i > 0; i--)
        one_step(run);
    run->tick++;
}
