/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where the cords can hold the camera, worked out once when a show begins: for those who move the rig (core) or look
 * ahead of it (check, survey), not for edges. It takes some tenths of a second and 4 MiB.
 */
#ifndef STEADYHAND_SHOW_SHOW_REACH_H
#define STEADYHAND_SHOW_SHOW_REACH_H

#include "gateway/show/show.h"
#include "policy/motion/reach.h"

/* Must outlive the show it was built for, and not move: the show's volume points into it. */
struct show_reach {
    struct reach reach;
    uint32_t *cell; /* owned; NULL: nothing was built */
};

/* Builds it for the stage and a little more, and hangs it into show->policy.guard.volume. A show that does not say what
 * its cords carry is good everywhere: nothing is built then. False, with a line on err, if there is no memory, or if
 * home is nearer to the edge than margin_m; `name` is the show file's. Free with show_reach_free() in any case. */
bool show_reach_build(struct show *show, const char *name, struct show_reach *out, FILE *err);
void show_reach_free(struct show *show, struct show_reach *reach);

/* The box around all places where the platform can be while body and boom are on the stage. */
struct shape_box show_reach_places(const struct show *show);

/* The room as the show itself flies in it, whatever a spotter may open later: its floor and ceiling, nothing yields;
 * the body turned in any way it may be. */
struct volume_now show_reach_now(const struct show *show);

/* Where on the stage the cords are nearest to a limit, and how much of it is out of reach. */
struct show_reach_survey {
    double stage_m3;     /* what of the stage the platform can be in, body and boom inside it */
    double reachable_m3; /* and what of that is in reach */
    struct vec3 worst;   /* of the reachable places looked at */
    double margin_n;     /* there */
    int cord;            /* whose */
    bool at_max;         /* which limit */
};

/* Looks at some ten thousand places, evenly spread. False if there is no reach. */
bool show_reach_look(const struct show *show, struct show_reach_survey *out);

#endif
