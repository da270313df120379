/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the codec's tests share: one message of each type in which every field says something. */
#ifndef STEADYHAND_TESTS_WIRE_BENCH_H
#define STEADYHAND_TESTS_WIRE_BENCH_H

#include "gateway/rig/wire.h"

struct wire_telemetry wire_bench_telemetry(void); /* every source is there */
struct wire_message wire_bench_message(int type);

/* Over bytes that are not zero. */
size_t wire_bench_encode(const struct wire_message *m, uint8_t buf[WIRE_MAX]);

#endif
