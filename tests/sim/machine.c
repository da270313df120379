/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/machine.h"

bool machine_init(struct machine *m, const struct scene *s)
{
    static const uint8_t key[SEAL_KEY] = {0};
    *m = (struct machine){.runs_mps = 0};
    if (!sim_controller_init(&s->controller, &m->controller, s->start, key, key))
        return false;
    m->controller.session.stop_count = 1;
    m->given = m->controller.target;
    sim_physics_init(&s->physics, &m->physics, s->start, m->controller.target.rest_m);
    return true;
}

static struct wire_intent on_the_wire(const struct post_order *order)
{
    const struct intent *i = &order->intent;
    return (struct wire_intent){
        .expires_rig_ns = order->expires_ns,
        .stop_count = i->stop_count,
        .permit = i->permit,
        .motion = i->motion,
        .velocity = {i->velocity.x, i->velocity.y, i->velocity.z},
        .cords = (uint8_t)i->cords,
    };
}

void machine_hear(struct machine *m, const struct scene *s, uint64_t now_ns, const struct post_order *order)
{
    struct sim_controller *c = &m->controller;
    bool stale = !order->stop_only && (order->seq <= c->session.intent_seq || order->expires_ns <= now_ns);
    m->refused += stale;
    if (stale)
        return;
    if (order->intent.stop_count > c->session.stop_count)
        c->session.stop_count = order->intent.stop_count;
    if (order->stop_only)
        return;
    c->session.intent_seq = order->seq;
    c->intent = on_the_wire(order);
    if (c->intent.expires_rig_ns - now_ns > 2 * s->controller.lease_ns)
        c->intent.expires_rig_ns = now_ns + 2 * s->controller.lease_ns;
    c->live = true;
    if (c->intent.motion)
        return;
    c->neutral = !c->fault;
    c->lapsed = false;
}

/* What the winches are told, after a first-order lag. */
static void pass_on(struct machine *m, const struct scene *s)
{
    double share = s->lag_s > 0 ? SCENE_STEP_S / (s->lag_s + SCENE_STEP_S) : 1;
    for (int i = 0; i < s->physics.cords; i++) {
        m->given.rest_m[i] += share * (m->controller.target.rest_m[i] - m->given.rest_m[i]);
        m->given.rate_mps[i] += share * (m->controller.target.rate_mps[i] - m->given.rate_mps[i]);
    }
    if (m->runs_mps != 0) {
        m->given.rest_m[s->trouble.cord] = m->physics.rest_m[s->trouble.cord];
        m->given.rate_mps[s->trouble.cord] = m->runs_mps;
    }
}

void machine_step(struct machine *m, const struct scene *s, uint64_t now_ns, bool control)
{
    if (control)
        sim_controller_step(&s->controller, &m->controller, now_ns, SCENE_STEP_S * SCENE_STEPS_A_CONTROL);
    pass_on(m, s);
    sim_physics_step(&s->physics, &m->physics, &m->given, SCENE_STEP_S);
}

struct vec3 machine_body(const struct machine *m, const struct scene *s)
{
    return sim_physics_has_boom(&s->physics) ? sim_physics_body(&s->physics, &m->physics) : m->physics.position;
}
