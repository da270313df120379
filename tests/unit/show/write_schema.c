/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Prints the schema for editors: write_schema > deploy/schema/show.schema.json after a change of the tables. */
#include "gateway/show/layout.h"
#include "schema_of.h"

int main(void)
{
    json_t *schema = schema_of_file(&layout_file);
    int failed = json_dumpf(schema, stdout, JSON_INDENT(2) | JSON_REAL_PRECISION(12));
    putchar('\n');
    json_decref(schema);
    return failed != 0;
}
