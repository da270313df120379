/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_rig.h"

#include <inttypes.h>
#include <string.h>

#include "gateway/rig/sim_setup.h"
#include "gateway/rig/sim_walk.h"

#define CONTROL_S (SIM_RIG_CONTROL_NS * 1e-9)

double sim_rig_yaw(const struct sim_rig *rig)
{
    const struct show_sim *show = &rig->show;
    double turns = show->yaw_period_s > 0 ? (double)rig->now_ns * 1e-9 / show->yaw_period_s : 0;
    return show->yaw_rad + show->yaw_sway_rad * sin(2 * M_PI * turns);
}

/* Where somebody walks; rig->show.walk > 0. */
static struct vec3 subject_of(const struct sim_rig *rig)
{
    return sim_walk_at(rig->show.walk_at, rig->show.walk, rig->show.walk_mps, (double)rig->now_ns * 1e-9);
}

static void observe(struct sim_rig *rig)
{
    const struct sim_physics *s = &rig->physics;
    struct sim_truth truth = {.t_s = (double)rig->now_ns * 1e-9, .position = s->position, .velocity = s->velocity};
    truth.body = sim_physics_body(&rig->physics_cfg, s);
    truth.yaw_rad = sim_rig_yaw(rig);
    memcpy(truth.tension_n, s->tension_n, sizeof truth.tension_n);
    sim_judge_observe(&rig->room, &rig->judge, &truth);
}

bool sim_rig_init(struct sim_rig *rig, const struct show *show, const uint8_t master[SEAL_KEY],
                  const struct sim_rig_options *opt, const char **why)
{
    *why = sim_setup(rig, show);
    if (*why)
        return false;
    rig->faults = (struct sim_faults){.push_n = {0, 0, 0}};
    rig->now_ns = opt->start_ns;
    rig->peer = 0;
    sim_sensors_init(&rig->sensors_cfg, &rig->sensors, opt->seed);
    sim_head_init(&rig->head_cfg, &rig->head);
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
        sim_path_put(&rig->in, &rig->faults.to_rig, now_ns, peer, bytes, len);
}

static void deliver(struct sim_rig *rig)
{
    const struct sim_datagram *d;
    struct sim_reply reply;
    while ((d = sim_path_take(&rig->in, rig->now_ns))) {
        rig->controller.session.elsewhere = d->peer != rig->peer;
        enum sim_verdict verdict = sim_controller_receive(&rig->controller, rig->now_ns, d->bytes, d->len, &reply);
        if (verdict == SIM_STARTED)
            rig->peer = d->peer;
        if (verdict == SIM_ANSWER)
            sim_path_put(&rig->out, &rig->faults.to_core, rig->now_ns, d->peer, reply.bytes, reply.len);
    }
}

static void put_vec(double out[], struct vec3 v)
{
    out[0] = v.x;
    out[1] = v.y;
    out[2] = v.z;
}

/* The range is that of a beam along the boom; leaning so far that it hardly points down, it sees nothing near. */
static double range(const struct sim_rig *rig)
{
    const struct sim_physics *s = &rig->physics;
    double down = sim_physics_has_boom(&rig->physics_cfg) ? -s->swing.n.z : 1;
    return (sim_physics_body(&rig->physics_cfg, s).z - rig->floor_m) / fmax(down, 0.01);
}

static void look(const struct sim_rig *rig, struct sim_truths *truth)
{
    const struct sim_physics *s = &rig->physics;
    memset(truth, 0, sizeof *truth);
    put_vec(truth->value[WIRE_POSE], s->position);
    put_vec(truth->value[WIRE_POSE] + 3, s->velocity);
    memcpy(truth->value[WIRE_LENGTH], s->length_m, sizeof s->length_m);
    memcpy(truth->value[WIRE_TENSION], s->tension_n, sizeof s->tension_n);
    truth->value[WIRE_RANGE][0] = range(rig);
    truth->value[WIRE_TILT][0] = asin(s->swing.n.x);
    truth->value[WIRE_TILT][1] = asin(s->swing.n.y);
    truth->value[WIRE_YAW][0] = sim_rig_yaw(rig);
    memcpy(truth->value[WIRE_HEAD], rig->head.at, sizeof rig->head.at);
    if (rig->show.walk > 0)
        put_vec(truth->value[WIRE_SUBJECT], subject_of(rig));
    truth->swing_rad = sim_physics_swing(&rig->physics_cfg, s);
}

