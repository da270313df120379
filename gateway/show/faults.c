/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/faults.h"

#include <stdarg.h>
#include <string.h>

#include "gateway/show/place.h"

/* C0 controls, DEL and the UTF-8 form of C1 controls can steer a terminal. */
static void make_printable(char *text)
{
    for (unsigned char *c = (unsigned char *)text; *c; c++) {
        if (*c < 0x20 || *c == 0x7f)
            *c = '?';
        else if (c[0] == 0xc2 && c[1] >= 0x80 && c[1] < 0xa0)
            c[0] = c[1] = '?';
    }
}

/* Line of the value, or of the nearest thing around it that is there; 0 if there is none. */
static size_t line_of(const struct faults *faults, const char *pointer)
{
    char around[PLACE_POINTER];
    struct place place;
    snprintf(around, sizeof around, "%s", pointer);
    while (!place_find(faults->text, faults->len, around, &place)) {
        char *slash = strrchr(around, '/');
        if (!slash)
            return 0;
        *slash = '\0';
    }
    return place.line;
}

__attribute__((format(printf, 5, 0))) static void tell(struct faults *faults, const char *kind, size_t line,
                                                       const char *pointer, const char *format, va_list args)
{
    char message[1024], name[PLACE_POINTER];
    vsnprintf(message, sizeof message, format, args);
    snprintf(name, sizeof name, "%s", pointer);
    make_printable(message);
    make_printable(name);
    fprintf(faults->out, "%s:", faults->file);
    if (line > 0)
        fprintf(faults->out, "%zu:", line);
    fprintf(faults->out, " %s%s%s%s\n", kind, name, name[0] ? ": " : "", message);
}

void faults_error(struct faults *faults, const char *pointer, const char *format, ...)
{
    if (++faults->errors > FAULTS_TOLD)
        return;
    va_list args;
    va_start(args, format);
    tell(faults, "", line_of(faults, pointer), pointer, format, args);
    va_end(args);
}

void faults_error_at(struct faults *faults, size_t line, const char *pointer, const char *format, ...)
{
    if (++faults->errors > FAULTS_TOLD)
        return;
    va_list args;
    va_start(args, format);
    tell(faults, "", line, pointer, format, args);
    va_end(args);
}

void faults_warn(struct faults *faults, const char *pointer, const char *format, ...)
{
    if (++faults->warnings > FAULTS_TOLD || faults->mute_warnings)
        return;
    va_list args;
    va_start(args, format);
    tell(faults, "warning: ", line_of(faults, pointer), pointer, format, args);
    va_end(args);
}

void faults_excerpt(const struct faults *faults, const char *pointer, char excerpt[FAULTS_EXCERPT])
{
    struct place place;
    excerpt[0] = '\0';
    if (!place_find(faults->text, faults->len, pointer, &place))
        return;
    bool whole = place.len < FAULTS_EXCERPT;
    size_t n = whole ? place.len : FAULTS_EXCERPT - 4;
    memcpy(excerpt, faults->text + place.start, n);
    snprintf(excerpt + n, FAULTS_EXCERPT - n, "%s", whole ? "" : "...");
}
