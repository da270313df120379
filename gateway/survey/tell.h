/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Figures of a survey in words, for drawings and table alike. */
#ifndef STEADYHAND_SURVEY_TELL_H
#define STEADYHAND_SURVEY_TELL_H

#include "gateway/survey/figures.h"

/* "0.41 m, the camera from "signal box"" */
void tell_clearance(char *text, size_t size, const struct site *site, const struct volume_clearance *c);

/* "4.1 N from the lower limit of cord 3 (3 N), at x 1.00, y 0.95, z 2.58 m" */
void tell_margin(char *text, size_t size, const struct site *site, const struct figures_tension *worst);

#endif
