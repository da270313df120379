/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "asked.h"

#include <stdatomic.h>
#include <stdlib.h>

/* The C library's own, under their second names. */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *old, size_t size);

static _Atomic pthread_t watched;
static _Atomic unsigned asked;

void asked_watch(pthread_t thread)
{
    atomic_store(&watched, thread);
}

unsigned asked_count(void)
{
    return atomic_load(&asked);
}

void asked_clear(void)
{
    atomic_store(&asked, 0);
}

static void note(void)
{
    pthread_t who = atomic_load(&watched);
    if (who != 0 && pthread_equal(who, pthread_self()))
        atomic_fetch_add(&asked, 1);
}

void *malloc(size_t size)
{
    note();
    return __libc_malloc(size);
}

void *calloc(size_t n, size_t size)
{
    note();
    return __libc_calloc(n, size);
}

void *realloc(void *old, size_t size)
{
    note();
    return __libc_realloc(old, size);
}
