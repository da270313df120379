/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The verb `survey`: draws a show's room, reach, clearance and failure footprint, for whoever rigs it. */
#ifndef STEADYHAND_SURVEY_SURVEY_H
#define STEADYHAND_SURVEY_SURVEY_H

#include "gateway/show/show.h"

/*
 * Writes FOLDER/NAME-room.svg and so on, each whole or not at all, and the table to `out`. Exit status: 0 done, 1
 * something could not be worked out or written, 2 there is no such folder. What went wrong is told on stderr.
 */
int survey_write(const struct show *show, const char *folder, const char *name, FILE *out);

#endif
