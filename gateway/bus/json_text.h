/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * JSON (RFC 8259) written by hand into a caller's buffer, for messages made many times a second. No allocation, no
 * locale. Writing more than fits sets `full` and leaves what is there; ask once, at the end. Structure (braces, commas)
 * is the caller's.
 */
#ifndef STEADYHAND_BUS_JSON_TEXT_H
#define STEADYHAND_BUS_JSON_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct json_text {
    char *start, *at, *end;
    bool full;
};

void json_text_begin(struct json_text *t, char *buf, size_t size);

/* Goes on inside the finished object of `len` bytes in buf: its closing brace is written over. The caller then writes
 * ,"key":value and the brace again. */
void json_text_resume(struct json_text *t, char *buf, size_t len, size_t size);

/* Length so far; 0 if something did not fit. */
size_t json_text_len(const struct json_text *t);

/* As it stands: structure, keys, fixed words. */
void json_text_raw(struct json_text *t, const char *s);

/* A quoted string: at most `max` bytes of UTF-8 up to a NUL, escaped. NULL is written as null. */
void json_text_string(struct json_text *t, const char *s, size_t max);

void json_text_unsigned(struct json_text *t, uint64_t value);

/* Rounded to `decimals` (0..6), without trailing zeros. Always a number: NaN is 0, beyond +-1e9 is +-1e9. */
void json_text_real(struct json_text *t, double value, int decimals);

#endif
