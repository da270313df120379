/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/stop_line.h"

enum { CATEGORY_SHIFT = 8, CATEGORY_MASK = 3, WHY_MASK = 255, HOW_BITS = 10, HOW_MASK = 1023 };

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
    return atomic_load(&line->pressed) >> HOW_BITS;
}

static enum stop_category category_of(uint64_t pressed)
{
    return (enum stop_category)(pressed >> CATEGORY_SHIFT & CATEGORY_MASK);
}

/* Of several presses between two ticks the first one's reason is kept, and the most severe category. */
void stop_line_raise(struct stop_line *line, enum reason why, enum stop_category category)
{
    uint64_t old = atomic_load(&line->pressed), asked = old >> HOW_BITS;
    bool waits = atomic_load(&line->taken) < asked;
    uint64_t first = (waits ? old : (uint64_t)why) & WHY_MASK;
    uint64_t worst = (uint64_t)stop_severer(category, waits ? category_of(old) : STOP_CATEGORY_2);
    atomic_store(&line->pressed, (asked + 1) << HOW_BITS | worst << CATEGORY_SHIFT | first);
}

uint64_t stop_line_settle(struct stop_line *line)
{
    uint64_t old = atomic_load(&line->pressed), asked = old >> HOW_BITS, count = atomic_load(&line->count);
    if (count > asked) {
        asked = count;
        atomic_store(&line->pressed, asked << HOW_BITS | (old & HOW_MASK));
    }
    return asked + 1;
}

uint64_t stop_line_press(struct stop_line *line, enum reason why, enum stop_category category)
{
    stop_line_raise(line, why, category);
    return stop_line_settle(line);
}

void stop_line_take(struct stop_line *line, struct stop_input *in)
{
    uint64_t pressed = atomic_load(&line->pressed);
    in->asked = pressed >> HOW_BITS;
    in->asked_why = (enum reason)(pressed & WHY_MASK);
    in->asked_category = category_of(pressed);
    atomic_store(&line->taken, in->asked);
}

void stop_line_publish(struct stop_line *line, uint64_t count)
{
    atomic_store(&line->count, count);
}
