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

/* The keys an object may have: those of its table and those of its variant, if it has one. */
struct keys {
    const struct field_table *common, *own;
};

static int key_count(const struct keys *keys)
{
    return keys->common->count + (keys->own ? keys->own->count : 0);
}

static const struct field *key_at(const struct keys *keys, int i)
{
    int common = keys->common->count;
    return i < common ? &keys->common->fields[i] : &keys->own->fields[i - common];
}

static int word_count(const struct field *word)
{
    int n = 0;
    while (word->words[n])
        n++;
    return n;
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
    for (int w = 0; table->variant && w < word_count(&table->fields[0]); w++)
        clear(&table->variant[w], target);
}

static int index_of(const struct keys *keys, const char *key)
{
    for (int i = 0; i < key_count(keys); i++)
        if (strcmp(key_at(keys, i)->key, key) == 0)
            return i;
    return -1;
}

/* A typo is an edit in three letters or fewer of the key. */
static int nearest(const struct keys *keys, const char *key)
{
    int best = -1, least = 1 + (int)strnlen(key, 9) / 3;
    for (int i = 0; i < key_count(keys); i++) {
        int edits = near_edits(key, key_at(keys, i)->key, least);
        if (edits < least) {
            least = edits;
            best = i;
        }
    }
    return best;
}

static int nearest_but_unit(const struct keys *keys, const char *key, double *factor)
{
    for (int i = 0; i < key_count(keys); i++)
        if (near_same_but_unit(key, key_at(keys, i)->key, factor))
            return i;
    return -1;
}

static void list_keys(const struct keys *keys, char text[VALUE_WORDS])
{
    size_t n = (size_t)snprintf(text, VALUE_WORDS, "the keys here are");
    for (int i = 0; i < key_count(keys) && n < VALUE_WORDS; i++)
        n += (size_t)snprintf(text + n, VALUE_WORDS - n, "%s %s", i ? "," : "", key_at(keys, i)->key);
}

/* Tells an unknown key; returns the index of the known one that was probably meant, or -1. */
static int refuse_key(struct field_reader *reader, const struct keys *keys, const char *key, const json_t *value)
{
    char hint[VALUE_WORDS];
    double factor = 0;
    int meant = nearest_but_unit(keys, key, &factor);
    if (meant >= 0) {
        const struct field *field = key_at(keys, meant);
        if (factor > 0 && json_is_number(value))
            snprintf(hint, sizeof hint, "here the unit is %s: write \"%s\": %.6g", field->unit, field->key,
                     json_number_value(value) * factor);
        else
            snprintf(hint, sizeof hint, "a key ends in its unit: write \"%s\"%s%s", field->key,
                     field->unit ? ", in " : "", field->unit ? field->unit : "");
    } else if ((meant = nearest(keys, key)) >= 0) {
        snprintf(hint, sizeof hint, "did you mean \"%s\"?", key_at(keys, meant)->key);
    } else {
        list_keys(keys, hint);
    }
    faults_error(reader->faults, reader->pointer, "expected a key of the show file, found \"%.60s\". Hint: %s%s", key,
                 hint, hint[strlen(hint) - 1] == '?' ? "" : ".");
    return meant;
}

/* Refuses what the table does not name. Returns the set of known keys that were meant, so that each slip is told
 * once. */
static uint32_t refuse_unknown(struct field_reader *reader, const struct keys *keys, const json_t *object, bool *good)
{
    uint32_t meant = 0;
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value)
    {
        if (index_of(keys, key) >= 0)
            continue;
        size_t was = place_push_key(reader->pointer, key);
        int i = refuse_key(reader, keys, key, value);
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

static bool read_key(struct field_reader *reader, const struct field *field, const json_t *object, bool told,
                     void *target)
{
    const json_t *value = json_object_get(object, field->key);
    size_t was = place_push_key(reader->pointer, field->key);
    bool good = field->optional;
    if (value)
        good = read_field(reader, field, value, target);
    else if (field->optional)
        value_fallback(field, at(target, field->offset));
    else if (!told)
        refuse_missing(reader, field);
    reader->pointer[was] = '\0';
    return good;
}

/* The variant an object is of; NULL, with the fault told, if its word is none, so that nothing can be said of its keys.
 */
static const struct field_table *find_variant(struct field_reader *reader, const struct field_table *table,
                                              const json_t *object, void *target)
{
    uint32_t word = 0;
    if (!read_key(reader, &table->fields[0], object, false, target))
        return NULL;
    memcpy(&word, at(target, table->fields[0].offset), sizeof word);
    return &table->variant[word];
}

static bool read_members(struct field_reader *reader, const struct field_table *table, const json_t *object,
                         void *target)
{
    struct keys keys = {.common = table};
    bool good = true;
    if (table->variant && !(keys.own = find_variant(reader, table, object, target)))
        return false;
    uint32_t meant = refuse_unknown(reader, &keys, object, &good);
    for (int i = table->variant ? 1 : 0; i < key_count(&keys); i++)
        good = read_key(reader, key_at(&keys, i), object, meant >> i & 1, target) && good;
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
