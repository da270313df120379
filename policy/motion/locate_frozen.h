/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Readings that stay the same, to the last bit, while the platform has been told to move. Noise changes the last bits
 * of any living sensor; one without noise changes by its resolution. What counts is how far the commands would have
 * taken the platform by now (as the crow flies, so jogging to and fro adds up to nothing), for the range how far up or
 * down. Only what lies between two reports counts: silence is something else.
 */
#ifndef STEADYHAND_MOTION_LOCATE_FROZEN_H
#define STEADYHAND_MOTION_LOCATE_FROZEN_H

#include "policy/motion/locate_types.h"

struct locate_frozen {
    struct locate_report last;
    struct vec3 since; /* commanded since the last report [m] */
    double since_s;
    struct vec3 way[LOCATE_TILT]; /* commanded between the reports in which a source has stayed the same [m] */
    double same_s[LOCATE_TILT];
};

/* elapsed_s >= 0; commanded is finite. */
void locate_frozen_pass(struct locate_frozen *frozen, double elapsed_s, struct vec3 commanded);

/* A fresh report: what changed in it is alive. */
void locate_frozen_hear(const struct locate_config *cfg, struct locate_frozen *frozen,
                        const struct locate_report *report);

/* How far one source's readings may be behind by now [m]. */
double locate_frozen_way(const struct locate_frozen *frozen, enum locate_source source);

/* The first source in the last report that is frozen; LOCATE_SOURCES if none. */
enum locate_source locate_frozen_source(const struct locate_config *cfg, const struct locate_frozen *frozen);

#endif
