/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
#include <sodium.h>
#include <string.h>

#include "gateway/rig/seal.h"
#include "tests/unit/rig/wire_bench.h"

enum { TYPES = 6 };

/* The lengths wire.h documents, by type. */
static const size_t documented[TYPES + 1] = {0, 56, 80, 56, 172, 50, 275};

Test(wire, every_type_comes_back_as_it_went_in_the_documented_length)
{
    for (int type = 1; type <= TYPES; type++) {
        uint8_t buf[WIRE_MAX], again[WIRE_MAX];
        struct wire_message m = wire_bench_message(type), back;
        memset(&back, 0, sizeof back);
        size_t len = wire_bench_encode(&m, buf);
        cr_assert_eq(len, documented[type], "type %d", type);
        cr_assert(wire_decode(buf, len, &back), "type %d", type);
        cr_assert_eq(back.type, m.type);
        cr_assert_eq(back.session, m.session);
        cr_assert_eq(back.seq, m.seq);
        cr_assert_eq(wire_bench_encode(&back, again), len);
        cr_assert_eq(memcmp(buf, again, len - WIRE_TAG), 0, "type %d", type);
    }
}

Test(wire, values_survive)
{
    uint8_t buf[WIRE_MAX];
    struct wire_message m = wire_bench_message(WIRE_INTENT), back;
    cr_assert(wire_decode(buf, wire_bench_encode(&m, buf), &back));
    cr_assert_eq(back.body.intent.expires_rig_ns, UINT64_MAX);
    cr_assert_eq(back.body.intent.velocity[1], -0.2);
    cr_assert_eq(back.body.intent.velocity[2], 1e-300);
    cr_assert_eq(back.body.intent.cord_rate[1], -0.5f);
    cr_assert_eq(back.body.intent.cord_tension[2], 1e30f);
    cr_assert_eq(back.body.intent.head_rate[3], 2.0f);
    m = wire_bench_message(WIRE_TELEMETRY);
    cr_assert(wire_decode(buf, wire_bench_encode(&m, buf), &back));
    cr_assert_eq(back.body.telemetry.rig_ns, 0x0102030405060708u);
    cr_assert_eq(back.body.telemetry.position[2], 3.25);
    cr_assert_eq(back.body.telemetry.cord_tension[3], 23.0f);
    cr_assert_eq(back.body.telemetry.sources, 0xff);
    cr_assert_eq(back.body.telemetry.range_m, 1.5f);
    cr_assert_eq(back.body.telemetry.tilt_rad[1], 0.03f);
    cr_assert_eq(back.body.telemetry.yaw_rad, -3.0f);
    cr_assert_eq(back.body.telemetry.yaw_off_rad, 0.05f);
    cr_assert_eq(back.body.telemetry.head[3], -2.5f);
    cr_assert_eq(back.body.telemetry.subject[2], 0.5);
    cr_assert_eq(back.body.telemetry.subject_age_s, 0.2f);
    cr_assert_eq(back.body.telemetry.refused_form, 0xfffffffeu);
}

/* Written out by hand from the table in wire.h, so that both ends of the code cannot be wrong together. */
Test(wire, a_stop_is_these_bytes)
{
    static const uint8_t expect[] = {'S',  'H',  'R',  'L',  3,    5,    10,   0,             /* header */
                                     0x10, 0x32, 0x54, 0x76, 0x98, 0xba, 0xdc, 0xfe,          /* session */
                                     41,   0,    0,    0,    0,    0,    0,    0,             /* seq */
                                     6,    0,    0,    0,    0,    0,    0,    0,    255, 1}; /* body */
    uint8_t buf[WIRE_MAX];
    struct wire_message m = wire_bench_message(WIRE_STOP);
    cr_assert_eq(wire_bench_encode(&m, buf), sizeof expect + WIRE_TAG);
    cr_assert_eq(memcmp(buf, expect, sizeof expect), 0);
}

