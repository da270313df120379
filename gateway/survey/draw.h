/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The sheets of a survey. */
#ifndef STEADYHAND_SURVEY_DRAW_H
#define STEADYHAND_SURVEY_DRAW_H

#include "gateway/survey/fall.h"
#include "gateway/survey/figures.h"
#include "gateway/survey/sheet.h"

struct draw_input {
    const struct site *site;
    const struct figures *figures;
    const struct reach *reach; /* NULL: the show does not say what the cords may carry */
    const struct fall *fall;
};

/* Each writes one picture. False if it could not: out of memory, or `out` does not take it. */
bool draw_room(const struct draw_input *in, FILE *out);      /* the room and the rig at home */
bool draw_reach(const struct draw_input *in, FILE *out);     /* tension margin and reach, through home */
bool draw_levels(const struct draw_input *in, FILE *out);    /* the same at several heights */
bool draw_clearance(const struct draw_input *in, FILE *out); /* clearance of the rig at rest */
bool draw_fall(const struct draw_input *in, FILE *out);      /* where the camera can get when a cord parts */

#endif
