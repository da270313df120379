/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Reads a JSON object into a struct as a const table says: one row a key, with its type, range, unit and place. What
 * the table does not name is refused, what it names must be there (unless optional) and in range; every fault is told.
 *
 * A value that was refused leaves its target "not there": NaN in a double, 0 in a whole number, "" in a text, no items
 * in a list. Checks that follow compare so that "not there" passes silently, since its fault is already told.
 */
#ifndef STEADYHAND_SHOW_FIELD_H
#define STEADYHAND_SHOW_FIELD_H

#include <jansson.h>
#include <stdint.h>

#include "gateway/show/faults.h"
#include "gateway/show/place.h"

enum field_kind {
    FIELD_NUMBER,  /* double, as written */
    FIELD_DEGREES, /* double, radians */
    FIELD_SECONDS, /* uint64_t, nanoseconds */
    FIELD_WHOLE,   /* uint32_t */
    FIELD_FLAG,    /* bool */
    FIELD_TEXT,    /* char[max + 1]; min..max bytes, no control characters */
    FIELD_HOST,    /* char[SHOW_HOST], IPv4 literal */
    FIELD_ORIGIN,  /* char[max + 1], scheme://host[:port] */
    FIELD_WORD,    /* uint32_t, index into words */
    FIELD_POINT,   /* double[items], as written; min..max each */
    FIELD_LIST,    /* uint32_t count at `offset`, then the items at `first`, each of `stride` bytes */
    FIELD_OBJECT,  /* members go into the same struct; if optional, `offset` is a bool: it was there */
    FIELD_KIND_COUNT
};

struct field_table;

struct field {
    const char *key;
    enum field_kind kind;
    bool optional;
    double fallback;  /* what an optional number, word or flag is where the file is silent, in the file's unit; NAN: it
                         stays not there */
    double min, max;  /* of the value, of the length of a text, of the number of items */
    const char *unit; /* NULL: none */
    const char *what; /* what it is, for a person: follows "is" in a sentence */
    size_t offset;
    int items;                       /* POINT: numbers in it */
    const char *const *words;        /* WORD: NULL-terminated */
    const struct field *item;        /* LIST: of what; its offset is unused */
    size_t first, stride;            /* LIST */
    const struct field_table *table; /* OBJECT */
};

struct field_table {
    const struct field *fields;
    int count; /* at most FIELD_KEYS, those of a variant included */
    /* Some objects have keys that depend on one of their words ("shape": "sphere" has a centre). Then fields[0] is that
     * WORD, and variant[w] holds the further keys that go with its word w. NULL: no such thing. */
    const struct field_table *variant;
};

enum { FIELD_KEYS = 32 };

struct field_reader {
    struct faults *faults;
    char pointer[PLACE_POINTER]; /* of the value being read */
};

/* Reads a whole object. True if nothing in it was refused. */
bool field_read_object(struct field_reader *reader, const struct field_table *table, const json_t *value, void *target);

#endif
