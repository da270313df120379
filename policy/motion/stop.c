/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/stop.h"

#include <assert.h>

static const enum stop_state next_state[][STOP_EVENT_COUNT] = {
    /*                none          reset         go           */
    [STOP_LATCHED] = {STOP_LATCHED, STOP_READY, STOP_LATCHED},
    [STOP_READY] = {STOP_READY, STOP_READY, STOP_RUNNING},
    [STOP_RUNNING] = {STOP_RUNNING, STOP_RUNNING, STOP_RUNNING},
};

static const char *const names[] = {
    [STOP_LATCHED] = "stopped",
    [STOP_READY] = "ready",
    [STOP_RUNNING] = "running",
};

static_assert(sizeof next_state / sizeof *next_state == STOP_STATE_COUNT, "every state has its row");
static_assert(sizeof names / sizeof *names == STOP_STATE_COUNT, "every state has its name");

void stop_init(struct stop *stop)
{
    *stop = (struct stop){.state = STOP_LATCHED, .reason = REASON_STARTED_UP, .count = 1};
}

static enum reason known(enum reason r, enum reason otherwise)
{
    return r > REASON_NONE && r < REASON_COUNT ? r : otherwise;
}

static void latch(struct stop *stop, enum reason why)
{
    uint64_t asked = stop->asked;
    if (stop->state != STOP_LATCHED)
        stop->reason = why;
    stop->state = STOP_LATCHED;
    if (stop->count < UINT64_MAX)
        stop->count++;
    if (stop->count <= asked)
        stop->count = asked < UINT64_MAX ? asked + 1 : asked;
}

static void enter(struct stop *stop, enum stop_state state)
{
    if (state == stop->state)
        return;
    stop->state = state;
    stop->reason = state == STOP_READY ? REASON_AWAIT_GO : REASON_NONE;
    if (state == STOP_RUNNING)
        stop->permit = stop->count;
}

void stop_step(struct stop *stop, const struct stop_input *in)
{
    bool pressed = in->asked > stop->asked;
    bool inhibited = in->inhibit != REASON_NONE || stop->count == UINT64_MAX || !stop_valid(stop);
    if (pressed)
        stop->asked = in->asked;
    /* The one place where a stop is looked for: before the table, whatever the state and the event. */
    if (pressed)
        latch(stop, known(in->asked_why, REASON_STOP_OPERATOR));
    else if (inhibited && stop->state != STOP_LATCHED)
        latch(stop, known(in->inhibit, REASON_RIG_FAULT));
    else if (!inhibited && (unsigned)in->event < STOP_EVENT_COUNT)
        enter(stop, next_state[stop->state][in->event]);
}

const char *stop_state_name(enum stop_state state)
{
    return (unsigned)state < STOP_STATE_COUNT ? names[state] : "unknown";
}

bool stop_valid(const struct stop *stop)
{
    if ((unsigned)stop->state >= STOP_STATE_COUNT || (unsigned)stop->reason >= REASON_COUNT)
        return false;
    if (stop->count < 1 || stop->permit > stop->count)
        return false;
    if (stop->state == STOP_RUNNING)
        return stop->permit == stop->count && stop->reason == REASON_NONE;
    return stop->permit < stop->count && stop->reason != REASON_NONE;
}
