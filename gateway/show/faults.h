/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Tells what is wrong with a show file, one line each: FILE:LINE: /json/pointer: expected ..., found ... Hint: ... */
#ifndef STEADYHAND_SHOW_FAULTS_H
#define STEADYHAND_SHOW_FAULTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum {
    FAULTS_TOLD = 100,  /* more are counted, not printed */
    FAULTS_EXCERPT = 48 /* longest piece of the file that is quoted, NUL included */
};

struct faults {
    FILE *out;
    const char *file; /* as the user named it */
    const char *text;
    size_t len;
    bool mute_warnings;
    int errors, warnings;
};

/* The line is found from the pointer (or, where the value is missing, from the object that should hold it). Control
 * characters in the message are replaced: it may quote the file, and it goes to a terminal. */
void faults_error(struct faults *faults, const char *pointer, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void faults_error_at(struct faults *faults, size_t line, const char *pointer, const char *format, ...)
    __attribute__((format(printf, 4, 5))); /* line 0: not known */
void faults_warn(struct faults *faults, const char *pointer, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The value as it is written in the file, shortened; "" if it cannot be found. */
void faults_excerpt(const struct faults *faults, const char *pointer, char excerpt[FAULTS_EXCERPT]);

#endif
