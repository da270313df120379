/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Text from a show file, made fit to stand in a drawing or on a terminal: what is not UTF-8, control characters and
 * what would reorder its neighbours (bidirectional controls) come out as U+FFFD, the replacement character. */
#ifndef STEADYHAND_SURVEY_TEXT_H
#define STEADYHAND_SURVEY_TEXT_H

#include <stdio.h>

enum { TEXT_BYTES = 5 };

/* One character of a text that is not at its end, and where the next begins. */
const char *text_next(const char *text, char bytes[TEXT_BYTES]);

void text_put(FILE *out, const char *text);

#endif
