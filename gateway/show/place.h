/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where in a JSON text a value stands. The JSON library keeps no positions, so the text is scanned again, for error
 * messages only: it need not be fast, and it never judges whether the text is good JSON (a bad text gives some
 * place inside it, or none).
 */
#ifndef STEADYHAND_SHOW_PLACE_H
#define STEADYHAND_SHOW_PLACE_H

#include <stdbool.h>
#include <stddef.h>

enum { PLACE_POINTER = 256 };

struct place {
    size_t line;       /* from 1 */
    size_t start, len; /* bytes of the value */
};

/* Finds the value a JSON Pointer (RFC 6901) names. Keys are compared as they are written, without escapes. */
bool place_find(const char *text, size_t len, const char *pointer, struct place *out);

/* The pointer of the innermost value (or of the key before it) at this byte; the inverse of place_find, down to 32
 * levels. */
void place_pointer(const char *text, size_t len, size_t at, char pointer[PLACE_POINTER]);

/* A pointer grows by a key (escaped) or an index, and is cut back to the length it had: both return that length.
 * What does not fit is left out. */
size_t place_push_key(char pointer[PLACE_POINTER], const char *key);
size_t place_push_index(char pointer[PLACE_POINTER], size_t index);

#endif
