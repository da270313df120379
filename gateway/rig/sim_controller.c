/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_controller.h"

#include "gateway/rig/sim_statics.h"

enum { BAD_READINGS = 5, GOOD_READINGS = 100 };

#define SLACK_N     0.05 /* a cord that pulls less than this hangs through */
#define TENSIONER_S 0.25 /* how quickly it comes round to the tensions wanted */

bool sim_controller_stopped(const struct sim_controller *c)
{
    return c->intent.permit == 0 || c->intent.permit != c->session.stop_count;
}

/* The line that decides whether the rig may move. */
static bool may_move(const struct sim_controller *c)
{
    return c->power.on && c->live && c->neutral && c->intent.motion && !sim_controller_stopped(c) && !c->fault &&
           !c->unreachable;
}

/* With a good pretension if there is one, with less where the place allows no more, with none at the last. */
static bool plan_least(const struct sim_controller_config *cfg, const struct vec3 u[], double tension[])
{
    const struct vec3 load = {0, 0, cfg->load_n};
    for (double floor = cfg->floor_n; floor > 0.1 * cfg->floor_n; floor /= 2)
        if (sim_statics_solve(cfg->cords, u, load, floor, 0, tension))
            return true;
    return sim_statics_solve(cfg->cords, u, load, 0, 0, tension);
}

static bool bearable(const struct sim_controller_config *cfg, const double tension[])
{
    bool within = true;
    for (int i = 0; i < cfg->cords; i++)
        within &= tension[i] <= cfg->ceiling_n;
    return within;
}

static bool plan(const struct sim_controller_config *cfg, const struct sim_controller *c, const struct vec3 u[],
                 double tension[])
{
    const struct vec3 load = {0, 0, cfg->load_n};
    double wanted = 0;
    for (int i = 0; i < cfg->cords; i++)
        wanted += c->ref_n[i];
    if (wanted > 0 && sim_statics_near(cfg->cords, u, load, cfg->floor_n, c->ref_n, tension) && bearable(cfg, tension))
        return true;
    return plan_least(cfg, u, tension) && bearable(cfg, tension);
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
    if (!plan(cfg, c, u, tension))
        return false;
    for (int i = 0; i < cfg->cords; i++)
        rest_m[i] = length[i] - tension[i] / cfg->stiffness_npm;
    return true;
}

