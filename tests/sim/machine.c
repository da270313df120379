/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/machine.h"

bool machine_init(struct machine *m, const struct scene *s)
{
    static const uint8_t key[SEAL_KEY] = {0};
    *m = (struct machine){.cfg = s->physics};
    if (!sim_controller_init(&s->controller, &m->controller, s->start, key, key))
        return false;
    m->controller.session.stop_count = 1;
    sim_physics_init(&m->cfg, &m->physics, s->start, m->controller.target.rest_m);
    sim_head_init(&s->head, &m->head);
    for (int i = 0; s->lag_s > 0 && i < s->physics.cords; i++)
        m->physics.winch[i] = (struct sim_winch_fault){SIM_WINCH_LAGS, s->lag_s, 0};
    return true;
}

static struct wire_intent on_the_wire(const struct post_order *order)
{
    const struct intent *i = &order->intent;
    struct wire_intent w = {
        .expires_rig_ns = order->expires_ns,
        .stop_count = i->stop_count,
        .permit = i->permit,
        .motion = i->motion,
        .power = i->power,
        .category = (uint8_t)i->category,
        .velocity = {i->velocity.x, i->velocity.y, i->velocity.z},
        .cords = (uint8_t)i->cords,
    };
    for (int k = 0; k < i->cords; k++) {
        w.cord_rate[k] = (float)i->cord_rate_mps[k];
        w.cord_tension[k] = (float)i->cord_tension_n[k];
    }
    for (int k = 0; k < WIRE_HEAD_AXES; k++)
        w.head_rate[k] = (float)i->head_rate[k];
    return w;
}

void machine_hear(struct machine *m, const struct scene *s, uint64_t now_ns, const struct post_order *order)
{
    struct sim_controller *c = &m->controller;
    bool stale = !order->stop_only && (order->seq <= c->session.intent_seq || order->expires_ns <= now_ns);
    if (stale)
        return;
    if (order->intent.stop_count > c->session.stop_count)
        c->session.stop_count = order->intent.stop_count;
    if (order->intent.stop_count == c->session.stop_count)
        sim_power_stop(&c->power, (uint8_t)order->intent.category);
    if (order->stop_only)
        return;
    c->session.intent_seq = order->seq;
    c->intent = on_the_wire(order);
    if (c->intent.expires_rig_ns - now_ns > 2 * s->controller.lease_ns)
        c->intent.expires_rig_ns = now_ns + 2 * s->controller.lease_ns;
    c->live = true;
    sim_power_intent(&c->power, &c->intent, c->session.stop_count);
    if (c->intent.motion)
        return;
    c->neutral = !c->fault;
    c->lapsed = false;
}

static void move_anchor(struct machine *m, const struct scene *s)
{
    const struct scene_trouble *t = &s->trouble;
    struct vec3 *at = &m->cfg.anchor[t->cord];
    struct vec3 to = vec_along(s->physics.anchor[t->cord], t->way, 0.05 + 0.45 * t->size), way = vec_sub(to, *at);
    double left = vec_norm(way), step = 0.2 * SCENE_STEP_S;
    *at = left > step ? vec_along(*at, way, step / left) : to;
}

/* Faults of the machine, as they begin, last and end; those that break something do not end. */
static void befall(struct machine *m, const struct scene *s, bool active)
{
    const struct scene_trouble *t = &s->trouble;
    struct sim_winch_fault *winch = &m->physics.winch[t->cord];
    m->flagged = active && t->fault == FAULT_FLAG;
    m->physics.push_n = (struct vec3){0, 0, 0};
    if (t->fault == FAULT_RUNAWAY || t->fault == FAULT_STICKS)
        *winch = (struct sim_winch_fault){.trouble = SIM_WINCH_SOUND};
    if (!active)
        return;
    if (t->fault == FAULT_PARTED)
        m->physics.parted[t->cord] = true;
    else if (t->fault == FAULT_RUNAWAY)
        *winch = (struct sim_winch_fault){SIM_WINCH_RUNS_AWAY, 0, s->physics.winch_speed_mps * (2 * t->size - 1)};
    else if (t->fault == FAULT_STICKS)
        winch->trouble = SIM_WINCH_STICKS;
    else if (t->fault == FAULT_ANCHOR)
        move_anchor(m, s);
    else if (t->fault == FAULT_PUSH)
        m->physics.push_n = vec_scale(t->way, t->size * s->controller.load_n);
}

void machine_step(struct machine *m, const struct scene *s, uint64_t now_ns, bool control, bool active)
{
    const double control_s = SCENE_STEP_S * SCENE_STEPS_A_CONTROL;
    befall(m, s, active);
    if (control)
        sim_controller_step(&s->controller, &m->controller, now_ns, control_s);
    if (control && s->head.there)
        sim_head_step(&s->head, &m->head, sim_controller_head(&m->controller), control_s);
    m->physics.braked = !m->controller.power.on;
    if (control)
        sim_controller_rest_at(&s->controller, &m->controller, m->physics.position);
    sim_physics_step(&m->cfg, &m->physics, &m->controller.target, SCENE_STEP_S);
}

struct vec3 machine_body(const struct machine *m)
{
    return sim_physics_has_boom(&m->cfg) ? sim_physics_body(&m->cfg, &m->physics) : m->physics.position;
}

double machine_yaw(const struct machine *m, const struct scene *s, uint64_t now_ns)
{
    if (s->cfg.guard.volume.outline.yaw == VOLUME_YAW_PAN)
        return m->head.at[HEAD_PAN];
    return s->yaw_rad + s->sway_rad * sin(6.283185307179586 * s->turns * (double)now_ns * 1e-9);
}
