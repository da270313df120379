/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/field.h"

#include <string.h>

#include "gateway/show/near.h"
#include "gateway/show/value.h"

static char *at(void *target, size_t offset)
{
    return (char *)target + offset;
}

static void clear(const struct field_table *table, void *target)
{
    for (int i = 0; i < table->count; i++) {
        const struct field *field = &table->fields[i];
        if (field->kind == FIELD_OBJECT)
            clear(field->table, target);
        if (field->kind != FIELD_OBJECT || field->optional)
            value_clear(field, at(target, field->offset));
    }
}

static int index_of(const struct field_table *table, const char *key)
{
    for (int i = 0; i < table->count; i++)
        if (strcmp(table->fields[i].key, key) == 0)
            return i;
    return -1;
}

/* A typo is an edit in three letters or fewer of the key. */
static int nearest(const struct field_table *table, const char *key)
{
    int best = -1, least = 1 + (int)strnlen(key, 9) / 3;
    for (int i = 0; i < table->count; i++) {
        int edits = near_edits(key, table->fields[i].key, least);
        if (edits < least) {
            least = edits;
            best = i;
        }
    }
    return best;
}

static int nearest_but_unit(const struct field_table *table, const char *key, double *factor)
{
    for (int i = 0; i < table->count; i++)
        if (near_same_but_unit(key, table->fields[i].key, factor))
            return i;
    return -1;
}

static void list_keys(const struct field_table *table, char text[VALUE_WORDS])
{
    size_t n = (size_t)snprintf(text, VALUE_WORDS, "the keys here are");
    for (int i = 0; i < table->count && n < VALUE_WORDS; i++)
        n += (size_t)snprintf(text + n, VALUE_WORDS - n, "%s %s", i ? "," : "", table->fields[i].key);
}

/* Tells an unknown key; returns the index of the known one that was probably meant, or -1. */
static int refuse_key(struct field_reader *reader, const struct field_table *table, const char *key,
                      const json_t *value)
{
    char hint[VALUE_WORDS];
    double factor = 0;
    int meant = nearest_but_unit(table, key, &factor);
    if (meant >= 0) {
        const struct field *field = &table->fields[meant];
        if (factor > 0 && json_is_number(value))
            snprintf(hint, sizeof hint, "here the unit is %s: write \"%s\": %.6g", field->unit, field->key,
                     json_number_value(value) * factor);
        else
            snprintf(hint, sizeof hint, "a key ends in its unit: write \"%s\"%s%s", field->key,
                     field->unit ? ", in " : "", field->unit ? field->unit : "");
    } else if ((meant = nearest(table, key)) >= 0) {
        snprintf(hint, sizeof hint, "did you mean \"%s\"?", table->fields[meant].key);
    } else {
        list_keys(table, hint);
    }
    faults_error(reader->faults, reader->pointer, "expected a key of the show file, found \"%.60s\". Hint: %s%s", key,
                 hint, hint[strlen(hint) - 1] == '?' ? "" : ".");
    return meant;
}

/* Refuses what the table does not name. Returns the set of known keys that were meant, so that each slip is told
 * once. */
static uint32_t refuse_unknown(struct field_reader *reader, const struct field_table *table, const json_t *object,
                               bool *good)
{
    uint32_t meant = 0;
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value)
    {
        if (index_of(table, key) >= 0)
            continue;
        size_t was = place_push_key(reader->pointer, key);
        int i = refuse_key(reader, table, key, value);
        meant |= i >= 0 ? UINT32_C(1) << i : 0;
        *good = false;
        reader->pointer[was] = '\0';
    }
    return meant;
}

static bool read_members(struct field_reader *reader, const struct field_table *table, const json_t *object,
                         void *target);

static bool read_list(struct field_reader *reader, const struct field *field, const json_t *value, void *target)
{
    size_t n = json_array_size(value);
    uint32_t kept = 0;
    if (!json_is_array(value) || (double)n < field->min || (double)n > field->max) {
        value_refuse(reader, field, value, NULL);
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        size_t was = place_push_index(reader->pointer, i);
        void *item = at(target, field->first + i * field->stride);
        const json_t *element = json_array_get(value, i);
        bool good = field->item->kind == FIELD_OBJECT ? field_read_object(reader, field->item->table, element, item)
                                                      : value_read(reader, field->item, element, item);
        kept += good;
        reader->pointer[was] = '\0';
    }
    if (kept < n)
        return false; /* the list stays empty: indexes of what is left would not be those of the file */
    memcpy(at(target, field->offset), &kept, sizeof kept);
    return true;
}

static bool read_field(struct field_reader *reader, const struct field *field, const json_t *value, void *target)
{
    if (field->kind == FIELD_LIST)
        return read_list(reader, field, value, target);
    if (field->kind != FIELD_OBJECT)
        return value_read(reader, field, value, at(target, field->offset));
    if (!json_is_object(value)) {
        value_refuse(reader, field, value, NULL);
        return false;
    }
    if (field->optional)
        memcpy(at(target, field->offset), &(bool){true}, sizeof(bool));
    return read_members(reader, field->table, value, target);
}

static void refuse_missing(struct field_reader *reader, const struct field *field)
{
    char hint[VALUE_WORDS];
    snprintf(hint, sizeof hint, "add \"%s\": it is %s", field->key, field->what);
    value_refuse(reader, field, NULL, hint);
}

static bool read_members(struct field_reader *reader, const struct field_table *table, const json_t *object,
                         void *target)
{
    bool good = true;
    uint32_t meant = refuse_unknown(reader, table, object, &good);
    for (int i = 0; i < table->count; i++) {
        const struct field *field = &table->fields[i];
        const json_t *value = json_object_get(object, field->key);
        size_t was = place_push_key(reader->pointer, field->key);
        if (value)
            good = read_field(reader, field, value, target) && good;
        else if (!field->optional && !(meant >> i & 1))
            refuse_missing(reader, field);
        good = good && (value || field->optional);
        reader->pointer[was] = '\0';
    }
    return good;
}

bool field_read_object(struct field_reader *reader, const struct field_table *table, const json_t *value, void *target)
{
    static const struct field whole = {.kind = FIELD_OBJECT, .what = "made of the keys the schema lists"};
    clear(table, target);
    if (!json_is_object(value)) {
        value_refuse(reader, &whole, value, NULL);
        return false;
    }
    return read_members(reader, table, value, target);
}
