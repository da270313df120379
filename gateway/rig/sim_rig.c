/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_rig.h"

#include <inttypes.h>
#include <string.h>

enum { LEAST_SUBSTEPS = 4, MOST_SUBSTEPS = 32 };

#define CONTROL_S       (SIM_RIG_CONTROL_NS * 1e-9)
#define BRAKE_RESERVE   1.1  /* the show names the braking the rig is *sure* to reach: it can do a little more */
#define FLOOR_OF_LOAD   0.12 /* least planned tension of a cord, as a part of the whole weight */
#define CEILING_OF_LOAD 10.0 /* most, likewise */
#define ASTRAY_M        0.1
#define VELOCITY_NOISE  5.0 /* 1/s: a velocity from positions with noise_m, over a quarter of a second */

static void configure(struct sim_rig *rig, const struct show *show)
{
    const struct guard_config *guard = &show->policy.guard;
    const struct volume_outline *outline = &guard->volume.outline;
    const struct show_sim *sim = &show->sim;
    rig->room = guard->volume;
    rig->noise_m = sim->noise_m;
    rig->noise_rad = sim->noise_rad;
    rig->physics_cfg = (struct sim_physics_config){
        .cords = outline->cords,
        .platform_kg = sim->platform_kg,
        .body_kg = sim->body_kg,
        .boom = {.length_m = outline->boom_m, .damping = sim->swing_damping},
        .stiffness_npm = sim->cord_stiffness_npm,
        .damping_nspm = sim->cord_damping_nspm,
        .winch_speed_mps = sim->winch_speed_mps,
        .winch_accel_mps2 = sim->winch_accel_mps2,
    };
    double load = (sim->platform_kg + sim->body_kg) * SIM_GRAVITY;
    rig->controller_cfg = (struct sim_controller_config){
        .cords = outline->cords,
        .load_n = load,
        .floor_n = FLOOR_OF_LOAD * load,
        .ceiling_n = CEILING_OF_LOAD * load,
        .stiffness_npm = sim->cord_stiffness_npm,
        .brake_mps2 = BRAKE_RESERVE * guard->brake_mps2,
        .speed_mps = sim->winch_speed_mps,
        .astray_m = ASTRAY_M + 6 * sim->noise_m,
        .lease_ns = (uint64_t)(guard->lease_s * 1e9),
    };
    memcpy(rig->physics_cfg.anchor, outline->anchor, sizeof outline->anchor);
    memcpy(rig->controller_cfg.anchor, outline->anchor, sizeof outline->anchor);
}

/* NULL if the machine can be simulated. */
static const char *check(struct sim_rig *rig)
{
    const struct sim_physics_config *cfg = &rig->physics_cfg;
    if (cfg->cords < 3 || cfg->cords > VOLUME_MAX_CORDS)
        return "the simulated rig needs 3 to 8 anchors";
    if (!(cfg->platform_kg > 0 && cfg->body_kg >= 0 && cfg->stiffness_npm > 0 && cfg->damping_nspm >= 0 &&
          cfg->winch_speed_mps > 0 && cfg->winch_accel_mps2 > 0))
        return "the simulated rig's masses, stiffness and winch limits must be above 0";
    double steps = ceil(CONTROL_S / sim_physics_max_dt(cfg));
    if (!(steps <= MOST_SUBSTEPS))
        return "the cords are too stiff or too damped for so light a platform to be simulated: lower "
               "cord_stiffness_npm or cord_damping_nspm, or raise platform_kg";
    rig->substeps = steps < LEAST_SUBSTEPS ? LEAST_SUBSTEPS : (int)steps;
    return NULL;
}

static void observe(struct sim_rig *rig)
{
    const struct sim_physics *s = &rig->physics;
    struct sim_truth truth = {.t_s = (double)rig->now_ns * 1e-9, .position = s->position, .velocity = s->velocity};
    truth.body = sim_physics_body(&rig->physics_cfg, s);
    memcpy(truth.tension_n, s->tension_n, sizeof truth.tension_n);
    sim_judge_observe(&rig->room, &rig->judge, &truth);
}

bool sim_rig_init(struct sim_rig *rig, const struct show *show, const uint8_t master[SEAL_KEY],
                  const struct sim_rig_options *opt, const char **why)
{
    configure(rig, show);
    *why = check(rig);
    if (*why)
        return false;
    rig->faults = (struct sim_faults){.push_n = {0, 0, 0}};
    rig->now_ns = opt->start_ns;
    rig->peer = 0;
    rig->noise.state = opt->seed;
    sim_path_init(&rig->in, show->sim.command_latency_s, opt->command_loss, opt->seed + 1);
    sim_path_init(&rig->out, show->sim.telemetry_latency_s, opt->telemetry_loss, opt->seed + 2);
    sim_judge_init(&rig->judge);
    if (!sim_controller_init(&rig->controller_cfg, &rig->controller, show->home, master, opt->nonce_key)) {
        *why = "the cords cannot hold the camera at home: move home between and below the anchors";
        return false;
    }
    sim_physics_init(&rig->physics_cfg, &rig->physics, show->home, rig->controller.target.rest_m);
    observe(rig);
    return true;
}

void sim_rig_arrive(struct sim_rig *rig, uint64_t now_ns, uint64_t peer, const uint8_t *bytes, size_t len)
{
    if (sim_session_genuine(&rig->controller.session, bytes, len))
        sim_path_put(&rig->in, now_ns, peer, bytes, len);
}

