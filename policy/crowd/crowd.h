/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The crowd's one voice: the way of combining that is in force, applied to the merged tally. The interface every way of
 * combining sits behind; knows nothing of motion. Pure: no clock, no I/O, no allocation.
 */
#ifndef STEADYHAND_CROWD_CROWD_H
#define STEADYHAND_CROWD_CROWD_H

#include "policy/crowd/blend.h"
#include "policy/crowd/poll.h"

enum crowd_mode { CROWD_CLOSED, CROWD_POLL, CROWD_BLEND, CROWD_MODE_COUNT };

struct crowd_config {
    struct poll_config poll;
    double step_m;         /* > 0: length of one step of a poll */
    uint32_t blend_quorum; /* >= 1 */
};

struct crowd {
    enum crowd_mode mode;
    struct poll poll;
    uint32_t nudge_id; /* grows with every decided round that asks for a step; 0 = none yet */
    bool nudging;      /* that step is still wished: ended by a round that stays, a stop, silence or a new mode */
    double nudge[3];   /* metres */
};

struct crowd_input {
    enum crowd_mode mode; /* set at the desk; a change drops the open round */
    bool fresh;           /* the tally is younger than its lease */
    bool running;         /* motion is allowed */
    uint32_t round;       /* the round the tally's votes are for; votes for any other but the open one do not count */
    struct tally tally;   /* merged over all edges */
    uint64_t now_ns;
};

enum crowd_wish_kind { CROWD_WISH_NONE, CROWD_WISH_STICK, CROWD_WISH_NUDGE };

struct crowd_output {
    enum crowd_wish_kind kind;
    uint32_t nudge_id;
    double v[3]; /* stick -1..1, or nudge in metres */
    bool round_decided;
};

void crowd_init(struct crowd *crowd);

/* One step. A wish is there only while motion is allowed and the tally is fresh: silence is no wish. */
void crowd_step(const struct crowd_config *cfg, struct crowd *crowd, const struct crowd_input *in,
                struct crowd_output *out);
bool crowd_config_valid(const struct crowd_config *cfg);

/* "closed", "poll", "blend" */
const char *crowd_mode_name(enum crowd_mode mode);

#endif
