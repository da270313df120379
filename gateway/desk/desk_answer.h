/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The words for an arm, reset, go or park that did nothing: what is in its way, and what to do first. */
#ifndef STEADYHAND_DESK_DESK_ANSWER_H
#define STEADYHAND_DESK_DESK_ANSWER_H

#include "policy/motion/stop.h"

struct desk_answer {
    const char *code, *text; /* static; the code is stable */
};

/* state: after it; reason: what forbids it, or else why it was stopped. */
struct desk_answer desk_answer_of(enum stop_event what, enum stop_answer answer, enum stop_state state,
                                  enum reason reason);

#endif
