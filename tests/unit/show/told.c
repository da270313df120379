/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "told.h"

#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

struct told *told_of(const char *text, size_t len)
{
    struct told *told = malloc(sizeof *told);
    size_t size;
    cr_assert(told);
    memset(&told->show, 0xa5, sizeof told->show);
    FILE *err = open_memstream(&told->text, &size);
    cr_assert(err);
    told->errors = show_parse("show.json", text, len, &told->show, err, &told->warnings);
    fclose(err);
    return told;
}

void told_free(struct told *told)
{
    free(told->text);
    free(told);
}

bool told_has(const struct told *told, int line, const char *begins, const char *contains)
{
    char wanted[400];
    if (line > 0)
        snprintf(wanted, sizeof wanted, "show.json:%d: %s", line, begins);
    else
        snprintf(wanted, sizeof wanted, "show.json: %s", begins);
    for (const char *at = told->text; *at; at += *at == '\n') {
        size_t len = strcspn(at, "\n");
        const char *found = strstr(at, contains);
        if (strncmp(at, wanted, strlen(wanted)) == 0 && found && found < at + len)
            return true;
        at += len;
    }
    return false;
}

bool told_untouched(const struct told *told)
{
    const unsigned char *bytes = (const unsigned char *)&told->show;
    for (size_t i = 0; i < sizeof told->show; i++)
        if (bytes[i] != 0xa5)
            return false;
    return true;
}

char *told_file(const char *name)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/%s", HERE, name);
    char *text = calloc(1, SHOW_FILE_MAX + 1);
    FILE *file = fopen(path, "r");
    cr_assert(text && file);
    size_t n = fread(text, 1, SHOW_FILE_MAX, file);
    cr_assert_gt(n, 1000);
    fclose(file);
    return text;
}

char *told_edited(const json_t *row)
{
    char *good = told_file("good.json"), *edited;
    if (!row)
        return good;
    const char *old = told_text(row, "replace"), *by = told_text(row, "by");
    char *at = strstr(good, old);
    cr_assert(at, "%s: \"%s\" is not in good.json", told_text(row, "fault"), old);
    *at = '\0';
    cr_assert_gt(asprintf(&edited, "%s%s%s", good, by, at + strlen(old)), 0);
    free(good);
    return edited;
}

json_t *told_rows(const char *name)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/%s", HERE, name);
    json_t *rows = json_load_file(path, 0, NULL);
    cr_assert(json_is_array(rows), "%s", path);
    return rows;
}

const char *told_text(const json_t *row, const char *key)
{
    const char *text = json_string_value(json_object_get(row, key));
    cr_assert(text, "a row has no %s", key);
    return text;
}

int told_number(const json_t *row, const char *key)
{
    return (int)json_integer_value(json_object_get(row, key));
}
