/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/stop_line.h"

enum { WHY_BITS = 8, WHY_MASK = 255 };

_Static_assert((int)REASON_COUNT <= (int)WHY_MASK, "a reason fits beside the count");

/* Plain atomic loads and stores are sequentially consistent; the proof in the header needs that. */

void stop_line_init(struct stop_line *line, uint64_t count)
{
    atomic_init(&line->pressed, 0);
    atomic_init(&line->taken, 0);
    atomic_init(&line->count, count);
}

uint64_t stop_line_asked(const struct stop_line *line)
{
    return atomic_load(&line->pressed) >> WHY_BITS;
}

/* Of several presses between two ticks the first one's reason is kept. */
void stop_line_raise(struct stop_line *line, enum reason why)
{
    uint64_t old = atomic_load(&line->pressed), asked = old >> WHY_BITS;
    uint64_t first = atomic_load(&line->taken) < asked ? old & WHY_MASK : (uint64_t)why & WHY_MASK;
    atomic_store(&line->pressed, (asked + 1) << WHY_BITS | first);
}

uint64_t stop_line_settle(struct stop_line *line)
{
    uint64_t old = atomic_load(&line->pressed), asked = old >> WHY_BITS, count = atomic_load(&line->count);
    if (count > asked) {
        asked = count;
        atomic_store(&line->pressed, asked << WHY_BITS | (old & WHY_MASK));
    }
    return asked + 1;
}

uint64_t stop_line_press(struct stop_line *line, enum reason why)
{
    stop_line_raise(line, why);
    return stop_line_settle(line);
}

void stop_line_take(struct stop_line *line, struct stop_input *in)
{
    uint64_t pressed = atomic_load(&line->pressed);
    in->asked = pressed >> WHY_BITS;
    in->asked_why = (enum reason)(pressed & WHY_MASK);
    atomic_store(&line->taken, in->asked);
}

void stop_line_publish(struct stop_line *line, uint64_t count)
{
    atomic_store(&line->count, count);
}
