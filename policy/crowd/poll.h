/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Poll: the crowd votes in rounds for one step, or to stay.
 *
 * Rule: a candidate other than stay wins if it holds strictly more than 1/2 + sigma/2 of the votes cast, sigma being
 * the suspected share of false voices (Shahaf, Shapiro, Talmon, arXiv:1807.11105); otherwise the camera stays. At most
 * one candidate can hold such a majority, so no tie rule is needed. The winner must also hold at least `quorum` votes
 * itself: a quorum of votes cast would let one more vote for staying bring about the move. Cost: O(candidates) a round,
 * whatever the audience.
 */
#ifndef STEADYHAND_CROWD_POLL_H
#define STEADYHAND_CROWD_POLL_H

#include <stdbool.h>

#include "policy/crowd/tally.h"

struct poll_config {
    uint64_t round_ns; /* voting time, > 0 */
    uint64_t grace_ns; /* after it closes, for snapshots under way */
    double sigma;      /* 0 .. 0.5; taken to the nearest millionth, so that the rule is exact whole-number arithmetic */
    uint32_t quorum;   /* >= 1: votes a change needs at the least */
};

enum poll_phase { POLL_OFF, POLL_OPEN, POLL_GRACE };

struct poll {
    enum poll_phase phase;
    uint32_t round; /* id of the present round; grows by one each, never 0 once a round was opened. After poll_init the
                       caller may set any start, so that a restarted core does not use an id twice. */
    uint64_t phase_ends_ns;
    uint32_t rounds_done;
    enum choice outcome;     /* of the last round that was decided (STAY before any) */
    uint32_t outcome_voices; /* votes cast in it */
};

struct poll_output {
    bool decided; /* a round ended in this step; its outcome is in poll->outcome */
};

void poll_init(struct poll *poll);

/* One step. `running` false: an open round is dropped without outcome (a stopped rig takes no votes). `round_tally`
 * holds only voices for poll->round. Opens the next round at once when one has been decided. */
void poll_step(const struct poll_config *cfg, struct poll *poll, const struct tally *round_tally, bool running,
               uint64_t now_ns, struct poll_output *out);

/* The rule alone: who wins these votes. */
enum choice poll_winner(const struct poll_config *cfg, const struct tally *tally);

/* Votes a change needs when `cast` are cast: the least whole number above cast (1/2 + sigma/2), not below quorum. */
uint32_t poll_needed(const struct poll_config *cfg, uint32_t cast);

bool poll_config_valid(const struct poll_config *cfg);

#endif