static void measure(struct sim_rig *rig)
{
    uint8_t buf[WIRE_MAX];
    struct sim_truths truth;
    struct sim_sensed sensed;
    look(rig, &truth);
    sim_sensors_read(&rig->sensors_cfg, &rig->sensors, &rig->faults, &truth, &sensed);
    rig->controller.deaf = rig->faults.deaf_controller;
    sim_controller_sense(&rig->controller_cfg, &rig->controller, &sensed);
    size_t len =
        sim_controller_telemetry(&rig->controller_cfg, &rig->controller, rig->now_ns, &sensed, buf, sizeof buf);
    if (len > 0)
        sim_path_put(&rig->out, &rig->faults.to_core, rig->now_ns, rig->peer, buf, len);
}

/* A mast gives way, no faster than a mast does: where it is believed to stand is the controller's business. */
static void move_anchor(struct sim_rig *rig, int i)
{
    struct vec3 *at = &rig->physics_cfg.anchor[i];
    struct vec3 to = vec_add(rig->controller_cfg.anchor[i], rig->faults.anchor_moved_m[i]), off = vec_sub(to, *at);
    double far = vec_norm(off), step = SIM_FAULTS_CREEP_MPS * CONTROL_S;
    *at = far > step ? vec_along(*at, off, step / far) : to;
    rig->room.outline.anchor[i] = *at;
}

static void befall(struct sim_rig *rig)
{
    for (int i = 0; i < rig->physics_cfg.cords; i++) {
        rig->physics.parted[i] |= rig->faults.parted[i];
        rig->physics.winch[i] = rig->faults.winch[i];
        move_anchor(rig, i);
    }
    rig->physics.push_n = rig->faults.push_n;
}

static void step(struct sim_rig *rig)
{
    rig->now_ns += SIM_RIG_CONTROL_NS;
    befall(rig);
    deliver(rig);
    sim_controller_step(&rig->controller_cfg, &rig->controller, rig->now_ns, CONTROL_S);
    sim_head_step(&rig->head_cfg, &rig->head, sim_controller_head(&rig->controller), CONTROL_S);
    rig->physics.braked = !rig->controller.power.on;
    sim_controller_rest_at(&rig->controller_cfg, &rig->controller, rig->physics.position);
    for (int i = 0; i < rig->substeps; i++)
        sim_physics_step(&rig->physics_cfg, &rig->physics, &rig->controller.target, CONTROL_S / rig->substeps);
    if (rig->now_ns % SIM_RIG_JUDGE_NS < SIM_RIG_CONTROL_NS)
        observe(rig);
    if (rig->now_ns % SIM_RIG_TELEMETRY_NS < SIM_RIG_CONTROL_NS)
        measure(rig);
}

void sim_rig_run(struct sim_rig *rig, uint64_t until_ns)
{
    while (rig->now_ns + SIM_RIG_CONTROL_NS <= until_ns)
        step(rig);
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
    int n =
        snprintf(buf, size,
                 "{\"t_s\":%.4f,\"pos\":[%.5f,%.5f,%.5f],\"body\":[%.5f,%.5f,%.5f],\"speed\":%.5f,"
                 "\"min_clearance_m\":%.5f,\"clearance_m\":%.5f,\"touched\":%" PRIu64 ",\"stopped\":%s,"
                 "\"at_rest\":%s,\"powered\":%s,\"intents\":%" PRIu64 ",\"stops\":%" PRIu64
                 ",\"refused\":{\"tag\":%" PRIu32 ",\"session\":%" PRIu32 ",\"seq\":%" PRIu32 ",\"late\":%" PRIu32
                 ",\"form\":%" PRIu32 "},\"lapses\":%" PRIu64 ",\"slack\":%" PRIu64 ",\"fault\":%s,\"swing_deg\":%.3f,"
                 "\"yaw_deg\":%.2f,\"head\":[%.4f,%.4f,%.4f,%.4f]}\n",
                 t_s, p.x, p.y, p.z, b.x, b.y, b.z, vec_norm(rig->physics.velocity), judged ? j->min_clearance_m : -1e3,
                 judged ? j->clearance_m : -1e3, j->touched, sim_controller_stopped(c) ? "true" : "false",
                 sim_judge_at_rest(j) ? "true" : "false", c->power.on ? "true" : "false", c->intents, c->stops, no->tag,
                 no->session, no->seq, no->late, no->form, c->lapses, j->slack, c->fault ? "true" : "false",
                 sim_physics_swing(&rig->physics_cfg, &rig->physics) * 180 / M_PI, sim_rig_yaw(rig) * 180 / M_PI,
                 rig->head.at[0], rig->head.at[1], rig->head.at[2], rig->head.at[3]);
    return n;
}
