/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "schema_of.h"

#include <ctype.h>
#include <math.h>

static json_t *table_new(const struct field_table *table);

/* 5 rather than 5.0 */
static json_t *plain_new(double x)
{
    return x == floor(x) && fabs(x) < 1e15 ? json_integer((json_int_t)x) : json_real(x);
}

static json_t *range_new(const struct field *field, const char *type)
{
    return json_pack("{s:s,s:o,s:o}", "type", type, "minimum", plain_new(field->min), "maximum", plain_new(field->max));
}

static json_t *text_new(const struct field *field, const char *pattern)
{
    return json_pack("{s:s,s:o,s:o,s:s}", "type", "string", "minLength", plain_new(field->min), "maxLength",
                     plain_new(field->max), "pattern", pattern);
}

static json_t *array_new(json_t *items, double min, double max)
{
    return json_pack("{s:s,s:o,s:o,s:o}", "type", "array", "minItems", plain_new(min), "maxItems", plain_new(max),
                     "items", items);
}

static json_t *words_new(const char *const *words)
{
    json_t *list = json_array();
    for (int i = 0; words[i]; i++)
        json_array_append_new(list, json_string(words[i]));
    return json_pack("{s:o}", "enum", list);
}

static json_t *kind_new(const struct field *field)
{
    switch (field->kind) {
    case FIELD_WHOLE:
        return range_new(field, "integer");
    case FIELD_FLAG:
        return json_pack("{s:s}", "type", "boolean");
    case FIELD_TEXT:
        return text_new(field, "^[^\\u0000-\\u001f\\u007f-\\u009f]*$");
    case FIELD_HOST:
        return text_new(field, "^((25[0-5]|2[0-4][0-9]|1[0-9][0-9]|[1-9]?[0-9])(\\.(?!$)|$)){4}$");
    case FIELD_ORIGIN:
        return text_new(field, "^https?://[a-z0-9.:\\[\\]-]+$");
    case FIELD_WORD:
        return words_new(field->words);
    case FIELD_POINT:
        return array_new(range_new(field, "number"), field->items, field->items);
    case FIELD_LIST:
        return array_new(kind_new(field->item), field->min, field->max);
    case FIELD_OBJECT:
        return table_new(field->table);
    default:
        return range_new(field, "number");
    }
}

/* "The boom's length, in m." */
static json_t *description_new(const struct field *field)
{
    char text[240];
    snprintf(text, sizeof text, "%s%s%s.", field->what, field->unit ? ", in " : "", field->unit ? field->unit : "");
    text[0] = (char)toupper((unsigned char)text[0]);
    return json_string(text);
}

/* What a key is where it is left out; NULL where that depends on something else. */
static json_t *default_new(const struct field *field)
{
    switch (field->kind) {
    case FIELD_FLAG:
        return json_boolean(field->fallback != 0);
    case FIELD_WORD:
        return json_string(field->words[(size_t)field->fallback]);
    case FIELD_NUMBER:
    case FIELD_DEGREES:
    case FIELD_SECONDS:
    case FIELD_WHOLE:
        return isnan(field->fallback) ? NULL : plain_new(field->fallback);
    default:
        return NULL;
    }
}

static void add_rows(const struct field_table *table, json_t *properties, json_t *required)
{
    for (int i = 0; i < table->count; i++) {
        const struct field *field = &table->fields[i];
        json_t *one = kind_new(field), *silent = field->optional ? default_new(field) : NULL;
        json_object_set_new(one, "description", description_new(field));
        if (silent)
            json_object_set_new(one, "default", silent);
        json_object_set_new(properties, field->key, one);
        if (!field->optional)
            json_array_append_new(required, json_string(field->key));
    }
}

static json_t *object_new(json_t *properties, json_t *required)
{
    return json_pack("{s:s,s:b,s:o,s:o}", "type", "object", "additionalProperties", 0, "required", required,
                     "properties", properties);
}

/* The object with word w of its first row; only where that is what silence means may the word be left out. */
static json_t *variant_new(const struct field_table *table, int w)
{
    const struct field *word = &table->fields[0];
    json_t *properties = json_object(), *required = json_array(), *own;
    add_rows(table, properties, required);
    add_rows(&table->variant[w], properties, required);
    own = json_object_get(properties, word->key);
    json_object_set_new(own, "enum", json_pack("[s]", word->words[w]));
    if (word->optional && w != (int)word->fallback) {
        json_object_del(own, "default");
        json_array_append_new(required, json_string(word->key));
    }
    return object_new(properties, required);
}

static json_t *table_new(const struct field_table *table)
{
    json_t *properties, *required, *kinds;
    if (!table->variant) {
        properties = json_object();
        required = json_array();
        add_rows(table, properties, required);
        return object_new(properties, required);
    }
    kinds = json_array();
    for (int w = 0; table->fields[0].words[w]; w++)
        json_array_append_new(kinds, variant_new(table, w));
    return json_pack("{s:o}", "oneOf", kinds);
}

json_t *schema_of_file(const struct field_table *table)
{
    static const char about[] =
        "One show: its rig, room, limits, audience and desk. SI units; the room frame is right-handed: x to the right "
        "along the front wall, y away from it, z up. What a schema cannot say (geometry, numbers that must fit each "
        "other) `steadyhand check` says.";
    json_t *schema = json_pack("{s:s,s:s,s:s}", "$schema", "http://json-schema.org/draft-07/schema#", "title",
                               "Steadyhand show file", "description", about);
    json_t *rules = table_new(table);
    json_object_update(schema, rules);
    json_decref(rules);
    return schema;
}
