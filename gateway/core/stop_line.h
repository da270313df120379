/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The line from a pressed stop to the rig and to the policy, without a lock and without waiting. The desk thread
 * presses, the tick thread takes; nobody else touches it.
 *
 * Counts. The rig moves only while an intent's permit equals the highest stop count it has heard. The policy owns that
 * count (struct stop) but a stop datagram must leave before the policy has run, so the desk thread chooses the count
 * S that it carries. Two things must hold, whatever the two threads and the network do:
 *
 *  (a) no intent that is not the fruit of a go given after the press can move a rig that has heard S;
 *  (b) after a reset and a go the permit equals the highest count the rig can have heard, or it would never move again.
 *
 * Why they do. Press: (1) raise `asked`; (2) read the published `count` c, lift `asked` to at least c; S = 1 + asked.
 * Tick: read the desk's events, then take `asked`, step, publish the new count, send the intent.
 *  (a) A tick that took `asked` after (1) latches and honours no event older than the press. At most one tick is
 *      already past its take. It can grant no permit above the count it began with, and the tick before had published
 *      that count *before* this take. All of this is sequentially consistent, and the take came before (1) in that one
 *      order, so (2), which comes after (1), reads at least that count: S >= 1 + c is above every such permit. (Its own
 *      latch may raise its count to S as well; its permit stays below.)
 *  (b) stop_step keeps count >= 1 + asked. An event put into the mailbox after the press is read by a tick that then
 *      takes at least the `asked` that S came from. So a go given after the press finds count >= S and permits just
 *      that; and every count ever sent in an intent is at most the policy's.
 * Category. Of several presses between two ticks the most severe one's is kept, beside the first one's reason. A press
 * that finds an older one already taken may still inherit its category; so does the stop that this one adds to.
 *
 * Events carry the `asked` they were pressed under; the tick drops those that are older than the newest press.
 *
 * tests/unit/core/test_stop_line.c walks every interleaving of these steps and checks both.
 */
#ifndef STEADYHAND_CORE_STOP_LINE_H
#define STEADYHAND_CORE_STOP_LINE_H

#include <stdatomic.h>
#include <stdint.h>

#include "policy/motion/stop.h"

struct stop_line {
    _Atomic uint64_t pressed; /* asked << 10 | category << 8 | reason, so that all are read at once; written by the desk
                                 thread */
    _Atomic uint64_t taken;   /* newest `asked` the tick has taken; written by the tick thread */
    _Atomic uint64_t count;   /* the policy's stop count; written by the tick thread */
};

void stop_line_init(struct stop_line *line, uint64_t count);

/* Desk thread: a stop was pressed. Returns the count S to send to the rig, at once. */
uint64_t stop_line_press(struct stop_line *line, enum reason why, enum stop_category category);

/* Desk thread: the presses so far, to stamp events with. */
uint64_t stop_line_asked(const struct stop_line *line);

/* Tick thread, after it has read the desk's events: fills asked, asked_why and asked_category. */
void stop_line_take(struct stop_line *line, struct stop_input *in);

/* Tick thread, after policy_step and before the intent leaves. */
void stop_line_publish(struct stop_line *line, uint64_t count);

/* The two halves of a press, apart only so that a test can run a tick between them. */
void stop_line_raise(struct stop_line *line, enum reason why, enum stop_category category);
uint64_t stop_line_settle(struct stop_line *line);

#endif
