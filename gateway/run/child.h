/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* One process of a show: this executable again, with another verb. It dies with its parent, whatever ends that. */
#ifndef STEADYHAND_RUN_CHILD_H
#define STEADYHAND_RUN_CHILD_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <sys/types.h>

#include "gateway/verbs.h"

enum { CHILD_NAME = 16, CHILD_LINE = 512, CHILD_WHY = 64 };

struct child {
    char name[CHILD_NAME]; /* as its lines begin: "core", "edge 0", "rig-sim" */
    const char *verb;
    int index;          /* of an edge, else -1 */
    const char *notify; /* its NOTIFY_SOCKET, not owned; NULL: none, whatever ours is */

    pid_t pid; /* 0: not running */
    int out;   /* its stdout and stderr, -1: none */
    bool ready, was_ready;
    int failures;          /* in a row, without having been ready for a while */
    uint64_t ready_ns;     /* when it became ready */
    uint64_t again_ns;     /* not started before */
    char line[CHILD_LINE]; /* what has come of the present line */
    size_t len;
};

void child_init(struct child *child, const char *verb, int index);

/* Starts it with this show file and these options. 0 or -errno. */
int child_start(struct child *child, const char *show_path, const struct verb_options *opt);

/* Called in the new process: makes it end when its parent does, whatever ends that. Here rather than before exec, which
 * forgets such a wish where the file has capabilities of its own. False if the parent has gone already. True without a
 * parent that has started us. */
bool child_follow_parent(void);

/* Passes whole lines of what it says on to `to`, each beginning with the child's name. True if a line said that it is
 * ready. `out` is -1 once it has closed its end. */
bool child_read(struct child *child, FILE *to);

/* True if it has ended: `pid` is then 0, *status is as of waitpid(), and the last lines have been passed on to `to`. */
bool child_ended(struct child *child, FILE *to, int *status);

/* Sets when it may start again: 200 ms after a first failure, then twice as long each time, at most 5 s. A child that
 * was ready for 10 s starts anew. Returns the wait [ms]. */
unsigned child_wait(struct child *child, uint64_t now_ns);

/* "status 1", "signal 9 (Killed)" */
void child_why(int status, char why[CHILD_WHY]);

#endif
