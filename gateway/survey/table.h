/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A survey in a few lines of text. */
#ifndef STEADYHAND_SURVEY_TABLE_H
#define STEADYHAND_SURVEY_TABLE_H

#include "gateway/survey/draw.h"

void table_print(const struct draw_input *in, FILE *out);

#endif
