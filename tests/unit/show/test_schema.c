/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The schema for editors says exactly what the loader's tables say. (tests/e2e/schema.test.mjs holds what it means
 * against what the loader does.) */
#include <criterion/criterion.h>

#include <math.h>

#include "gateway/show/layout.h"
#include "schema_of.h"

Test(schema, is_what_the_tables_say)
{
    json_t *made = schema_of_file(&layout_file);
    char *text = json_dumps(made, JSON_REAL_PRECISION(12));
    json_t *read_back = json_loads(text, 0, NULL); /* numbers as a file holds them */
    json_t *kept = json_load_file(SCHEMA, JSON_REJECT_DUPLICATES, NULL);
    cr_assert(kept, "%s", SCHEMA);
    cr_assert(json_equal(read_back, kept),
              "the schema differs from gateway/show/layout*.c; write it anew: BUILD/tests/unit/show/write_schema > "
              "deploy/schema/show.schema.json");
    json_decref(kept);
    json_decref(read_back);
    free(text);
    json_decref(made);
}

/* One bit a key is all refuse_unknown() has. */
static void check_sizes(const struct field_table *table)
{
    cr_assert(table->count > 0 && table->count <= FIELD_KEYS);
    for (int w = 0; table->variant && table->fields[0].words[w]; w++) {
        cr_assert(table->count + table->variant[w].count <= FIELD_KEYS);
        check_sizes(&table->variant[w]);
    }
    for (int i = 0; i < table->count; i++) {
        const struct field *field = &table->fields[i];
        cr_assert(field->what && field->key);
        cr_assert(field->kind == FIELD_WORD || field->min <= field->max, "%s", field->key);
        cr_assert(field->optional || field->fallback == 0, "%s", field->key);
        if (field->optional && (field->kind == FIELD_NUMBER || field->kind == FIELD_DEGREES))
            cr_assert(isnan(field->fallback) || (field->min <= field->fallback && field->fallback <= field->max), "%s",
                      field->key);
        if (field->kind == FIELD_OBJECT)
            check_sizes(field->table);
        if (field->kind == FIELD_LIST && field->item->kind == FIELD_OBJECT)
            check_sizes(field->item->table);
    }
}

Test(schema, tables_are_small_enough)
{
    check_sizes(&layout_file);
}
