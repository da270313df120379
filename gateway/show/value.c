/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/value.h"

#include <arpa/inet.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "policy/motion/units.h"

static const char *kind_words(enum field_kind kind)
{
    static const char *const words[FIELD_KIND_COUNT] = {
        [FIELD_NUMBER] = "a number",    [FIELD_DEGREES] = "a number",
        [FIELD_SECONDS] = "a number",   [FIELD_WHOLE] = "a whole number",
        [FIELD_FLAG] = "true or false", [FIELD_TEXT] = "a text",
        [FIELD_WORD] = "one of",        [FIELD_HOST] = "an IPv4 address such as \"127.0.0.1\"",
        [FIELD_OBJECT] = "an object",   [FIELD_ORIGIN] = "an origin such as \"https://show.example\"",
        [FIELD_LIST] = "an array",      [FIELD_POINT] = "an array",
    };
    return words[kind];
}

static void append(char text[VALUE_WORDS], const char *more)
{
    size_t n = strlen(text);
    snprintf(text + n, VALUE_WORDS - n, "%s", more);
}

static void append_range(char text[VALUE_WORDS], const struct field *field, const char *unit)
{
    char range[80];
    snprintf(range, sizeof range, " from %g to %g%s%s", field->min, field->max, unit ? " " : "", unit ? unit : "");
    append(text, range);
}

static void append_words(char text[VALUE_WORDS], const char *const *words)
{
    for (int i = 0; words[i]; i++) {
        append(text, i ? ", \"" : " \"");
        append(text, words[i]);
        append(text, "\"");
    }
}

/* "a number from 0 to 5 m" */
static void say_expected(const struct field *field, char text[VALUE_WORDS])
{
    char count[64];
    snprintf(text, VALUE_WORDS, "%s", kind_words(field->kind));
    switch (field->kind) {
    case FIELD_NUMBER:
    case FIELD_DEGREES:
    case FIELD_SECONDS:
    case FIELD_WHOLE:
        append_range(text, field, field->unit);
        break;
    case FIELD_TEXT:
        snprintf(count, sizeof count, " of %g to %g bytes", field->min, field->max);
        append(text, count);
        break;
    case FIELD_WORD:
        append_words(text, field->words);
        break;
    case FIELD_POINT:
        snprintf(count, sizeof count, " of %d numbers, %s, each", field->items, field->items == 2 ? "x y" : "x y z");
        append(text, count);
        append_range(text, field, field->unit);
        break;
    case FIELD_LIST:
        snprintf(count, sizeof count, " of %g to %g items", field->min, field->max);
        append(text, count);
        break;
    default:
        break;
    }
}

static void describe_found(const struct field_reader *reader, const json_t *value, char text[VALUE_WORDS])
{
    char excerpt[FAULTS_EXCERPT];
    if (!value) {
        snprintf(text, VALUE_WORDS, "nothing");
    } else if (json_is_object(value)) {
        snprintf(text, VALUE_WORDS, "an object");
    } else if (json_is_array(value)) {
        size_t n = json_array_size(value);
        snprintf(text, VALUE_WORDS, "an array of %zu item%s", n, n == 1 ? "" : "s");
    } else {
        faults_excerpt(reader->faults, reader->pointer, excerpt);
        snprintf(text, VALUE_WORDS, "%s", excerpt);
    }
}

/* A hint that comes from the value itself; false if it says nothing. */
static bool hint_from(const struct field *field, const json_t *value, char hint[VALUE_WORDS])
{
    bool number = field->kind == FIELD_NUMBER || field->kind == FIELD_WHOLE || field->kind == FIELD_SECONDS ||
                  field->kind == FIELD_DEGREES;
    double x = json_number_value(value);
    char *end = NULL;
    if (number && json_is_string(value) && (strtod(json_string_value(value), &end), *end == '\0'))
        snprintf(hint, VALUE_WORDS, "write the number without quotes");
    else if (field->kind == FIELD_WHOLE && json_is_real(value))
        snprintf(hint, VALUE_WORDS, "write it without a decimal point or exponent");
    else if (field->kind == FIELD_HOST && json_is_string(value))
        snprintf(hint, VALUE_WORDS, "names are not looked up: write four numbers, \"127.0.0.1\" for this machine");
    else if (field->kind == FIELD_FLAG)
        snprintf(hint, VALUE_WORDS, "write true or false, without quotes");
    else if (number && json_is_number(value) && field->unit && strcmp(field->unit, "m") == 0 && x > field->max &&
             x / 1000 <= field->max && x / 1000 >= field->min)
        snprintf(hint, VALUE_WORDS, "the unit is metres: %g mm is %g", x, x / 1000);
    else
        return false;
    return true;
}

void value_refuse(struct field_reader *reader, const struct field *field, const json_t *value, const char *hint)
{
    char expected[VALUE_WORDS], found[VALUE_WORDS], made[VALUE_WORDS];
    say_expected(field, expected);
    describe_found(reader, value, found);
    if (!hint && value && hint_from(field, value, made))
        hint = made;
    if (!hint) {
        snprintf(made, sizeof made, "it is %s", field->what);
        hint = made;
    }
    faults_error(reader->faults, reader->pointer, "expected %s, found %s. Hint: %s.", expected, found, hint);
}

static bool read_number(struct field_reader *reader, const struct field *field, const json_t *value, double *out)
{
    double x = json_number_value(value);
    bool whole = field->kind != FIELD_WHOLE || json_is_integer(value);
    if (!json_is_number(value) || !whole || !(x >= field->min && x <= field->max)) {
        value_refuse(reader, field, value, NULL);
        return false;
    }
    *out = x;
    return true;
}

