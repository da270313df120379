/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A show as a survey sees it: solids with names and short labels, what hangs and on what, and the room around it all.
 */
#ifndef STEADYHAND_SURVEY_SITE_H
#define STEADYHAND_SURVEY_SITE_H

#include "gateway/show/show.h"
#include "policy/motion/tension.h"

enum { SITE_MAX_ZONES = 128, SITE_LABEL = 8 };

enum site_kind { SITE_KEEP_OUT, SITE_KEEP_OUT_YIELDS, SITE_SLOW, SITE_NO_VIEW };

struct site_zone {
    enum site_kind kind;
    char label[SITE_LABEL]; /* K1, S1, V1 */
    const char *name;
    struct shape shape;
    double padding_m, speed_mps;
};

struct site {
    const char *name;
    int stages;
    struct shape_prism stage[VOLUME_MAX_STAGES];
    int zones;
    struct site_zone zone[SITE_MAX_ZONES];
    struct volume room;    /* as the policy sees it, reach left out */
    struct volume bare;    /* the stage alone */
    struct volume_now now; /* any yaw, nobody there, nothing yields */
    struct vec3 home;
    double speed_mps;               /* the fastest that any lane may go */
    double low_m, high_m;           /* floor and ceiling of a show without a spotter's hold; infinite: the stage's */
    const struct show_cords *cords; /* given false: no tension is looked at */
    struct shape_box stage_box;     /* around all prisms */
    struct shape_box box;           /* around all that is drawn, the floor included */
};

/* The show must outlive the site. */
void site_from_show(struct site *site, const struct show *show);

/* Depth of a point in the stage, in plan or in space: > 0 inside, else minus the distance to it. */
double site_stage_depth(const struct site *site, struct vec3 p);
double site_stage_depth_in_plan(const struct site *site, double x, double y);

/* Does the camera, boom and body, fit in the stage with the platform here, no further out than `slack`? */
bool site_fits(const struct site *site, struct vec3 platform, double slack);

/* Least and greatest z of a solid; infinite for a half-space. */
void site_heights(const struct shape *shape, double *lo, double *hi);

#endif
