/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/crowd/crowd.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

/* The way each choice steps, in the room frame. */
static const double direction[CHOICE_COUNT][3] = {
    [CHOICE_TRUCK_LEFT] = {-1, 0, 0}, [CHOICE_TRUCK_RIGHT] = {1, 0, 0},    [CHOICE_DOLLY_OUT] = {0, -1, 0},
    [CHOICE_DOLLY_IN] = {0, 1, 0},    [CHOICE_PEDESTAL_DOWN] = {0, 0, -1}, [CHOICE_PEDESTAL_UP] = {0, 0, 1},
};

static const struct tally nobody;

bool crowd_config_valid(const struct crowd_config *cfg)
{
    return poll_config_valid(&cfg->poll) && isfinite(cfg->step_m) && cfg->step_m > 0 && cfg->blend_quorum >= 1;
}

const char *crowd_mode_name(enum crowd_mode mode)
{
    static const char *const name[] = {"closed", "poll", "blend"};
    _Static_assert(sizeof name / sizeof *name == CROWD_MODE_COUNT, "one word a mode");
    return (unsigned)mode < CROWD_MODE_COUNT ? name[mode] : NULL;
}

void crowd_init(struct crowd *crowd)
{
    *crowd = (struct crowd){.mode = CROWD_CLOSED};
    poll_init(&crowd->poll);
}

/* Takes up the outcome of a round that has just been decided. */
static void take_outcome(const struct crowd_config *cfg, struct crowd *crowd)
{
    enum choice outcome = crowd->poll.outcome;
    crowd->nudging = outcome != CHOICE_STAY;
    if (!crowd->nudging)
        return;
    crowd->nudge_id = crowd->nudge_id == UINT32_MAX ? 1 : crowd->nudge_id + 1;
    for (int i = 0; i < 3; i++)
        crowd->nudge[i] = direction[outcome][i] * cfg->step_m;
}

static void step_poll(const struct crowd_config *cfg, struct crowd *crowd, const struct crowd_input *in,
                      struct crowd_output *out)
{
    const struct tally *votes = in->fresh && in->round == crowd->poll.round ? &in->tally : &nobody;
    struct poll_output polled;
    poll_step(&cfg->poll, &crowd->poll, votes, in->running, in->now_ns, &polled);
    out->round_decided = polled.decided;
    if (polled.decided)
        take_outcome(cfg, crowd);
    if (!in->running || !in->fresh)
        crowd->nudging = false;
    if (!crowd->nudging)
        return;
    out->kind = CROWD_WISH_NUDGE;
    out->nudge_id = crowd->nudge_id;
    memcpy(out->v, crowd->nudge, sizeof out->v);
}

static void step_blend(const struct crowd_config *cfg, const struct crowd_input *in, struct crowd_output *out)
{
    if (!in->running || !in->fresh || in->tally.sticks < cfg->blend_quorum)
        return;
    out->kind = CROWD_WISH_STICK;
    blend_median(&in->tally, cfg->blend_quorum, out->v);
}

/* Whatever was open in another mode ends: its round undecided, its step no longer wished. */
static void drop_poll(const struct crowd_config *cfg, struct crowd *crowd, uint64_t now_ns)
{
    struct poll_output ignored;
    poll_step(&cfg->poll, &crowd->poll, &nobody, false, now_ns, &ignored);
    crowd->nudging = false;
}

void crowd_step(const struct crowd_config *cfg, struct crowd *crowd, const struct crowd_input *in,
                struct crowd_output *out)
{
    *out = (struct crowd_output){.kind = CROWD_WISH_NONE};
    if (in->mode != crowd->mode || in->mode != CROWD_POLL)
        drop_poll(cfg, crowd, in->now_ns);
    crowd->mode = (unsigned)in->mode < CROWD_MODE_COUNT ? in->mode : CROWD_CLOSED;
    if (crowd->mode == CROWD_POLL)
        step_poll(cfg, crowd, in, out);
    else if (crowd->mode == CROWD_BLEND)
        step_blend(cfg, in, out);
}
