/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the sheets about tension and reach have in common. */
#ifndef STEADYHAND_SURVEY_DRAW_REACH_H
#define STEADYHAND_SURVEY_DRAW_REACH_H

#include "gateway/survey/draw.h"

/* Bands of tension margin and the edge of reach at this depth of the view, with stage and zones. False if out of
 * memory. in->reach must not be NULL. */
bool draw_reach_section(struct sheet *sheet, const struct draw_input *in, const struct pane *pane, double at);

void draw_reach_legend(struct sheet *sheet, const struct draw_input *in);

/* A show may be silent about its cords; then a sheet says so rather than to be missing. Ends the sheet. */
bool draw_reach_unknown(struct sheet *sheet, FILE *out);

#endif
