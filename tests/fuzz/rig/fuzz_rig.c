/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The rig's end as a hostile or broken core sees it: a script of datagrams, genuine and not, and of time passing. After
 * every step: bounded, finite, braking whenever it may not move, stop counts never fall, and what was refused has
 * changed nothing.
 *
 * Script: an operation byte, then its bytes. 0: n, then n raw bytes. 1: n, then n bytes that get a genuine tag.
 * 2: flags, then a well-formed intent or stop made from 4 bytes. 3: n milliseconds pass. 4: readings. 5: a hello, and
 * its challenge confirmed.
 */
#include <math.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/rig/sim_controller.h"

enum { MS = 1000000, LEASE_MS = 300 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct script {
    const uint8_t *data;
    size_t left;
};

struct bench {
    struct sim_controller_config cfg;
    struct sim_controller c;
    struct seal_keys keys;
    uint64_t now, session, seq;
};

static void require(int holds)
{
    if (!holds)
        abort();
}

static unsigned next(struct script *s)
{
    if (s->left == 0)
        return 0;
    s->left--;
    return *s->data++;
}

static size_t take(struct script *s, uint8_t *out, size_t most)
{
    size_t n = next(s);
    n = n > most ? most : n;
    for (size_t i = 0; i < n; i++)
        out[i] = (uint8_t)next(s);
    return n;
}

static void require_refusal_changed_nothing(const struct sim_controller *before, const struct sim_controller *after)
{
    struct sim_controller copy = *after;
    copy.session.refused = before->session.refused;
    require(memcmp(&copy, before, sizeof copy) == 0);
    const struct sim_refused *a = &after->session.refused, *b = &before->session.refused;
    uint32_t counted =
        (a->tag - b->tag) + (a->session - b->session) + (a->seq - b->seq) + (a->late - b->late) + (a->form - b->form);
    require(counted == 1);
}

static enum sim_verdict give(struct bench *b, const uint8_t *bytes, size_t len, struct sim_reply *reply)
{
    struct sim_controller before = b->c;
    enum sim_verdict verdict = sim_controller_receive(&b->c, b->now, bytes, len, reply);
    if (verdict == SIM_REFUSED)
        require_refusal_changed_nothing(&before, &b->c);
    if (verdict != SIM_STARTED)
        require(b->c.session.stop_count >= before.session.stop_count);
    bool comes_on = b->c.power.on && !before.power.on;
    require(!comes_on || (verdict == SIM_INTENT && before.power.told_off && b->c.intent.power == 1 &&
                          b->c.intent.stop_count == b->c.session.stop_count));
    if (verdict == SIM_INTENT)
        require(b->c.intent.expires_rig_ns > b->now && b->c.intent.expires_rig_ns <= b->now + 2 * LEASE_MS * MS);
    require((reply->len > 0) == (verdict == SIM_ANSWER));
    return verdict;
}

static void say(struct bench *b, const struct wire_message *m)
{
    uint8_t buf[WIRE_MAX];
    struct sim_reply reply;
    size_t len = wire_encode(m, buf, sizeof buf);
    if (len == 0)
        return;
    seal_write(b->keys.to_rig, buf, len);
    give(b, buf, len, &reply);
}

static void say_made_up(struct bench *b, struct script *s)
{
    unsigned flags = next(s), count = next(s), permit = next(s), lease = next(s), speed = next(s);
    struct wire_message m = {.type = flags & 1 ? WIRE_STOP : WIRE_INTENT, .session = b->session};
    m.seq = flags & 2 ? b->seq : ++b->seq;
    m.session += (flags >> 2 & 7) == 7;
    if (m.type == WIRE_STOP) {
        m.body.stop.stop_count = count;
        m.body.stop.category = (uint8_t)(speed % 3);
    } else {
        m.body.intent.stop_count = count;
        m.body.intent.permit = permit;
        m.body.intent.motion = flags >> 5 & 1;
        m.body.intent.power = m.body.intent.motion | !(flags >> 7 & 1);
        m.body.intent.category = (uint8_t)(m.body.intent.power ? 2 : speed % 3);
        m.body.intent.expires_rig_ns = b->now + (uint64_t)lease * 4 * MS - 8 * MS;
        m.body.intent.velocity[flags >> 6 & 1] = ((double)speed - 128) / 64;
        m.body.intent.cords = (uint8_t)(lease % 5);
        for (int i = 0; i < m.body.intent.cords; i++)
            m.body.intent.cord_tension[i] = (float)speed * (float)(1 << 4 * i) - 64;
        m.body.intent.head_rate[flags & 3] = (float)speed;
    }
    say(b, &m);
}

static void shake_hands(struct bench *b)
{
    uint8_t buf[WIRE_MAX];
    struct sim_reply reply;
    struct wire_message m = {.type = WIRE_HELLO}, back;
    size_t len = wire_encode(&m, buf, sizeof buf);
    seal_write(b->keys.to_rig, buf, len);
    require(give(b, buf, len, &reply) == SIM_ANSWER);
    require(seal_check(b->keys.to_core, reply.bytes, reply.len) && wire_decode(reply.bytes, reply.len, &back));
    b->session = back.body.challenge.session;
    struct wire_message confirm = {.type = WIRE_CONFIRM, .session = b->session, .seq = ++b->seq};
    memcpy(confirm.body.confirm.rig_nonce, back.body.challenge.rig_nonce, WIRE_NONCE);
    say(b, &confirm);
    require(b->c.session.id == b->session && sim_controller_stopped(&b->c));
}

/* Written anew, not called: the one condition under which it may speed up. */
static int permitted(const struct bench *b)
{
    const struct wire_intent *i = &b->c.intent;
    return b->c.session.id != 0 && i->motion == 1 && i->permit != 0 && i->permit == b->c.session.stop_count &&
           b->now < i->expires_rig_ns && !b->c.fault && b->c.power.on;
}

static void pass_time(struct bench *b, unsigned ms)
{
    for (; ms > 0; ms--) {
        struct vec3 before = b->c.velocity;
        b->now += MS;
        sim_controller_step(&b->cfg, &b->c, b->now, 0.001);
        require(vec_finite(b->c.velocity) && vec_finite(b->c.reference));
        require(vec_norm(b->c.velocity) <= b->cfg.speed_mps + 1e-9);
        require(b->c.power.on || vec_norm(b->c.velocity) <= 0);
        require(!b->c.power.on || vec_norm(vec_sub(b->c.velocity, before)) <= b->cfg.brake_mps2 * 0.001 + 1e-12);
        if (!permitted(b))
            require(vec_norm(b->c.velocity) <= fmax(0, vec_norm(before) - b->cfg.brake_mps2 * 0.001) + 1e-12);
        require((sim_controller_head(&b->c) != NULL) <= permitted(b));
        for (int i = 0; i < b->cfg.cords; i++)
            require(isfinite(b->c.target.rest_m[i]) && isfinite(b->c.target.rate_mps[i]) && b->c.ref_n[i] >= 0 &&
                    b->c.ref_n[i] <= b->cfg.ceiling_n);
    }
}

static void readings(struct bench *b, struct script *s)
{
    struct sim_sensed sensed = {.sources = 1u << WIRE_POSE | 1u << WIRE_TENSION, .position = b->c.reference};
    unsigned odd = next(s);
    sensed.sources &= ~(odd >> 6);
    sensed.position.x += odd & 1 ? (double)NAN : odd & 2 ? 1.0 : 0;
    for (int i = 0; i < b->cfg.cords; i++)
        sensed.tension_n[i] = odd & (4u << i) ? 0 : 10;
    for (unsigned n = next(s); n > 0; n--)
        sim_controller_sense(&b->cfg, &b->c, &sensed);
}

static void begin(struct bench *b)
{
    static const uint8_t master[SEAL_KEY] = {1}, nonce_key[SEAL_KEY] = {2};
    memset(b, 0, sizeof *b);
    require(sodium_init() >= 0);
    seal_derive(&b->keys, master);
    b->now = 1000 * (uint64_t)MS;
    b->session = 1;
    b->cfg = (struct sim_controller_config){
        .cords = 4,
        .anchor = {{0, 0, 3}, {8, 0, 3}, {8, 6, 3}, {0, 6, 3}},
        .load_n = 24,
        .floor_n = 3,
        .ceiling_n = 240,
        .stiffness_npm = 12000,
        .brake_mps2 = 0.6,
        .speed_mps = 0.8,
        .astray_m = 0.1,
        .lease_ns = LEASE_MS * (uint64_t)MS,
    };
    require(sim_controller_init(&b->cfg, &b->c, (struct vec3){4, 3, 1.5}, master, nonce_key));
    b->c.power.on = true;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct script s = {data, size > 4096 ? 4096 : size};
    struct sim_reply reply;
    struct bench b;
    uint8_t buf[WIRE_MAX];
    begin(&b);
    while (s.left > 0) {
        unsigned op = next(&s) % 6;
        if (op <= 1) {
            size_t n = take(&s, buf, sizeof buf);
            if (op == 1 && n > WIRE_TAG)
                seal_write(b.keys.to_rig, buf, n);
            give(&b, buf, n, &reply);
        } else if (op == 2) {
            say_made_up(&b, &s);
        } else if (op == 3) {
            pass_time(&b, next(&s));
        } else if (op == 4) {
            readings(&b, &s);
        } else {
            shake_hands(&b);
        }
    }
    pass_time(&b, 1);
    return 0;
}