bool sim_controller_init(const struct sim_controller_config *cfg, struct sim_controller *c, struct vec3 home,
                         const uint8_t master[SEAL_KEY], const uint8_t nonce_key[SEAL_KEY])
{
    *c = (struct sim_controller){.reference = home};
    sim_session_init(&c->session, master, nonce_key, cfg->lease_ns);
    sim_power_init(&c->power);
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
        sim_power_session(&c->power);
    } else if (verdict == SIM_INTENT) {
        take_intent(c, &m.body.intent);
        sim_power_intent(&c->power, &m.body.intent, c->session.stop_count);
    } else if (verdict == SIM_STOP) {
        c->stops++;
        if (m.body.stop.stop_count == c->session.stop_count)
            sim_power_stop(&c->power, m.body.stop.category);
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

/* While nothing is in force it keeps to what was wanted last. */
static void come_round(const struct sim_controller_config *cfg, struct sim_controller *c, double dt)
{
    if (!c->live)
        return;
    for (int i = 0; i < cfg->cords; i++) {
        double wanted = fmin(fmax((double)c->intent.cord_tension[i], 0), cfg->ceiling_n);
        c->ref_n[i] += (wanted - c->ref_n[i]) * fmin(1, dt / TENSIONER_S);
    }
}

void sim_controller_step(const struct sim_controller_config *cfg, struct sim_controller *c, uint64_t now_ns, double dt)
{
    double rest[VOLUME_MAX_CORDS];
    lapse(c, now_ns);
    sim_power_step(&c->power, !(vec_norm(c->velocity) > 0));
    if (c->power.on)
        follow(cfg, c, wanted(cfg, c), dt);
    else
        c->velocity = (struct vec3){0, 0, 0};
    come_round(cfg, c, dt);
    c->unreachable = !aim(cfg, c, rest);
    for (int i = 0; i < cfg->cords; i++) {
        if (c->unreachable)
            rest[i] = c->target.rest_m[i]; /* hold what was last known to carry */
        c->target.rate_mps[i] = (rest[i] - c->target.rest_m[i]) / dt;
        c->target.rest_m[i] = rest[i];
    }
}

void sim_controller_rest_at(const struct sim_controller_config *cfg, struct sim_controller *c, struct vec3 position)
{
    if (c->power.on)
        return;
    c->reference = position;
    if (aim(cfg, c, c->target.rest_m))
        return;
    for (int i = 0; i < cfg->cords; i++)
        c->target.rate_mps[i] = 0;
}

static bool says(const struct sim_sensed *sensed, enum wire_source source)
{
    return (sensed->sources >> source & 1u) != 0;
}

static bool in_place(const struct sim_controller_config *cfg, const struct sim_controller *c,
                     const struct sim_sensed *sensed)
{
    if (says(sensed, WIRE_POSE))
        return vec_norm(vec_sub(sensed->position, c->reference)) <= cfg->astray_m;
    for (int i = 0; says(sensed, WIRE_LENGTH) && i < cfg->cords; i++)
        if (!(fabs(sensed->length_m[i] - vec_norm(vec_sub(cfg->anchor[i], c->reference))) <= cfg->astray_m))
            return false;
    return true;
}

static bool reads_well(const struct sim_controller_config *cfg, const struct sim_controller *c,
                       const struct sim_sensed *sensed)
{
    if (c->unreachable || !in_place(cfg, c, sensed))
        return false;
    for (int i = 0; says(sensed, WIRE_TENSION) && i < cfg->cords; i++)
        if (!(sensed->tension_n[i] >= SLACK_N))
            return false;
    return true;
}

void sim_controller_sense(const struct sim_controller_config *cfg, struct sim_controller *c,
                          const struct sim_sensed *sensed)
{
    bool well = c->deaf || reads_well(cfg, c, sensed);
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
    set |= c->power.on ? WIRE_RIG_POWERED : 0;
    return set;
}

const float *sim_controller_head(const struct sim_controller *c)
{
    return may_move(c) ? c->intent.head_rate : NULL;
}

static void put_floats(float out[], const double v[], int n)
{
    for (int i = 0; i < n; i++)
        out[i] = (float)v[i];
}

/* A source that is not there reads zero, and says so with its bit. */
size_t sim_controller_telemetry(const struct sim_controller_config *cfg, struct sim_controller *c, uint64_t now_ns,
                                const struct sim_sensed *sensed, uint8_t *buf, size_t size)
{
    bool lines = says(sensed, WIRE_LENGTH) || says(sensed, WIRE_TENSION);
    struct wire_telemetry t = {
        .rig_ns = now_ns,
        .flags = flags(c),
        .sources = (uint16_t)sensed->sources,
        .uncertainty_m = (float)sensed->uncertainty_m,
        .swing_rad = (float)sensed->swing_rad,
        .cords = (uint8_t)(lines ? cfg->cords : 0),
        .range_m = (float)sensed->range_m,
        .yaw_rad = (float)sensed->yaw_rad,
        .yaw_off_rad = (float)sensed->yaw_off_rad,
        .subject_age_s = (float)sensed->subject_age_s,
    };
    put_vec(t.position, sensed->position);
    put_vec(t.velocity, sensed->velocity);
    put_vec(t.subject, sensed->subject);
    put_floats(t.cord_length, sensed->length_m, t.cords);
    put_floats(t.cord_tension, sensed->tension_n, t.cords);
    put_floats(t.tilt_rad, sensed->tilt_rad, 2);
    put_floats(t.head, sensed->head, WIRE_HEAD_AXES);
    return sim_session_telemetry(&c->session, &t, buf, size);
}
