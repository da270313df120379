/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the rig's tests share: a show built by hand (the demo's room), and a hand-made core that speaks the wire without
 * link.c, so that a mistake in one end cannot hide in the other. */
#ifndef STEADYHAND_TESTS_RIG_BENCH_H
#define STEADYHAND_TESTS_RIG_BENCH_H

#include "gateway/rig/sim_rig.h"

#define MS     ((uint64_t)1000000)
#define SECOND ((uint64_t)1000000000)

extern const uint8_t rig_bench_master[SEAL_KEY];

/* A box as a keep-out has it, made without the policy's code. */
static inline struct shape rig_bench_box(struct shape_box box)
{
    struct vec3 centre = vec_scale(vec_add(box.lo, box.hi), 0.5), half = vec_scale(vec_sub(box.hi, box.lo), 0.5);
    return (struct shape){SHAPE_BOX, .as.block = {centre, half, {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}};
}

void rig_bench_show(struct show *show);

/* A rig of that show in virtual time, its clock at 1 s; allocated, asserts success. Free with free(). */
struct sim_rig *rig_bench_rig(const struct show *show);

/* The other end, with its own idea of session and sequence. */
struct rig_core {
    struct seal_keys keys;
    uint64_t session, seq;
    struct wire_telemetry last; /* newest telemetry heard */
    uint64_t heard;             /* how many */
};

void rig_core_init(struct rig_core *core);

/* Encodes and seals for the rig. */
size_t rig_core_seal(const struct rig_core *core, const struct wire_message *m, uint8_t *buf);

/* Under power; a stop of category 2. */
struct wire_message rig_core_intent(struct rig_core *core, bool motion, struct vec3 velocity, uint64_t count,
                                    uint64_t permit, uint64_t expires_ns);
struct wire_message rig_core_stop(struct rig_core *core, uint64_t count);

/* To the rig, now. */
void rig_core_send(struct rig_core *core, struct sim_rig *rig, const struct wire_message *m);

/* Runs the rig for a while in 1 ms steps, answering its challenge and hearing its telemetry. */
void rig_core_run(struct rig_core *core, struct sim_rig *rig, double seconds);

/* Hello, challenge, confirm, and intents without motion: first without power, then with. */
void rig_core_connect(struct rig_core *core, struct sim_rig *rig);

/* Commands a velocity with fresh intents, 100 a second, each with this lease. */
void rig_core_drive(struct rig_core *core, struct sim_rig *rig, struct vec3 velocity, uint64_t permit, double seconds,
                    uint64_t lease_ns);

#endif