/* x as the file has it, into what the kind is kept as. */
static void keep_number(const struct field *field, double x, void *target)
{
    if (field->kind == FIELD_SECONDS) {
        uint64_t ns = (uint64_t)llround(x * 1e9);
        memcpy(target, &ns, sizeof ns);
    } else if (field->kind == FIELD_WHOLE || field->kind == FIELD_WORD) {
        uint32_t n = (uint32_t)x;
        memcpy(target, &n, sizeof n);
    } else {
        double kept = field->kind == FIELD_DEGREES ? x * UNITS_HALF_TURN / 180 : x;
        memcpy(target, &kept, sizeof kept);
    }
}

static bool store_number(struct field_reader *reader, const struct field *field, const json_t *value, void *target)
{
    double x;
    if (!read_number(reader, field, value, &x))
        return false;
    keep_number(field, x, target);
    return true;
}

static bool store_point(struct field_reader *reader, const struct field *field, const json_t *value, void *target)
{
    struct field axis = *field;
    bool good = true;
    axis.kind = FIELD_NUMBER;
    if (!json_is_array(value) || json_array_size(value) != (size_t)field->items) {
        value_refuse(reader, field, value, NULL);
        return false;
    }
    for (int i = 0; i < field->items; i++) {
        size_t was = place_push_index(reader->pointer, (size_t)i);
        double x;
        if (!read_number(reader, &axis, json_array_get(value, (size_t)i), &x))
            good = false;
        else
            memcpy((char *)target + (size_t)i * sizeof x, &x, sizeof x);
        reader->pointer[was] = '\0';
    }
    if (!good)
        value_clear(field, target);
    return good;
}

static bool is_host(const char *text)
{
    struct in_addr address;
    return inet_pton(AF_INET, text, &address) == 1;
}

/* scheme://host[:port] as a browser sends it: lower case, no path. */
static bool is_origin(const char *text)
{
    const char *host = strstr(text, "://");
    bool scheme = host && (strncmp(text, "http://", 7) == 0 || strncmp(text, "https://", 8) == 0);
    return scheme && host[3] && strspn(host + 3, "abcdefghijklmnopqrstuvwxyz0123456789.-:[]") == strlen(host + 3);
}

static bool has_controls(const char *text)
{
    for (const unsigned char *c = (const unsigned char *)text; *c; c++)
        if (*c < 0x20 || *c == 0x7f || (c[0] == 0xc2 && c[1] < 0xa0))
            return true;
    return false;
}

static bool store_text(struct field_reader *reader, const struct field *field, const json_t *value, void *target)
{
    const char *text = json_string_value(value), *hint = NULL;
    size_t len = text ? json_string_length(value) : 0;
    bool good = text && (double)len >= field->min && (double)len <= field->max;
    if (good && field->kind == FIELD_HOST)
        good = is_host(text);
    if (good && field->kind == FIELD_ORIGIN)
        good = is_origin(text);
    if (good && has_controls(text)) {
        good = false;
        hint = "leave out line breaks, tabs and other control characters";
    }
    if (!good)
        value_refuse(reader, field, value, hint);
    else
        memcpy(target, text, len + 1);
    return good;
}

static bool store_word(struct field_reader *reader, const struct field *field, const json_t *value, void *target)
{
    const char *text = json_string_value(value);
    for (uint32_t i = 0; text && field->words[i]; i++) {
        if (strcmp(text, field->words[i]) == 0) {
            memcpy(target, &i, sizeof i);
            return true;
        }
    }
    value_refuse(reader, field, value, NULL);
    return false;
}

static bool store_flag(struct field_reader *reader, const struct field *field, const json_t *value, void *target)
{
    bool flag = json_is_true(value);
    if (!json_is_boolean(value)) {
        value_refuse(reader, field, value, NULL);
        return false;
    }
    memcpy(target, &flag, sizeof flag);
    return true;
}

bool value_read(struct field_reader *reader, const struct field *field, const json_t *value, void *target)
{
    typedef bool store(struct field_reader *, const struct field *, const json_t *, void *);
    static store *const stores[FIELD_KIND_COUNT] = {
        [FIELD_NUMBER] = store_number, [FIELD_DEGREES] = store_number, [FIELD_SECONDS] = store_number,
        [FIELD_WHOLE] = store_number,  [FIELD_FLAG] = store_flag,      [FIELD_TEXT] = store_text,
        [FIELD_HOST] = store_text,     [FIELD_ORIGIN] = store_text,    [FIELD_WORD] = store_word,
        [FIELD_POINT] = store_point,
    };
    return stores[field->kind](reader, field, value, target);
}

void value_fallback(const struct field *field, void *target)
{
    if (field->kind == FIELD_FLAG)
        memcpy(target, &(bool){field->fallback != 0}, sizeof(bool));
    else if (field->kind != FIELD_NUMBER && field->kind != FIELD_DEGREES && field->kind != FIELD_SECONDS &&
             field->kind != FIELD_WHOLE && field->kind != FIELD_WORD)
        value_clear(field, target);
    else if (isnan(field->fallback))
        value_clear(field, target);
    else
        keep_number(field, field->fallback, target);
}

void value_clear(const struct field *field, void *target)
{
    bool real = field->kind == FIELD_NUMBER || field->kind == FIELD_DEGREES || field->kind == FIELD_POINT;
    int reals = field->kind == FIELD_POINT ? field->items : real;
    for (int i = 0; i < reals; i++)
        memcpy((char *)target + (size_t)i * sizeof(double), &(double){NAN}, sizeof(double));
    if (field->kind == FIELD_SECONDS)
        memset(target, 0, sizeof(uint64_t));
    else if (field->kind == FIELD_WHOLE || field->kind == FIELD_WORD || field->kind == FIELD_LIST)
        memset(target, 0, sizeof(uint32_t));
    else if (!real)
        memset(target, 0, 1); /* a text, a flag */
}
