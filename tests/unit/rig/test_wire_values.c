/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What may be said on the wire and what may not. */
#include <criterion/criterion.h>
#include <math.h>
#include <stddef.h>
#include <string.h>

#include "tests/unit/rig/wire_bench.h"

#define NOT_ENCODED(base, change)                                                                                      \
    do {                                                                                                               \
        struct wire_message m = wire_bench_message(base);                                                              \
        change;                                                                                                        \
        cr_assert_eq(wire_bench_encode(&m, (uint8_t[WIRE_MAX]){0}), 0, #change);                                       \
    } while (0)

Test(wire_values, no_value_out_of_range_is_encoded)
{
    NOT_ENCODED(WIRE_INTENT, m.body.intent.motion = 2);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.power = 2);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.category = 3);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.power = 0);    /* no motion without power, */
    NOT_ENCODED(WIRE_INTENT, m.body.intent.category = 1); /* nor under a stop that takes it off */
    NOT_ENCODED(WIRE_STOP, m.body.stop.category = 3);
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
    NOT_ENCODED(WIRE_INTENT, m.body.intent.cord_tension[2] = NAN);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.cord_tension[3] = 1);
    NOT_ENCODED(WIRE_INTENT, m.body.intent.head_rate[3] = INFINITY);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.sources = 1 << WIRE_SOURCES);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.range_m = NAN);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.tilt_rad[0] = -INFINITY);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.yaw_rad = NAN);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.yaw_off_rad = -0.1f);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.head[2] = NAN);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.subject[1] = (double)NAN);
    NOT_ENCODED(WIRE_TELEMETRY, m.body.telemetry.subject_age_s = -1);
}

/* What a source says is nothing, bit for bit, where its bit is not set; with it, zero is a reading like any other. */
Test(wire_values, a_source_that_is_not_there_says_nothing)
{
    struct wire_telemetry silent = wire_bench_telemetry(), full = wire_bench_telemetry();
    uint8_t buf[WIRE_MAX];
    for (int source = 0; source < WIRE_SOURCES; source++) {
        struct wire_message m = wire_bench_message(WIRE_TELEMETRY), back;
        m.body.telemetry.sources &= (uint16_t) ~(1u << source);
        cr_assert_eq(wire_bench_encode(&m, buf), 0, "source %d", source);
        m.body.telemetry = (struct wire_telemetry){.sources = (uint16_t)(1u << source)};
        cr_assert(wire_decode(buf, wire_bench_encode(&m, buf), &back), "source %d", source);
        cr_assert_eq(back.body.telemetry.sources, 1u << source);
    }
    silent.sources = 0;
    full.sources = 0;
    memset((char *)&silent + offsetof(struct wire_telemetry, position), 0,
           offsetof(struct wire_telemetry, refused_tag) - offsetof(struct wire_telemetry, position));
    struct wire_message m = wire_bench_message(WIRE_TELEMETRY);
    m.body.telemetry = silent;
    cr_assert_eq(wire_bench_encode(&m, buf), 275);
    m.body.telemetry = full;
    cr_assert_eq(wire_bench_encode(&m, buf), 0);
}

#define SILENT(change)                                                                                                 \
    do {                                                                                                               \
        struct wire_message m = wire_bench_message(WIRE_TELEMETRY);                                                    \
        m.body.telemetry = (struct wire_telemetry){.sources = 0};                                                      \
        cr_assert_gt(wire_bench_encode(&m, (uint8_t[WIRE_MAX]){0}), 0);                                                \
        change;                                                                                                        \
        cr_assert_eq(wire_bench_encode(&m, (uint8_t[WIRE_MAX]){0}), 0, #change);                                       \
    } while (0)

Test(wire_values, every_field_of_a_silent_source_counts)
{
    SILENT(m.body.telemetry.position[2] = 1);
    SILENT(m.body.telemetry.velocity[0] = -0.0);
    SILENT(m.body.telemetry.uncertainty_m = 1);
    SILENT(m.body.telemetry.cords = 1);
    SILENT(m.body.telemetry.cord_length[0] = 1);
    SILENT(m.body.telemetry.cord_tension[7] = 1);
    SILENT(m.body.telemetry.range_m = -0.0f);
    SILENT(m.body.telemetry.tilt_rad[1] = 1);
    SILENT(m.body.telemetry.yaw_rad = 1);
    SILENT(m.body.telemetry.yaw_off_rad = 1);
    SILENT(m.body.telemetry.head[3] = 1);
    SILENT(m.body.telemetry.subject[2] = 1);
    SILENT(m.body.telemetry.subject_age_s = 1);
}

Test(wire_values, cords_may_have_lengths_alone_or_tensions_alone)
{
    struct wire_message m = wire_bench_message(WIRE_TELEMETRY);
    m.body.telemetry = (struct wire_telemetry){.sources = 1 << WIRE_TENSION, .cords = 2, .cord_tension = {1, 2}};
    cr_assert_gt(wire_bench_encode(&m, (uint8_t[WIRE_MAX]){0}), 0);
    m.body.telemetry.cord_length[0] = 1;
    cr_assert_eq(wire_bench_encode(&m, (uint8_t[WIRE_MAX]){0}), 0);
    m.body.telemetry = (struct wire_telemetry){.sources = 1 << WIRE_LENGTH, .cords = 2, .cord_length = {1, 2}};
    cr_assert_gt(wire_bench_encode(&m, (uint8_t[WIRE_MAX]){0}), 0);
    m.body.telemetry.cord_tension[1] = 1;
    cr_assert_eq(wire_bench_encode(&m, (uint8_t[WIRE_MAX]){0}), 0);
    for (unsigned source = WIRE_LENGTH; source <= WIRE_TENSION; source++) {
        m.body.telemetry = (struct wire_telemetry){.sources = (uint16_t)(1u << source), .cords = WIRE_MAX_CORDS + 1};
        cr_assert_eq(wire_bench_encode(&m, (uint8_t[WIRE_MAX]){0}), 0);
    }
}
