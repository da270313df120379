/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A recording of how the body swings freely after a step of the rig: text, one sample a line,
 *
 *   t_s,tilt_x_deg,tilt_y_deg
 *   0.00,3.1,0.2
 *   0.01,3.0,0.2
 *
 * evenly spaced in time. Read strictly: the first line that is not as it should be is told, and nothing is kept.
 */
#ifndef STEADYHAND_SURVEY_SWING_RECORD_H
#define STEADYHAND_SURVEY_SWING_RECORD_H

#include <stdio.h>

#include "policy/motion/swing_decay.h"

/* The samples are the caller's to free, with swing_record_free(). */
struct swing_record {
    struct swing_tilt *tilt;
    int count;
    double dt_s;
};

/* `name` stands for the file in errors, which go to `err` as NAME:LINE: expected what, found what. False on any. */
bool swing_record_read(FILE *in, const char *name, struct swing_record *record, FILE *err);
void swing_record_free(struct swing_record *record);

#endif