/* Likewise, and it says nothing but when, what it heard, how much it swings, and its range. */
Test(wire, a_rig_that_measures_its_range_alone_says_these_bytes)
{
    static const uint8_t expect[235] = {
        8,
        7,
        6,
        5,
        4,
        3,
        2,
        1,
        77,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        3,
        0,
        0,
        0,
        0,
        0,
        0,
        0, /* times and counts */
        WIRE_RIG_MOVING,
        0,
        0,
        0,
        1 << 3,
        0, /* flags, sources */
        [82] = 0,
        0,
        0,
        0x3f, /* swing: 0.5 */
        [86 + 1 + 64] = 0,
        0,
        0xc0,
        0x3f,      /* range: 1.5 */
        [215] = 9, /* refused for their tag */
    };
    uint8_t buf[WIRE_MAX];
    struct wire_message m = wire_bench_message(WIRE_TELEMETRY);
    m.body.telemetry = (struct wire_telemetry){.rig_ns = 0x0102030405060708u,
                                               .last_intent_seq = 77,
                                               .stop_count = 3,
                                               .flags = WIRE_RIG_MOVING,
                                               .sources = 1 << WIRE_RANGE,
                                               .swing_rad = 0.5f,
                                               .range_m = 1.5f,
                                               .refused_tag = 9};
    cr_assert_eq(wire_bench_encode(&m, buf), WIRE_HEADER + sizeof expect + WIRE_TAG);
    cr_assert_eq(memcmp(buf + WIRE_HEADER, expect, sizeof expect), 0);
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
        struct wire_message m = wire_bench_message(type);
        size_t len = wire_bench_encode(&m, buf);
        for (size_t cut = 0; cut < WIRE_MAX; cut++)
            cr_assert(cut == len || refused_unchanged(buf, cut), "type %d cut to %zu", type, cut);
    }
}

Test(wire, every_flipped_bit_breaks_the_seal)
{
    static const uint8_t key[SEAL_KEY] = {3, 1, 4, 1, 5};
    for (int type = 1; type <= TYPES; type++) {
        uint8_t buf[WIRE_MAX];
        struct wire_message m = wire_bench_message(type);
        size_t len = wire_bench_encode(&m, buf);
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
        struct wire_message m = wire_bench_message(type), back;
        size_t len = wire_bench_encode(&m, buf);
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
        struct wire_message m = wire_bench_message(type);
        size_t len = wire_bench_encode(&m, buf);
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
    struct wire_message m = wire_bench_message(WIRE_INTENT);
    cr_assert_eq(wire_encode(&m, buf, documented[WIRE_INTENT] - 1), 0);
    for (int type = -1; type <= 300; type++) {
        m = wire_bench_message(WIRE_STOP);
        m.type = (enum wire_type)type;
        bool known = type == WIRE_CONFIRM || (type >= WIRE_INTENT && type <= WIRE_TELEMETRY);
        memset(&m.body, 0, sizeof m.body);
        cr_assert_eq(wire_bench_encode(&m, buf) > 0, known, "type %d", type);
    }
}

/* The same values planted in the bytes of a sound message. */
Test(wire, no_value_out_of_range_is_decoded)
{
    static const uint8_t nan64[] = {0, 0, 0, 0, 0, 0, 0xf8, 0x7f}, inf64[] = {0, 0, 0, 0, 0, 0, 0xf0, 0xff};
    uint8_t buf[WIRE_MAX];
    struct wire_message m = wire_bench_message(WIRE_INTENT);
    size_t len = wire_bench_encode(&m, buf), velocity = WIRE_HEADER + 27, cords = WIRE_HEADER + 51;
    for (size_t axis = 0; axis < 3; axis++) {
        len = wire_bench_encode(&m, buf);
        memcpy(buf + velocity + 8 * axis, nan64, 8);
        cr_assert(refused_unchanged(buf, len));
        memcpy(buf + velocity + 8 * axis, inf64, 8);
        cr_assert(refused_unchanged(buf, len));
    }
    len = wire_bench_encode(&m, buf);
    buf[cords] = 9;
    cr_assert(refused_unchanged(buf, len));
    buf[cords] = 2; /* leaves a third rate past the end */
    cr_assert(refused_unchanged(buf, len));
}
