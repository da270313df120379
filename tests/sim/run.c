/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/run.h"

enum { LATE_NS = 50000000, START_NS = 1000000000, DIES_EVERY = 300, DEAD_TICKS = 120 };

#define HEAVY_LOSS 0.5
#define YIELDS_S   1.5 /* a zone that yields may still be entered so long after it was told to: braking, at most */

static struct truth_pose pose_of(const struct run *run)
{
    const struct machine *m = &run->machine;
    const struct policy_subject *subject = &run->scene.cfg.subject;
    bool boom = sim_physics_has_boom(&m->cfg);
    return (struct truth_pose){
        .platform = m->physics.position,
        .body = machine_body(m),
        .down = boom ? m->physics.swing.n : (struct vec3){0, 0, -1},
        .yaw_rad = machine_yaw(m, &run->scene, run->now_ns),
        .subject = subject->watched,
        .subject_at = run->people.subject,
        .subject_radius_m = subject->radius_m,
        .subject_height_m = subject->height_m,
        .yields = (double)(run->now_ns - run->account.yielded_ns) * 1e-9 < YIELDS_S,
    };
}

void run_init(struct run *run, uint64_t seed, enum fault fault)
{
    *run = (struct run){.random = {seed}, .now_ns = START_NS};
    do
        scene_make(&run->scene, seed, fault, &run->random);
    while (!machine_init(&run->machine, &run->scene));
    people_init(&run->people, &run->scene, &run->random);
    sense_init(&run->sense, &run->scene, &run->random);
    post_init(&run->to_rig, &run->scene.to_rig);
    post_init(&run->to_core, &run->scene.to_core);
    policy_init(&run->scene.cfg, &run->core.policy);
    run->least_m = run->aim.least_m = INFINITY;
    struct truth_pose pose = pose_of(run);
    truth_init(&run->truth, &pose);
}

double run_to_core_s(const struct run *run)
{
    return run->scene.to_core.delay_s + run->scene.to_core.jitter_s;
}

double run_report_s(const struct run *run)
{
    return run->scene.sensors.period_s;
}

static bool is_on(const struct run *run, enum fault fault)
{
    return run->active && run->scene.trouble.fault == fault;
}

/* As core's link does it (gateway/rig/link.c), without the seal. */
static void take(struct run *run, const struct post_news *news)
{
    struct run_core *core = &run->core;
    const struct wire_telemetry *t = &news->telemetry;
    bool again = core->rig.ever && news->seq <= core->rig.seq; /* then it only looks new */
    uint64_t measured_ns = link_report_measured(&core->clock, t->rig_ns, run->now_ns, core->rig.seq == 0);
    link_report_fill(run->scene.sensors.sensor, t, again ? run->now_ns : measured_ns, news->seq, &core->rig);
    if (news->spoilt && run->scene.trouble.fault == FAULT_NOT_A_NUMBER)
        sense_spoil(&core->rig, &run->scene, &run->random);
    core->rig_ns = t->rig_ns;
    core->heard_ns = run->now_ns;
    core->confirmed = t->stop_count;
}

/* The link lets nothing old pass; with FAULT_FROZEN_SEQ it does, and the policy has to see it. */
static void hear(struct run *run)
{
    struct post_item item;
    struct run_core *core = &run->core;
    struct run_account *a = &run->account;
    bool heard = false, spoilt = false; /* of several in one tick core shows the policy the newest */
    while (post_take(&run->to_core, run->now_ns, &item)) {
        const struct post_news *news = &item.as.news;
        bool fresh = news->seq > core->rig.seq;
        if (is_on(run, FAULT_SILENCE) || (!fresh && !is_on(run, FAULT_FROZEN_SEQ)))
            continue;
        spoilt = fresh ? news->spoilt : spoilt;
        heard = heard || fresh;
        take(run, news);
    }
    if (heard) {
        a->heard_ns = run->now_ns;
        a->spoilt = spoilt ? a->spoilt + 1 : 0;
    }
}

bool run_input(struct run *run, struct policy_input *in)
{
    struct run_core *core = &run->core;
    struct run_account *a = &run->account;
    const struct scene *s = &run->scene;
    run->active = run->tick >= s->trouble.begin && run->tick < s->trouble.end;
    if (s->trouble.fault == FAULT_CORE_DEAD) /* it dies again and again, at any moment of a move */
        run->active = run->tick > 200 && (run->tick + s->trouble.begin) % DIES_EVERY < DEAD_TICKS;
    run->to_rig.way.loss = is_on(run, FAULT_LOSS) ? HEAVY_LOSS * s->trouble.size : s->to_rig.loss;
    run->to_core.way.loss = run->to_rig.way.loss;
    if (is_on(run, FAULT_CORE_DEAD))
        return false;
    *in = (struct policy_input){.now_ns = run->now_ns};
    hear(run);
    people_act(&run->people, s, run->now_ns, &run->random, in, &a->pressed);
    in->rig = core->rig;
    in->tick_late = core->last_ns > 0 && run->now_ns - core->last_ns > LATE_NS;
    a->late = in->tick_late;
    a->elapsed_s = core->last_ns > 0 ? (double)(run->now_ns - core->last_ns) * 1e-9 : 0;
    a->absent = s->cfg.presence_required && run->now_ns - in->presence_ns > s->cfg.presence_timeout_ns;
    core->last_ns = run->now_ns;
    return true;
}

static void send(struct run *run, const struct intent *intent, bool stop_only)
{
    struct run_core *core = &run->core;
    struct post_item item = {.as.order = {.intent = *intent, .stop_only = stop_only, .seq = ++core->sent}};
    /* By the rig's clock, which is known no later than it is. */
    uint64_t since = run->now_ns - core->heard_ns;
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
    if (!is_on(run, FAULT_STALL))
        return SCENE_STEPS_A_TICK;
    if (random_chance(&run->random, 0.001))
        return 400;
    return random_chance(&run->random, s->uneven) ? 1 + random_below(&run->random, 5 * SCENE_STEPS_A_TICK)
                                                  : SCENE_STEPS_A_TICK;
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
    machine_step(m, s, run->now_ns, run->steps % SCENE_STEPS_A_CONTROL == 0, run->active);
    if (s->cfg.subject.watched)
        people_walk(&run->people, s, m->physics.position, SCENE_STEP_S, &run->random);
    struct truth_pose pose = pose_of(run);
    truth_look(&run->truth, &s->cfg.guard.volume, &pose);
    if (run->steps % (SCENE_STEPS_A_TICK * s->ticks_a_report) != 0)
        return;
    item.as.news = sense_read(&run->sense, m, s, run->now_ns, run->people.subject, run->active);
    post_put(&run->to_core, &run->random, run->now_ns, &item);
}

void run_on(struct run *run)
{
    for (int i = steps_to_next(run); i > 0; i--)
        one_step(run);
    run->on += run->active;
    run->tick++;
}
