/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/stop.h"

#include <assert.h>

enum { MAY = 1, AT_REST = 2, POWERED = 4 }; /* what an event needs; without MAY it leads nowhere */

struct act {
    unsigned needs;
    enum stop_state to;
};

static const struct act acts[][STOP_EVENT_COUNT] = {
    [STOP_PARKED] = {[STOP_EVENT_ARM] = {MAY | AT_REST, STOP_ARMED}},
    [STOP_LATCHED] = {[STOP_EVENT_RESET] = {MAY | AT_REST, STOP_ARMED}}, /* or parked: see after_reset() */
    [STOP_ARMED] = {[STOP_EVENT_GO] = {MAY | POWERED, STOP_RUNNING},
                    [STOP_EVENT_HOLD] = {MAY, STOP_HOLDING},
                    [STOP_EVENT_PARK] = {MAY | AT_REST, STOP_PARKED}},
    [STOP_RUNNING] = {[STOP_EVENT_HOLD] = {MAY, STOP_HOLDING}},
    [STOP_HOLDING] = {[STOP_EVENT_GO] = {MAY | POWERED, STOP_RUNNING},
                      [STOP_EVENT_HOLD] = {MAY, STOP_HOLDING},
                      [STOP_EVENT_PARK] = {MAY | AT_REST, STOP_PARKED}},
};

static const char *const names[] = {
    [STOP_PARKED] = "parked",   [STOP_LATCHED] = "stopped", [STOP_ARMED] = "armed",
    [STOP_RUNNING] = "running", [STOP_HOLDING] = "holding",
};

static_assert(sizeof acts / sizeof *acts == STOP_STATE_COUNT, "every state has its row");
static_assert(sizeof names / sizeof *names == STOP_STATE_COUNT, "every state has its name");

void stop_init(struct stop *stop)
{
    *stop = (struct stop){.state = STOP_PARKED, .reason = REASON_STARTED_UP, .category = STOP_CATEGORY_2, .count = 1};
}

static enum reason known(enum reason r, enum reason otherwise)
{
    return r > REASON_NONE && r < REASON_COUNT ? r : otherwise;
}

static void raise_count(struct stop *stop)
{
    uint64_t asked = stop->asked;
    if (stop->count < UINT64_MAX)
        stop->count++;
    if (stop->count <= asked)
        stop->count = asked < UINT64_MAX ? asked + 1 : asked;
    if (stop->permit >= stop->count)
        stop->permit = stop->count - 1;
}

static void latch(struct stop *stop, enum reason why, enum stop_category category, bool valid)
{
    bool first = !valid || stop->state != STOP_LATCHED;
    if (first)
        stop->reason = why;
    if (!valid)
        category = STOP_CATEGORY_0;
    else if (stop->state == STOP_PARKED)
        category = stop_severer(category, STOP_CATEGORY_1);
    stop->category = first ? stop_severer(category, STOP_CATEGORY_2) : stop_severer(stop->category, category);
    stop->state = STOP_LATCHED;
    raise_count(stop);
}

static enum stop_state after_reset(const struct stop *stop, const struct stop_input *in)
{
    return stop->category == STOP_CATEGORY_2 && !in->unpowered ? STOP_ARMED : STOP_PARKED;
}

static void enter(struct stop *stop, enum stop_state to, const struct stop_input *in)
{
    if (to == STOP_HOLDING)
        raise_count(stop);
    if (to == STOP_HOLDING && stop->state != STOP_HOLDING)
        stop->reason = known(in->hold_why, REASON_HOLD_OPERATOR);
    else if (to != STOP_HOLDING)
        stop->reason = to == STOP_ARMED ? REASON_AWAIT_GO : to == STOP_PARKED ? REASON_PARKED : REASON_NONE;
    if (to == STOP_RUNNING)
        stop->permit = stop->count;
    stop->category = STOP_CATEGORY_2;
    stop->state = to;
}

static enum stop_answer act(struct stop *stop, const struct stop_input *in)
{
    if ((unsigned)in->event >= STOP_EVENT_COUNT || in->event == STOP_EVENT_NONE)
        return STOP_NOT_ASKED;
    const struct act *a = &acts[stop->state][in->event];
    if (!(a->needs & MAY))
        return STOP_OUT_OF_TURN;
    if ((a->needs & AT_REST) && in->moving)
        return STOP_MOVING;
    if ((a->needs & POWERED) && in->unpowered)
        return STOP_UNPOWERED;
    enter(stop, in->event == STOP_EVENT_RESET ? after_reset(stop, in) : a->to, in);
    return STOP_DONE;
}

enum stop_answer stop_step(struct stop *stop, const struct stop_input *in)
{
    bool valid = stop_valid(stop), pressed = in->asked > stop->asked;
    bool inhibited = in->inhibit != REASON_NONE || in->asserted || stop->count == UINT64_MAX || !valid;
    enum stop_category inhibit = inhibited ? stop_severer(in->inhibit_category, STOP_CATEGORY_2) : STOP_CATEGORY_2;
    enum stop_answer answer =
        (unsigned)in->event < STOP_EVENT_COUNT && in->event != STOP_EVENT_NONE ? STOP_FORBIDDEN : STOP_NOT_ASKED;
    if (pressed)
        stop->asked = in->asked;
    /* The one place where a stop is looked for: before the table, whatever the state and the event. */
    if (pressed)
        latch(stop, known(in->asked_why, REASON_STOP_OPERATOR), stop_severer(in->asked_category, inhibit), valid);
    else if (inhibited && (!valid || stop_is_armed(stop->state)))
        latch(stop, known(in->inhibit, in->asserted ? REASON_STOP_INPUT : REASON_RIG_FAULT), inhibit, valid);
    else if (!inhibited)
        answer = act(stop, in);
    if (stop->state == STOP_LATCHED)
        stop->category = in->unconfirmed ? STOP_CATEGORY_0 : stop_severer(stop->category, inhibit);
    return answer;
}

const char *stop_state_name(enum stop_state state)
{
    return (unsigned)state < STOP_STATE_COUNT ? names[state] : "unknown";
}

bool stop_valid(const struct stop *stop)
{
    if ((unsigned)stop->state >= STOP_STATE_COUNT || (unsigned)stop->reason >= REASON_COUNT ||
        (unsigned)stop->category > STOP_CATEGORY_2)
        return false;
    if (stop->count < 1 || stop->permit > stop->count)
        return false;
    if (stop->state != STOP_LATCHED && stop->category != STOP_CATEGORY_2)
        return false;
    if (stop->state == STOP_RUNNING)
        return stop->permit == stop->count && stop->reason == REASON_NONE;
    return stop->permit < stop->count && stop->reason != REASON_NONE;
}
