/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/rig/rig_bench.h"

#include <criterion/criterion.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

const uint8_t rig_bench_master[SEAL_KEY] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16};

static void bench_room(struct volume *v)
{
    static const struct vec3 anchor[] = {{0.2, 0.2, 3.1}, {7.8, 0.2, 3.1}, {7.8, 5.8, 3.1}, {0.2, 5.8, 3.1}};
    static const struct shape_box box[] = {{{5.2, 3.2, 0.0}, {6.2, 4.0, 1.7}}, {{1.0, 3.8, 0.0}, {2.2, 5.2, 1.9}}};
    v->stages = 1;
    v->stage[0] = (struct shape_prism){
        .corners = 4, .x = {0.8, 7.2, 7.2, 0.8}, .y = {0.8, 0.8, 5.2, 5.2}, .z_lo = 0.9, .z_hi = 2.6};
    v->keepouts = 2;
    for (int k = 0; k < 2; k++)
        v->keepout[k].shape = rig_bench_box(box[k]);
    v->outline = (struct volume_outline){.limbs = 1,
                                         .limb = {{.radius_m = 0.14}},
                                         .boom_m = 0.35,
                                         .boom_radius_m = 0.02,
                                         .cord_radius_m = 0.003,
                                         .cords = 4};
    memcpy(v->outline.anchor, anchor, sizeof anchor);
}

void rig_bench_show(struct show *show)
{
    memset(show, 0, sizeof *show);
    bench_room(&show->policy.guard.volume);
    show->policy.guard.brake_mps2 = 0.6;
    show->policy.guard.lease_s = 0.3;
    show->policy.guard.speed_mps = 0.4;
    show->home = (struct vec3){4.0, 2.2, 2.0};
    snprintf(show->rig_host, sizeof show->rig_host, "127.0.0.1");
    show->sensor[SHOW_POSE] = (struct show_sensor){.there = true, .sigma = 0.001};
    show->sensor[SHOW_LENGTH] = show->sensor[SHOW_TENSION] = (struct show_sensor){.there = true};
    show->sim = (struct show_sim){
        .enabled = true,
        .platform_kg = 0.8,
        .body_kg = 1.6,
        .swing_damping = 0.06,
        .cord_stiffness_npm = 12000,
        .cord_damping_nspm = 60,
        .winch_speed_mps = 0.8,
        .winch_accel_mps2 = 4,
        .noise_m = 0.001,
        .noise_rad = 0.1 * M_PI / 180,
        .command_latency_s = 0.02,
        .telemetry_latency_s = 0.02,
    };
}

struct sim_rig *rig_bench_rig(const struct show *show)
{
    struct sim_rig_options opt = {.seed = 7, .nonce_key = {42}, .start_ns = SECOND};
    const char *why = "no memory";
    struct sim_rig *rig = calloc(1, sizeof *rig);
    cr_assert(sodium_init() >= 0);
    cr_assert(rig && sim_rig_init(rig, show, rig_bench_master, &opt, &why), "%s", why);
    return rig;
}

void rig_core_init(struct rig_core *core)
{
    memset(core, 0, sizeof *core);
    cr_assert(sodium_init() >= 0);
    seal_derive(&core->keys, rig_bench_master);
}

size_t rig_core_seal(const struct rig_core *core, const struct wire_message *m, uint8_t *buf)
{
    size_t len = wire_encode(m, buf, WIRE_MAX);
    cr_assert(len > 0);
    seal_write(core->keys.to_rig, buf, len);
    return len;
}

struct wire_message rig_core_intent(struct rig_core *core, bool motion, struct vec3 velocity, uint64_t count,
                                    uint64_t permit, uint64_t expires_ns)
{
    struct wire_message m = {.type = WIRE_INTENT, .session = core->session, .seq = ++core->seq};
    m.body.intent = (struct wire_intent){.expires_rig_ns = expires_ns,
                                         .stop_count = count,
                                         .permit = permit,
                                         .motion = motion,
                                         .power = 1,
                                         .category = 2,
                                         .velocity = {velocity.x, velocity.y, velocity.z}};
    return m;
}

struct wire_message rig_core_stop(struct rig_core *core, uint64_t count)
{
    struct wire_message m = {.type = WIRE_STOP, .session = core->session, .seq = ++core->seq};
    m.body.stop = (struct wire_stop){.stop_count = count, .reason = 2, .category = 2};
    return m;
}

void rig_core_send(struct rig_core *core, struct sim_rig *rig, const struct wire_message *m)
{
    uint8_t buf[WIRE_MAX];
    sim_rig_arrive(rig, rig->now_ns, 1, buf, rig_core_seal(core, m, buf));
}

static void hear(struct rig_core *core, struct sim_rig *rig, const struct sim_datagram *d)
{
    struct wire_message m;
    cr_assert(seal_check(core->keys.to_core, d->bytes, d->len));
    cr_assert(wire_decode(d->bytes, d->len, &m));
    if (m.type == WIRE_TELEMETRY) {
        core->last = m.body.telemetry;
        core->heard++;
        return;
    }
    cr_assert_eq(m.type, WIRE_CHALLENGE);
    core->session = m.body.challenge.session;
    struct wire_message confirm = {.type = WIRE_CONFIRM, .session = core->session, .seq = ++core->seq};
    memcpy(confirm.body.confirm.rig_nonce, m.body.challenge.rig_nonce, WIRE_NONCE);
    rig_core_send(core, rig, &confirm);
}

void rig_core_run(struct rig_core *core, struct sim_rig *rig, double seconds)
{
    const struct sim_datagram *d;
    uint64_t end = rig->now_ns + (uint64_t)(seconds * 1e9 + 0.5);
    while (rig->now_ns + SIM_RIG_CONTROL_NS <= end) {
        sim_rig_run(rig, rig->now_ns + SIM_RIG_CONTROL_NS);
        while ((d = sim_rig_depart(rig, rig->now_ns)))
            hear(core, rig, d);
    }
}

void rig_core_connect(struct rig_core *core, struct sim_rig *rig)
{
    struct wire_message hello = {.type = WIRE_HELLO, .body.hello.core_nonce = {9, 9, 9}};
    rig_core_send(core, rig, &hello);
    rig_core_run(core, rig, 0.2);
    cr_assert_neq(core->session, 0);
    cr_assert_gt(core->heard, 0);
    struct wire_message off = rig_core_intent(core, false, (struct vec3){0, 0, 0}, 1, 0, rig->now_ns + 300 * MS);
    off.body.intent.power = 0;
    rig_core_send(core, rig, &off);
    rig_core_drive(core, rig, (struct vec3){0, 0, 0}, 0, 0.05, 300 * MS);
}

void rig_core_drive(struct rig_core *core, struct sim_rig *rig, struct vec3 velocity, uint64_t permit, double seconds,
                    uint64_t lease_ns)
{
    for (int ticks = (int)(seconds * 100 + 0.5); ticks > 0; ticks--) {
        uint64_t count = permit > 0 ? permit : 1;
        struct wire_message m = rig_core_intent(core, permit > 0, velocity, count, permit, rig->now_ns + lease_ns);
        rig_core_send(core, rig, &m);
        rig_core_run(core, rig, 0.01);
    }
}
