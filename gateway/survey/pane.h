/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * One view of the room on a sheet: where world metres come to lie on it, the grid and the axes.
 *
 * Views are those of drawable.h.
 */
#ifndef STEADYHAND_SURVEY_PANE_H
#define STEADYHAND_SURVEY_PANE_H

#include "gateway/show/drawable.h"
#include "gateway/survey/svg.h"

struct pane {
    enum drawable_view view;
    struct shape_box world; /* what it shows */
    double x, y;            /* of its upper left corner, units of the sheet */
    double scale;           /* units a metre */
};

/* What is across and what is up in a view. */
double pane_across(enum drawable_view view, struct vec3 p);
double pane_up(enum drawable_view view, struct vec3 p);
/* A point of the view's plane in the room, at a given depth. */
struct vec3 pane_world(enum drawable_view view, double across, double up, double depth);

double pane_width(const struct pane *pane);
double pane_height(const struct pane *pane);
struct plan_point pane_point(const struct pane *pane, struct vec3 p);
struct plan_point pane_at(const struct pane *pane, double across, double up);

/* Grid lines, numbers and axis titles [m] left and below, and a scale bar. */
void pane_grid(struct svg *svg, const struct pane *pane);
/* The frame, on top of what is in it. */
void pane_frame(struct svg *svg, const struct pane *pane);

enum { PANE_LEFT = 62, PANE_BELOW = 58 }; /* room that numbers and titles take */

/* The smallest of 1, 2, 5, 10, ... (also 0.1, 0.2, 0.5) that divides `length` into at most `parts`. */
double pane_step(double length, int parts);

#endif
