/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* `steadyhand run` with fake children, in a folder of its own. */
#ifndef STEADYHAND_TESTS_STAGED_H
#define STEADYHAND_TESTS_STAGED_H

#include <stdbool.h>
#include <sys/types.h>

enum { STAGED_OUTPUT = 1 << 16 };

struct staged {
    char folder[64], show[96], state[96], ready[96];
    pid_t pid;
    int out; /* its stdout and stderr */
    char said[STAGED_OUTPUT];
    size_t len;
};

struct staged_pids {
    int core, edge, rig_sim;
};

/* Makes the folder with a copy of the good show file, and starts. `fake`: see fake_verbs.c, NULL for none; `option`: a
 * further option, or NULL. */
void staged_start(struct staged *staged, const char *fake, const char *option);

/* The same, with no fake and its words to a terminal. */
void staged_start_in_terminal(struct staged *staged);

/* A second run beside the first, from the same folders. */
void staged_start_again(const struct staged *first, struct staged *second);

/* Waits until it has said this; fails the test after `ms`. Returns where it stands in `said`. */
const char *staged_wait(struct staged *staged, const char *text, int ms);

/* Waits for it to end, at most `ms`; returns the exit status, minus the signal if it was killed. */
int staged_end(struct staged *staged, int signal, int ms);

/* From the file for scripts. */
struct staged_pids staged_pids(const struct staged *staged);

/* Waits until the process is gone. */
bool staged_gone(int pid, int ms);

void staged_clean(struct staged *staged);

#endif
