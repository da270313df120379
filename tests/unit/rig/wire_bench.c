/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/rig/wire_bench.h"

#include <string.h>

static void fill(uint8_t *bytes, size_t n, uint8_t from)
{
    for (size_t i = 0; i < n; i++)
        bytes[i] = (uint8_t)(from + i);
}

struct wire_telemetry wire_bench_telemetry(void)
{
    struct wire_telemetry t = {.rig_ns = 0x0102030405060708u, .last_intent_seq = 77, .stop_count = 3, .cords = 4};
    t.flags = WIRE_RIG_MOVING | WIRE_RIG_LAPSED | WIRE_RIG_POWERED;
    t.sources = (1u << WIRE_SOURCES) - 1;
    t.range_m = 1.5f;
    t.tilt_rad[0] = -0.02f;
    t.tilt_rad[1] = 0.03f;
    t.yaw_rad = -3.0f;
    t.yaw_off_rad = 0.05f;
    t.subject_age_s = 0.2f;
    t.refused_tag = 1;
    t.refused_session = 2;
    t.refused_seq = 3;
    t.refused_late = 4;
    t.refused_form = 0xfffffffeu;
    t.uncertainty_m = 0.003f;
    t.swing_rad = 0.01f;
    for (int i = 0; i < 3; i++) {
        t.position[i] = 1.25 + i;
        t.velocity[i] = -0.1 * i;
        t.subject[i] = 2.5 - i;
    }
    for (int i = 0; i < 4; i++) {
        t.cord_length[i] = 3.5f + (float)i;
        t.cord_tension[i] = 20.0f + (float)i;
        t.head[i] = 0.5f - (float)i;
    }
    return t;
}

struct wire_message wire_bench_message(int type)
{
    struct wire_message m;
    memset(&m, 0, sizeof m);
    m.type = (enum wire_type)type;
    bool outside = type == WIRE_HELLO || type == WIRE_CHALLENGE;
    m.session = outside ? 0 : 0xfedcba9876543210u;
    m.seq = outside ? 0 : 41;
    if (type == WIRE_HELLO)
        fill(m.body.hello.core_nonce, WIRE_NONCE, 1);
    if (type == WIRE_CHALLENGE) {
        fill(m.body.challenge.core_nonce, WIRE_NONCE, 1);
        fill(m.body.challenge.rig_nonce, WIRE_NONCE, 101);
        m.body.challenge.session = 99;
    }
    if (type == WIRE_CONFIRM)
        fill(m.body.confirm.rig_nonce, WIRE_NONCE, 101);
    if (type == WIRE_INTENT)
        m.body.intent = (struct wire_intent){.expires_rig_ns = UINT64_MAX,
                                             .stop_count = 5,
                                             .permit = 5,
                                             .motion = 1,
                                             .power = 1,
                                             .category = 2,
                                             .velocity = {0.1, -0.2, 1e-300},
                                             .cords = 3,
                                             .cord_rate = {0.25f, -0.5f, 1e-30f},
                                             .cord_tension = {5.5f, 0, 1e30f},
                                             .head_rate = {-0.25f, 0, 0.125f, 2}};
    if (type == WIRE_STOP)
        m.body.stop = (struct wire_stop){.stop_count = 6, .reason = 255, .category = 1};
    if (type == WIRE_TELEMETRY)
        m.body.telemetry = wire_bench_telemetry();
    return m;
}

size_t wire_bench_encode(const struct wire_message *m, uint8_t buf[WIRE_MAX])
{
    memset(buf, 0xaa, WIRE_MAX);
    return wire_encode(m, buf, WIRE_MAX);
}