static void deliver(struct sim_rig *rig)
{
    const struct sim_datagram *d;
    struct sim_reply reply;
    while ((d = sim_path_take(&rig->in, rig->now_ns))) {
        enum sim_verdict verdict = sim_controller_receive(&rig->controller, rig->now_ns, d->bytes, d->len, &reply);
        if (verdict == SIM_STARTED)
            rig->peer = d->peer;
        if (verdict == SIM_ANSWER)
            sim_path_put(&rig->out, rig->now_ns, d->peer, reply.bytes, reply.len);
    }
}

static struct vec3 shaken(struct sim_noise *noise, struct vec3 v, double sigma)
{
    struct vec3 e = {sim_noise_normal(noise, sigma), sim_noise_normal(noise, sigma), sim_noise_normal(noise, sigma)};
    return vec_add(v, e);
}

static void measure(struct sim_rig *rig)
{
    const struct sim_physics *s = &rig->physics;
    uint8_t buf[WIRE_MAX];
    struct sim_sensed sensed = {
        .position = shaken(&rig->noise, s->position, rig->noise_m),
        .velocity = shaken(&rig->noise, s->velocity, VELOCITY_NOISE * rig->noise_m),
        .uncertainty_m = 3 * rig->noise_m,
        .swing_rad = fabs(sim_physics_swing(&rig->physics_cfg, s) + sim_noise_normal(&rig->noise, rig->noise_rad)),
    };
    memcpy(sensed.length_m, s->length_m, sizeof sensed.length_m);
    memcpy(sensed.tension_n, s->tension_n, sizeof sensed.tension_n);
    sim_controller_sense(&rig->controller_cfg, &rig->controller, &sensed);
    size_t len =
        sim_controller_telemetry(&rig->controller_cfg, &rig->controller, rig->now_ns, &sensed, buf, sizeof buf);
    if (len > 0)
        sim_path_put(&rig->out, rig->now_ns, rig->peer, buf, len);
}

void sim_rig_run(struct sim_rig *rig, uint64_t until_ns)
{
    while (rig->now_ns + SIM_RIG_CONTROL_NS <= until_ns) {
        rig->now_ns += SIM_RIG_CONTROL_NS;
        for (int i = 0; i < rig->physics_cfg.cords; i++)
            rig->physics.parted[i] |= rig->faults.parted[i];
        deliver(rig);
        sim_controller_step(&rig->controller_cfg, &rig->controller, rig->now_ns, CONTROL_S);
        for (int i = 0; i < rig->substeps; i++)
            sim_physics_step(&rig->physics_cfg, &rig->physics, &rig->controller.target, CONTROL_S / rig->substeps);
        if (rig->now_ns % SIM_RIG_JUDGE_NS < SIM_RIG_CONTROL_NS)
            observe(rig);
        if (rig->now_ns % SIM_RIG_TELEMETRY_NS < SIM_RIG_CONTROL_NS)
            measure(rig);
    }
}

const struct sim_datagram *sim_rig_depart(struct sim_rig *rig, uint64_t now_ns)
{
    return sim_path_take(&rig->out, now_ns);
}

uint64_t sim_rig_next_ns(const struct sim_rig *rig)
{
    uint64_t reading = rig->now_ns - rig->now_ns % SIM_RIG_TELEMETRY_NS + SIM_RIG_TELEMETRY_NS;
    uint64_t due = sim_path_due(&rig->out);
    return due < reading ? due : reading;
}

int sim_rig_report(const struct sim_rig *rig, double t_s, char *buf, size_t size)
{
    const struct sim_judge *j = &rig->judge;
    const struct sim_controller *c = &rig->controller;
    const struct sim_refused *no = &c->session.refused;
    struct vec3 p = rig->physics.position, b = sim_physics_body(&rig->physics_cfg, &rig->physics);
    bool judged = isfinite(j->clearance_m); /* JSON has no infinity */
    int n = snprintf(buf, size,
                     "{\"t_s\":%.4f,\"pos\":[%.5f,%.5f,%.5f],\"body\":[%.5f,%.5f,%.5f],\"speed\":%.5f,"
                     "\"min_clearance_m\":%.5f,\"clearance_m\":%.5f,\"touched\":%" PRIu64 ",\"stopped\":%s,"
                     "\"at_rest\":%s,\"intents\":%" PRIu64 ",\"stops\":%" PRIu64 ",\"refused\":{\"tag\":%" PRIu32
                     ",\"session\":%" PRIu32 ",\"seq\":%" PRIu32 ",\"late\":%" PRIu32 ",\"form\":%" PRIu32
                     "},\"lapses\":%" PRIu64 ",\"slack\":%" PRIu64 ",\"fault\":%s,\"swing_deg\":%.3f}\n",
                     t_s, p.x, p.y, p.z, b.x, b.y, b.z, vec_norm(rig->physics.velocity),
                     judged ? j->min_clearance_m : -1e3, judged ? j->clearance_m : -1e3, j->touched,
                     sim_controller_stopped(c) ? "true" : "false", sim_judge_at_rest(j) ? "true" : "false", c->intents,
                     c->stops, no->tag, no->session, no->seq, no->late, no->form, c->lapses, j->slack,
                     c->fault ? "true" : "false", sim_physics_swing(&rig->physics_cfg, &rig->physics) * 180 / M_PI);
    return n;
}
