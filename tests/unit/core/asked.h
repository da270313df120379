/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The program's own malloc, which counts what one thread asks for. Not built with sanitizers, which bring a malloc of
 * their own. */
#ifndef STEADYHAND_TEST_ASKED_H
#define STEADYHAND_TEST_ASKED_H

#include <pthread.h>

/* From now on this thread's requests count; 0: nobody's. */
void asked_watch(pthread_t thread);

/* So far, since asked_clear. */
unsigned asked_count(void);
void asked_clear(void);

#endif
