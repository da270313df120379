/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_controller.h"

#include "gateway/rig/sim_statics.h"

enum { BAD_READINGS = 5, GOOD_READINGS = 100 };

#define SLACK_N 0.05 /* a cord that pulls less than this hangs through */

bool sim_controller_stopped(const struct sim_controller *c)
{
    return c->intent.permit == 0 || c->intent.permit != c->session.stop_count;
}

/* The line that decides whether the rig may move. */
static bool may_move(const struct sim_controller *c)
{
    return c->live && c->neutral && c->intent.motion && !sim_controller_stopped(c) && !c->fault && !c->unreachable;
}

/* With a good pretension if there is one, with less where the place allows no more, with none at the last. */
static bool plan(const struct sim_controller_config *cfg, const struct vec3 u[], double tension[])
{
    const struct vec3 load = {0, 0, cfg->load_n};
    for (double floor = cfg->floor_n; floor > 0.1 * cfg->floor_n; floor /= 2)
        if (sim_statics_solve(cfg->cords, u, load, floor, 0, tension))
            return true;
    return sim_statics_solve(cfg->cords, u, load, 0, 0, tension);
}

/* Winch targets for the reference as it stands. */
static bool aim(const struct sim_controller_config *cfg, const struct sim_controller *c, double rest_m[])
{
    struct vec3 u[VOLUME_MAX_CORDS];
    double tension[VOLUME_MAX_CORDS], length[VOLUME_MAX_CORDS];
    for (int i = 0; i < cfg->cords; i++) {
        struct vec3 to_anchor = vec_sub(cfg->anchor[i], c->reference);
        length[i] = fmax(vec_norm(to_anchor), 1e-6);
        u[i] = vec_scale(to_anchor, 1 / length[i]);
    }
    if (!plan(cfg, u, tension))
        return false;
    bool within = true;
    for (int i = 0; i < cfg->cords; i++) {
        within &= tension[i] <= cfg->ceiling_n;
        rest_m[i] = length[i] - tension[i] / cfg->stiffness_npm;
    }
    return within;
}

bool sim_controller_init(const struct sim_controller_config *cfg, struct sim_controller *c, struct vec3 home,
                         const uint8_t master[SEAL_KEY], const uint8_t nonce_key[SEAL_KEY])
{
    *c = (struct sim_controller){.reference = home};
    sim_session_init(&c->session, master, nonce_key, cfg->lease_ns);
    return aim(cfg, c, c->target.rest_m);
}

static void take_intent(struct sim_controller *c, const struct wire_intent *intent)
{
    c->intent = *intent;
    c->live = true;
    c->intents++;
    if (intent->motion != 0)
        return;
    c->neutral = !c->fault;
    c->lapsed = false;
}

enum sim_verdict sim_controller_receive(struct sim_controller *c, uint64_t now_ns, const uint8_t *bytes, size_t len,
                                        struct sim_reply *reply)
{
    struct wire_message m;
    enum sim_verdict verdict = sim_session_receive(&c->session, now_ns, bytes, len, &m, reply);
    if (verdict == SIM_STARTED) {
        c->intent = (struct wire_intent){.motion = 0};
        c->neutral = c->live = c->lapsed = false;
    } else if (verdict == SIM_INTENT) {
        take_intent(c, &m.body.intent);
    } else if (verdict == SIM_STOP) {
        c->stops++;
    }
    return verdict;
}

static void lapse(struct sim_controller *c, uint64_t now_ns)
{
    if (!c->live || now_ns < c->intent.expires_rig_ns)
        return;
    c->live = c->neutral = false;
    c->lapsed = true;
    c->lapses++;
}

static struct vec3 wanted(const struct sim_controller_config *cfg, const struct sim_controller *c)
{
    if (!may_move(c))
        return (struct vec3){0, 0, 0};
    struct vec3 v = {c->intent.velocity[0], c->intent.velocity[1], c->intent.velocity[2]};
    double speed = vec_norm(v);
    return speed > cfg->speed_mps ? vec_scale(v, cfg->speed_mps / speed) : v;
}

/* Changes the velocity by no more than braking allows; straight towards what is wanted, so braking keeps to the line.
 */
static void follow(const struct sim_controller_config *cfg, struct sim_controller *c, struct vec3 to, double dt)
{
    struct vec3 change = vec_sub(to, c->velocity);
    double size = vec_norm(change), most = cfg->brake_mps2 * dt;
    c->velocity = size > most ? vec_along(c->velocity, change, most / size) : to;
    c->reference = vec_along(c->reference, c->velocity, dt);
}

void sim_controller_step(const struct sim_controller_config *cfg, struct sim_controller *c, uint64_t now_ns, double dt)
{
    double rest[VOLUME_MAX_CORDS];
    lapse(c, now_ns);
    follow(cfg, c, wanted(cfg, c), dt);
    c->unreachable = !aim(cfg, c, rest);
    for (int i = 0; i < cfg->cords; i++) {
        if (c->unreachable)
            rest[i] = c->target.rest_m[i]; /* hold what was last known to carry */
        c->target.rate_mps[i] = (rest[i] - c->target.rest_m[i]) / dt;
        c->target.rest_m[i] = rest[i];
    }
}

static bool reads_well(const struct sim_controller_config *cfg, const struct sim_controller *c,
                       const struct sim_sensed *sensed)
{
    if (c->unreachable || !(vec_norm(vec_sub(sensed->position, c->reference)) <= cfg->astray_m))
        return false;
    for (int i = 0; i < cfg->cords; i++)
        if (!(sensed->tension_n[i] >= SLACK_N))
            return false;
    return true;
}

void sim_controller_sense(const struct sim_controller_config *cfg, struct sim_controller *c,
                          const struct sim_sensed *sensed)
{
    bool well = reads_well(cfg, c, sensed);
    c->good = well ? c->good + 1 : 0;
    c->bad = well ? 0 : c->bad + 1;
    if (c->bad >= BAD_READINGS) {
        c->fault = true;
        c->neutral = false;
    } else if (c->good >= GOOD_READINGS)
        c->fault = false;
}

static void put_vec(double out[3], struct vec3 v)
{
    out[0] = v.x;
    out[1] = v.y;
    out[2] = v.z;
}

static uint32_t flags(const struct sim_controller *c)
{
    uint32_t set = 0;
    set |= vec_norm(c->velocity) > 0 ? WIRE_RIG_MOVING : 0;
    set |= c->fault ? WIRE_RIG_FAULT : 0;
    set |= may_move(c) ? 0 : WIRE_RIG_BRAKING;
    set |= c->lapsed ? WIRE_RIG_LAPSED : 0;
    return set;
}

size_t sim_controller_telemetry(const struct sim_controller_config *cfg, struct sim_controller *c, uint64_t now_ns,
                                const struct sim_sensed *sensed, uint8_t *buf, size_t size)
{
    struct wire_telemetry t = {.rig_ns = now_ns, .flags = flags(c), .cords = (uint8_t)cfg->cords};
    t.sources = 1u << WIRE_POSE | 1u << WIRE_LENGTH | 1u << WIRE_TENSION;
    put_vec(t.position, sensed->position);
    put_vec(t.velocity, sensed->velocity);
    t.uncertainty_m = (float)sensed->uncertainty_m;
    t.swing_rad = (float)sensed->swing_rad;
    for (int i = 0; i < cfg->cords; i++) {
        t.cord_length[i] = (float)sensed->length_m[i];
        t.cord_tension[i] = (float)sensed->tension_n[i];
    }
    return sim_session_telemetry(&c->session, &t, buf, size);
}
