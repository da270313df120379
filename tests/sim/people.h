/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Everybody who may press something: viewers, operators, spotters; well-meaning, absent, or hostile. */
#ifndef STEADYHAND_SIM_PEOPLE_H
#define STEADYHAND_SIM_PEOPLE_H

#include "tests/sim/scene.h"

/* One lane's present mood, kept for a while so that the camera really gets somewhere. */
struct people_driver {
    int ticks_left, mood;
    struct vec3 way;
    double turn; /* rad a tick */
    uint32_t nudge_id;
};

struct people {
    struct people_driver viewers, operators;
    bool holds, open, fresh, absent;
    uint64_t heard_ns, asked;
    enum stop_event next; /* what the operator will press next: somebody starts the show again, sooner or later */
};

void people_init(struct people *people);

/* Fills stop, lanes and presence of *in. *pressed: somebody pressed stop in this tick. */
void people_act(struct people *people, const struct scene *s, uint64_t now_ns, struct random *r,
                struct policy_input *in, bool *pressed);

#endif
