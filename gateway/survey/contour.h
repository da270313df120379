/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where values on a grid are at or above a threshold: closed loops around it, by marching squares (Lorensen and
 * Cline's method in the plane; the saddle is decided by the mean of the four corners). Outside of the grid counts as
 * below, so every loop closes.
 */
#ifndef STEADYHAND_SURVEY_CONTOUR_H
#define STEADYHAND_SURVEY_CONTOUR_H

#include "gateway/survey/svg.h"

/* value[ix + iy columns] stands at (x + ix step, y + iy step). */
struct contour_grid {
    double x, y, step; /* step > 0 */
    int columns, rows; /* >= 1 */
    double *value;     /* finite, or infinite with either sign; NaN counts as below any threshold */
};

/* Gets each loop in turn, its points in the grid's own coordinates. Loops wind one way around what is above and the
 * other way around a hole in it. */
typedef void contour_take(void *context, const struct plan_point *point, int points);

/* False if out of memory. */
bool contour_trace(const struct contour_grid *grid, double threshold, contour_take *take, void *context);

#endif
