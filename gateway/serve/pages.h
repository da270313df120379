/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The files of a flat web folder, read into memory once at start: nothing a visitor asks for touches the disk, and no
 * path of theirs is ever opened. */
#ifndef STEADYHAND_SERVE_PAGES_H
#define STEADYHAND_SERVE_PAGES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { PAGES_MAX = 64, PAGES_NAME = 64, PAGES_FILE_MAX = 4 << 20, PAGES_HEAD_MAX = 1024 };

struct page {
    char name[PAGES_NAME];
    const char *type; /* Content-Type */
    char etag[20];    /* quoted */
    uint8_t *data;
    size_t len;
};

struct pages {
    struct page page[PAGES_MAX];
    int count;
    const struct page *index; /* of "/" */
};

/* Reads every regular file of the folder. False on error, with one line on stderr. */
bool pages_load(struct pages *pages, const char *folder, const char *index);
void pages_free(struct pages *pages);

/* path begins with '/'. NULL: no such page. */
const struct page *pages_find(const struct pages *pages, const char *path);

struct pages_answer {
    const char *status; /* "200 OK" */
    const char *type;
    const char *etag;  /* or NULL */
    const char *extra; /* whole header lines, or NULL */
    size_t length;     /* of the body */
    bool close;
};

/* Writes an answer's head, with the headers every answer carries, into head[PAGES_HEAD_MAX]; returns its length. */
size_t pages_head(const struct pages_answer *answer, char *head);

#endif
