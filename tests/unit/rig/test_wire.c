/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
#include <sodium.h>
#include <string.h>

#include "gateway/rig/seal.h"
#include "gateway/rig/wire.h"

enum { TYPES = 6 };

/* The lengths wire.h documents, by type. */
static const size_t documented[TYPES + 1] = {0, 56, 80, 56, 122, 49, 209};

static void fill(uint8_t *bytes, size_t n, uint8_t from)
{
    for (size_t i = 0; i < n; i++)
        bytes[i] = (uint8_t)(from + i);
}

static struct wire_telemetry telemetry(void)
{
    struct wire_telemetry t = {.rig_ns = 0x0102030405060708u, .last_intent_seq = 77, .stop_count = 3, .cords = 4};
    t.flags = WIRE_RIG_MOVING | WIRE_RIG_LAPSED;
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
    }
    for (int i = 0; i < 4; i++) {
        t.cord_length[i] = 3.5f + (float)i;
        t.cord_tension[i] = 20.0f + (float)i;
    }
    return t;
}

static struct wire_message message(int type)
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
                                             .velocity = {0.1, -0.2, 1e-300},
                                             .cords = 3,
                                             .cord_rate = {0.25f, -0.5f, 1e-30f}};
    if (type == WIRE_STOP)
        m.body.stop = (struct wire_stop){.stop_count = 6, .reason = 255};
    if (type == WIRE_TELEMETRY)
        m.body.telemetry = telemetry();
    return m;
}

static size_t encode(const struct wire_message *m, uint8_t buf[WIRE_MAX])
{
    memset(buf, 0xaa, WIRE_MAX);
    return wire_encode(m, buf, WIRE_MAX);
}

Test(wire, every_type_comes_back_as_it_went_in_the_documented_length)
{
    for (int type = 1; type <= TYPES; type++) {
        uint8_t buf[WIRE_MAX], again[WIRE_MAX];
        struct wire_message m = message(type), back;
        memset(&back, 0, sizeof back);
        size_t len = encode(&m, buf);
        cr_assert_eq(len, documented[type], "type %d", type);
        cr_assert(wire_decode(buf, len, &back), "type %d", type);
        cr_assert_eq(back.type, m.type);
        cr_assert_eq(back.session, m.session);
        cr_assert_eq(back.seq, m.seq);
        cr_assert_eq(encode(&back, again), len);
        cr_assert_eq(memcmp(buf, again, len - WIRE_TAG), 0, "type %d", type);
    }
}

Test(wire, values_survive)
{
    uint8_t buf[WIRE_MAX];
    struct wire_message m = message(WIRE_INTENT), back;
    cr_assert(wire_decode(buf, encode(&m, buf), &back));
    cr_assert_eq(back.body.intent.expires_rig_ns, UINT64_MAX);
    cr_assert_eq(back.body.intent.velocity[1], -0.2);
    cr_assert_eq(back.body.intent.velocity[2], 1e-300);
    cr_assert_eq(back.body.intent.cord_rate[1], -0.5f);
    m = message(WIRE_TELEMETRY);
    cr_assert(wire_decode(buf, encode(&m, buf), &back));
    cr_assert_eq(back.body.telemetry.rig_ns, 0x0102030405060708u);
    cr_assert_eq(back.body.telemetry.position[2], 3.25);
    cr_assert_eq(back.body.telemetry.cord_tension[3], 23.0f);
    cr_assert_eq(back.body.telemetry.refused_form, 0xfffffffeu);
}

/* Written out by hand from the table in wire.h, so that both ends of the code cannot be wrong together. */
Test(wire, a_stop_is_these_bytes)
{
    static const uint8_t expect[] = {'S',  'H',  'R',  'L',  1,    5,    9,    0,          /* header */
                                     0x10, 0x32, 0x54, 0x76, 0x98, 0xba, 0xdc, 0xfe,       /* session */
                                     41,   0,    0,    0,    0,    0,    0,    0,          /* seq */
                                     6,    0,    0,    0,    0,    0,    0,    0,    255}; /* body */
    uint8_t buf[WIRE_MAX];
    struct wire_message m = message(WIRE_STOP);
    cr_assert_eq(encode(&m, buf), sizeof expect + WIRE_TAG);
    cr_assert_eq(memcmp(buf, expect, sizeof expect), 0);
}

static bool refused_unchanged(const uint8_t *buf, size_t len)
{
    struct wire_message m, before;
    memset(&m, 0x5a, sizeof m);
    memcpy(&before, &m, sizeof m);
    return !wire_decode(buf, len, &m) && memcmp(&m, &before, sizeof m) == 0;
}

Test(wire, every_truncation_and_extension_is_refused_and_changes_nothing)
{
    for (int type = 1; type <= TYPES; type++) {
        uint8_t buf[WIRE_MAX];
        struct wire_message m = message(type);
        size_t len = encode(&m, buf);
        for (size_t cut = 0; cut < WIRE_MAX; cut++)
            cr_assert(cut == len || refused_unchanged(buf, cut), "type %d cut to %zu", type, cut);
    }
}

