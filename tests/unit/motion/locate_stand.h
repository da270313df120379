/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A platform that hangs still and reports perfectly, for tests that then make one thing wrong. */
#ifndef STEADYHAND_TESTS_LOCATE_STAND_H
#define STEADYHAND_TESTS_LOCATE_STAND_H

#include <criterion/criterion.h>

#include "locate_bench.h"

#define BIT(s)   (1u << (s))
#define FAULT(f) (1u << (f))

static const struct vec3 still = {0, 0, 0};

/* A platform at rest at `p`; perfect pose and lengths. */
struct stand {
    struct locate_config cfg;
    struct locate locate;
    struct locate_output out;
    struct locate_report r;
    struct vec3 p;
    uint64_t now;
};

static inline void stand_init(struct stand *s, unsigned sources)
{
    struct bench_mix mix = {.cords = 4};
    *s = (struct stand){.cfg = bench_config(&mix, 0.01), .p = {4, 3, 1.5}, .now = 5000000000};
    s->r.sources = sources;
    for (int i = 0; i < LOCATE_SOURCES; i++)
        s->r.quality[i].sigma = i == LOCATE_TENSION ? 0.05 : 0.003;
    locate_init(&s->locate);
}

/* One tick with a fresh report; a little of the last bits changes, as in any living sensor. */
static inline void hear(struct stand *s, struct vec3 commanded)
{
    s->now += 10000000;
    s->r.received_ns = s->now;
    s->r.seq++;
    double alive = (double)(s->r.seq % 7) * 1e-9;
    if (s->r.sources & BIT(LOCATE_POSE) && isfinite(s->r.position.x))
        s->r.position = (struct vec3){s->p.x + alive, s->p.y, s->p.z};
    for (int i = 0; i < s->cfg.cords; i++)
        if (isfinite(s->r.length_m[i]))
            s->r.length_m[i] = vec_norm(vec_sub(s->cfg.anchor[i], s->p)) + alive;
    locate_step(&s->cfg, &s->locate, s->now, &s->r, commanded, &s->out);
}

static inline void settle(struct stand *s, int ticks)
{
    for (int k = 0; k < ticks; k++)
        hear(s, still);
}

static inline const struct locate_detail *only(const struct stand *s, enum locate_fault fault)
{
    cr_assert(s->out.hold);
    cr_assert_eq(s->out.faults, FAULT(fault), "%x, not %s", s->out.faults, locate_fault_code(fault));
    cr_assert_eq(s->out.fault, fault);
    return &s->out.detail[fault];
}

#endif
