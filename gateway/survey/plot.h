/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What is drawn alike in every view of a room: the stage, zones, anchors, and the rig at home. */
#ifndef STEADYHAND_SURVEY_PLOT_H
#define STEADYHAND_SURVEY_PLOT_H

#include "gateway/survey/pane.h"
#include "gateway/survey/site.h"

/* The ground line of an elevation, at z = 0. */
void plot_floor(struct svg *svg, const struct pane *pane);
void plot_stage(struct svg *svg, const struct pane *pane, const struct site *site);
/* In elevation: floor and ceiling of a show, where they are not the stage's own. */
void plot_heights(struct svg *svg, const struct pane *pane, const struct site *site);
/* With their hatching and padding, or as outlines over something else. Each with its label. */
void plot_zones(struct svg *svg, const struct pane *pane, const struct site *site, bool filled);
/* Cords, boom, body and tether, hanging at home. */
void plot_rig(struct svg *svg, const struct pane *pane, const struct site *site);
void plot_anchors(struct svg *svg, const struct pane *pane, const struct site *site);
/* A cross with a label beside it. */
void plot_mark(struct svg *svg, const struct pane *pane, struct vec3 at, const char *label);

#endif
