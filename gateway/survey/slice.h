/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A section through the room: something worked out for places of the platform on a plane, and drawn as bands. */
#ifndef STEADYHAND_SURVEY_SLICE_H
#define STEADYHAND_SURVEY_SLICE_H

#include "gateway/survey/contour.h"
#include "gateway/survey/pane.h"
#include "gateway/survey/site.h"

enum { SLICE_BANDS = 4 };

/* From worst to best: below limit[0], below limit[1], below limit[2], and the rest. */
struct slice_bands {
    double limit[SLICE_BANDS - 1];
    const char *unit;
};

/* Something worked out for a place of the platform. */
typedef double slice_value(const void *context, struct vec3 platform);

struct slice {
    enum drawable_view view;
    double depth; /* of the section: z in plan, y in front, x in side */
};

/* Bands of the value over the places where the camera fits into the stage. False if out of memory. id: unique in the
 * picture. */
bool slice_draw(struct svg *svg, const struct pane *pane, const struct site *site, const struct slice *slice,
                const struct slice_bands *bands, slice_value *value, const void *context, const char *id);

/* Over that, of the same places, hatching where the value is < 0 and a line around it. */
bool slice_hatch(struct svg *svg, const struct pane *pane, const struct site *site, const struct slice *slice,
                 slice_value *value, const void *context, const char *id);

/* Where a grid's values are at or above a threshold. False if out of memory. */
bool slice_region(struct svg *svg, const struct pane *pane, const struct contour_grid *grid, double threshold,
                  const char *class);

#endif
