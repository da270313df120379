/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The present wish of every viewer, and the tally of them all, kept exact as each wish comes, changes, lapses or
 * leaves: at any time the tally equals a recount of the viewers. No I/O, no clock, no allocation: the server owns each
 * viewer's memory (zeroed before viewers_join) and passes time in. Every operation costs the same whatever the
 * audience.
 */
#ifndef STEADYHAND_EDGE_VIEWERS_H
#define STEADYHAND_EDGE_VIEWERS_H

#include <stdbool.h>
#include <stdint.h>

#include "policy/crowd/tally.h"

#define VIEWERS_STICK_LAPSE_NS 1500000000ULL /* a held stick not said again for so long is let go */

struct viewer {
    bool holds; /* a stick */
    uint8_t choice, bin[TALLY_AXES];
    uint32_t ballot;              /* it voted in; 0: none. Only the present one counts */
    uint64_t stick_ns;            /* when the stick was last said */
    struct viewer *older, *newer; /* the held sticks in the order last said */
};

struct viewers {
    uint32_t round;  /* that votes are for */
    uint32_t ballot; /* one a round seen: ids of rounds begin again when core does */
    struct tally tally;
    struct viewer *oldest, *newest;
};

void viewers_init(struct viewers *viewers);
void viewers_join(struct viewers *viewers, struct viewer *viewer);
/* Takes the viewer's vote and stick with it. */
void viewers_leave(struct viewers *viewers, struct viewer *viewer);

/* A vote in the present round; a later one moves the voice. */
void viewers_vote(struct viewers *viewers, struct viewer *viewer, enum choice choice);
/* Each axis -1..1. */
void viewers_stick(struct viewers *viewers, struct viewer *viewer, const double axis[TALLY_AXES], uint64_t now_ns);
void viewers_release(struct viewers *viewers, struct viewer *viewer);

/* A new round drops every vote; the same one again changes nothing. */
void viewers_set_round(struct viewers *viewers, uint32_t round);
void viewers_drop_votes(struct viewers *viewers);
/* Lets go the sticks not said again in time. */
void viewers_lapse(struct viewers *viewers, uint64_t now_ns);
/* Lets go every stick: nobody may hold one now. */
void viewers_drop_sticks(struct viewers *viewers);

#endif
