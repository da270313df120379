/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What somebody probably meant by a key that the show file does not have. */
#ifndef STEADYHAND_SHOW_NEAR_H
#define STEADYHAND_SHOW_NEAR_H

#include <stdbool.h>
#include <stddef.h>

/* Edits (insert, delete, replace, swap of neighbours; Damerau 1964) that turn one word into the other, at most `limit`
 * + 1. */
int near_edits(const char *a, const char *b, int limit);

/* Two keys that are the same but for the unit they end in ("boom_mm", "boom_m"; or with no unit at all: "boom").
 * *factor turns a value in the first's unit into one in the second's; 0 if they measure different things or a unit is
 * missing. */
bool near_same_but_unit(const char *written, const char *known, double *factor);

#endif