Test(wire, every_flipped_bit_breaks_the_seal)
{
    static const uint8_t key[SEAL_KEY] = {3, 1, 4, 1, 5};
    for (int type = 1; type <= TYPES; type++) {
        uint8_t buf[WIRE_MAX];
        struct wire_message m = message(type);
        size_t len = encode(&m, buf);
        seal_write(key, buf, len);
        cr_assert(seal_check(key, buf, len));
        for (size_t bit = 0; bit < 8 * len; bit++) {
            buf[bit / 8] ^= (uint8_t)(1u << bit % 8);
            cr_assert_not(seal_check(key, buf, len), "type %d bit %zu", type, bit);
            buf[bit / 8] ^= (uint8_t)(1u << bit % 8);
        }
    }
}

/* Without the seal's help: what still decodes after a byte was changed is another sound message that says so when it is
 * encoded again; everything else leaves no trace. */
Test(wire, every_changed_byte_is_refused_or_read_faithfully)
{
    for (int type = 1; type <= TYPES; type++) {
        uint8_t buf[WIRE_MAX], again[WIRE_MAX];
        struct wire_message m = message(type), back;
        size_t len = encode(&m, buf);
        for (size_t at = 0; at < len - WIRE_TAG; at++) {
            for (unsigned change = 1; change < 256; change++) {
                buf[at] ^= (uint8_t)change;
                if (wire_decode(buf, len, &back))
                    cr_assert(wire_encode(&back, again, sizeof again) == len && !memcmp(buf, again, len - WIRE_TAG));
                else
                    cr_assert(refused_unchanged(buf, len));
                buf[at] ^= (uint8_t)change;
            }
        }
    }
}

Test(wire, header_bytes_cannot_be_changed)
{
    for (int type = 1; type <= TYPES; type++) {
        uint8_t buf[WIRE_MAX];
        struct wire_message m = message(type);
        size_t len = encode(&m, buf);
        for (size_t at = 0; at < 8; at++) {
            buf[at] ^= 0x40;
            cr_assert(refused_unchanged(buf, len), "type %d byte %zu", type, at);
            buf[at] ^= 0x40;
        }
    }
}

Test(wire, what_is_not_a_message_is_not_encoded)
{
    uint8_t buf[WIRE_MAX];
    struct wire_message m = message(WIRE_INTENT);
    cr_assert_eq(wire_encode(&m, buf, documented[WIRE_INTENT] - 1), 0);
    for (int type = -1; type <= 300; type++) {
        m = message(WIRE_STOP);
        m.type = (enum wire_type)type;
        bool known = type == WIRE_CONFIRM || (type >= WIRE_INTENT && type <= WIRE_TELEMETRY);
        memset(&m.body, 0, sizeof m.body);
        cr_assert_eq(encode(&m, buf) > 0, known, "type %d", type);
    }
}

#define NOT_ENCODED(base, change)                                                                                      \
    do {                                                                                                               \
        struct wire_message m = message(base);                                                                         \
        change;                                                                                                        \
        cr_assert_eq(encode(&m, (uint8_t[WIRE_MAX]){0}), 0, #change);                                                  \
    } while (0)

Test(wire, no_value_out_of_range_is_encoded)
{
    NOT_ENCODED(WIRE_INTENT, m.body.intent.motion = 2);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.cords = 9);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.velocity[2] = (double)NAN);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.velocity[0] = -(double)INFINITY);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.cord_rate[1] = INFINITY);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.cord_rate[3] = 0.1f);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.cord_rate[7] = -0.0f);
    NOT_ENCODED(WIRE_INTENT, m.session = 0);
    NOT_ENCODED(WIRE_INTENT, m.seq = 0);
    NOT_ENCODED(WIRE_HELLO, m.session = 1);
    NOT_ENCODED(WIRE_CHALLENGE, m.seq = 1);
    NOT_ENCODED(WIRE_CHALLENGE, m.body.challenge.session = 0);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.position[0] = (double)NAN);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.velocity[2] = (double)INFINITY);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.uncertainty_m = -0.001f);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.swing_rad = NAN);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.cord_length[0] = NAN);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.cord_tension[4] = 1);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.flags = WIRE_RIG_FLAGS + 1);
}

/* The same values planted in the bytes of a sound message. */
Test(wire, no_value_out_of_range_is_decoded)
{
    static const uint8_t nan64[] = {0, 0, 0, 0, 0, 0, 0xf8, 0x7f}, inf64[] = {0, 0, 0, 0, 0, 0, 0xf0, 0xff};
    uint8_t buf[WIRE_MAX];
    struct wire_message m = message(WIRE_INTENT);
    size_t len = encode(&m, buf), velocity = WIRE_HEADER + 25, cords = WIRE_HEADER + 49;
    for (size_t axis = 0; axis < 3; axis++) {
        len = encode(&m, buf);
        memcpy(buf + velocity + 8 * axis, nan64, 8);
        cr_assert(refused_unchanged(buf, len));
        memcpy(buf + velocity + 8 * axis, inf64, 8);
        cr_assert(refused_unchanged(buf, len));
    }
    len = encode(&m, buf);
    buf[cords] = 9;
    cr_assert(refused_unchanged(buf, len));
    buf[cords] = 2; /* leaves a third rate past the end */
    cr_assert(refused_unchanged(buf, len));
}
