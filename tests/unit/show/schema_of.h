/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The JSON Schema (draft-07) that the loader's tables amount to. Lets the tests hold the schema for editors against the
 * loader, and writes it anew when the tables change. */
#ifndef STEADYHAND_TESTS_SCHEMA_OF_H
#define STEADYHAND_TESTS_SCHEMA_OF_H

#include "gateway/show/field.h"

/* A new reference. */
json_t *schema_of_file(const struct field_table *table);

#endif
