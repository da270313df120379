/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/crowd/poll.h"

#include <math.h>

#include "policy/crowd/saturate.h"

#define SIGMA_MAX 0.5

bool poll_config_valid(const struct poll_config *cfg)
{
    return cfg->round_ns > 0 && cfg->sigma >= 0 && cfg->sigma <= SIGMA_MAX && cfg->quorum >= 1;
}

/* A sigma out of range counts as the greatest: the error is then on the side of staying. */
static uint64_t votes_needed(const struct poll_config *cfg, uint64_t cast)
{
    double sigma = cfg->sigma >= 0 && cfg->sigma <= SIGMA_MAX ? cfg->sigma : SIGMA_MAX;
    uint64_t millionths = (uint64_t)lround(sigma * 1e6);
    uint64_t majority = cast * (1000000 + millionths) / 2000000 + 1;
    return majority > cfg->quorum ? majority : cfg->quorum;
}

uint32_t poll_needed(const struct poll_config *cfg, uint32_t cast)
{
    return (uint32_t)votes_needed(cfg, cast);
}

enum choice poll_winner(const struct poll_config *cfg, const struct tally *tally)
{
    uint64_t needed = votes_needed(cfg, tally_cast(tally));
    for (int c = CHOICE_STAY + 1; c < CHOICE_COUNT; c++)
        if (tally->votes[c] >= needed)
            return (enum choice)c;
    return CHOICE_STAY;
}

void poll_init(struct poll *poll)
{
    *poll = (struct poll){.phase = POLL_OFF, .outcome = CHOICE_STAY};
}

static void open_round(const struct poll_config *cfg, struct poll *poll, uint64_t now_ns)
{
    poll->round = poll->round == UINT32_MAX ? 1 : poll->round + 1;
    poll->phase = POLL_OPEN;
    poll->phase_ends_ns = saturate_add64(now_ns, cfg->round_ns);
}

static void decide(const struct poll_config *cfg, struct poll *poll, const struct tally *round_tally)
{
    uint64_t cast = tally_cast(round_tally);
    poll->outcome = poll_winner(cfg, round_tally);
    poll->outcome_voices = cast > UINT32_MAX ? UINT32_MAX : (uint32_t)cast;
    poll->rounds_done++;
}

void poll_step(const struct poll_config *cfg, struct poll *poll, const struct tally *round_tally, bool running,
               uint64_t now_ns, struct poll_output *out)
{
    out->decided = false;
    if (!running) {
        poll->phase = POLL_OFF;
        return;
    }
    if (poll->phase == POLL_OFF) {
        open_round(cfg, poll, now_ns);
        return;
    }
    /* The grace runs from when the close is seen, not from when it was due: a late step shortens nobody's. */
    if (poll->phase == POLL_OPEN && now_ns >= poll->phase_ends_ns) {
        poll->phase = POLL_GRACE;
        poll->phase_ends_ns = saturate_add64(now_ns, cfg->grace_ns);
    }
    if (poll->phase == POLL_GRACE && now_ns >= poll->phase_ends_ns) {
        decide(cfg, poll, round_tally);
        out->decided = true;
        open_round(cfg, poll, now_ns);
    }
}
