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
    bool relay; /* viewers want what operators want, who let go of it again and again: lanes change under way */
    bool holds, open, fresh, absent, setup, spots;
    bool pressed_in; /* a wired stop control */
    uint64_t heard_ns, spotted_ns, asked;
    uint32_t limits_id;
    struct policy_limits_request limits; /* the newest */
    double head[HEAD_AXES];              /* what the operator wants of it */
    bool watched;                        /* somebody is below the camera: */
    struct vec3 subject, subject_goal;   /* on the floor */
    double subject_mps;                  /* how fast they go at the moment */
    enum stop_event next; /* what the operator will press next: somebody starts the show again, sooner or later */
};

void people_init(struct people *people, const struct scene *s, struct random *r);

/* Somebody walks or runs, to anywhere, or right to below the camera. */
void people_walk(struct people *people, const struct scene *s, struct vec3 camera, double dt_s, struct random *r);

/* Fills all of *in that people do. *pressed: somebody pressed stop in this tick. */
void people_act(struct people *people, const struct scene *s, uint64_t now_ns, struct random *r,
                struct policy_input *in, bool *pressed);

#endif
