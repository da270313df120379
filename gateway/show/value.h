/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* One scalar or point of a show file: what is expected, what was found, and into the struct if the two agree. */
#ifndef STEADYHAND_SHOW_VALUE_H
#define STEADYHAND_SHOW_VALUE_H

#include "gateway/show/field.h"

enum { VALUE_WORDS = 200 };

/* Tells the fault at reader->pointer; `value` NULL: it is missing. `hint` NULL: what the key means. */
void value_refuse(struct field_reader *reader, const struct field *field, const json_t *value, const char *hint);

/* Any kind but LIST and OBJECT. True if it was good and *target is set. */
bool value_read(struct field_reader *reader, const struct field *field, const json_t *value, void *target);

/* What the target is where the file may be silent, and is: the field's fallback, or not there. */
void value_fallback(const struct field *field, void *target);

/* Makes the target "not there". */
void value_clear(const struct field *field, void *target);

#endif
