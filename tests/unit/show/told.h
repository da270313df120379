/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the loader says of a text, and the tables of edits that make a good show file a bad one. */
#ifndef STEADYHAND_TESTS_TOLD_H
#define STEADYHAND_TESTS_TOLD_H

#include <jansson.h>

#include "gateway/show/show.h"

struct told {
    char *text; /* all that was printed */
    int errors, warnings;
    struct show show; /* untouched (every byte 0xa5) if there were errors */
};

/* Of a text named "show.json". Free with told_free(). */
struct told *told_of(const char *text, size_t len);
void told_free(struct told *told);

/* Has a line with this beginning (after "show.json:LINE: ") and this somewhere in it. line 0: any. */
bool told_has(const struct told *told, int line, const char *begins, const char *contains);

bool told_untouched(const struct told *told);

/* tests/unit/show/NAME. free() it. plain.json has none of the keys that may be left out, good.json all of them. */
char *told_file(const char *name);

/* The good show file with the row's edit, or unchanged for NULL. free() it. */
char *told_edited(const json_t *row);

/* tests/unit/show/NAME: an array of rows. json_decref() it. */
json_t *told_rows(const char *name);
const char *told_text(const json_t *row, const char *key);
int told_number(const json_t *row, const char *key);

#endif
