/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What is printed wherever a plan for a suspended load is. */
#ifndef STEADYHAND_SURVEY_CAUTION_H
#define STEADYHAND_SURVEY_CAUTION_H

enum { CAUTION_COUNT = 7 };

extern const char caution_short[];
extern const char *const caution_text[CAUTION_COUNT];

#endif
