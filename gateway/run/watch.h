/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Between core and the service manager that watches `run`. Core's tick beats here (gateway/notify.h), and each beat is
 * passed on: nobody else can make the manager believe that core is well, `run` itself included. A core that has beaten
 * and falls silent hangs; `run` ends it, and the one that comes back is disarmed.
 */
#ifndef STEADYHAND_RUN_WATCH_H
#define STEADYHAND_RUN_WATCH_H

#include <stdint.h>

#include "gateway/notify.h"

enum { WATCH_SILENT_S = 5 };

struct watch {
    int fd;                       /* core's beats come here */
    char address[NOTIFY_ADDRESS]; /* core's NOTIFY_SOCKET */
    struct notify manager;        /* ours */
    uint64_t beat_ns;             /* of the present core, 0: none yet */
};

/* manager_address: what NOTIFY_SOCKET holds, or NULL. 0 or -errno. */
int watch_open(struct watch *watch, const char *manager_address);
void watch_close(struct watch *watch);

/* Reads what has come; only what the process `core` says counts. */
void watch_hear(struct watch *watch, pid_t core, uint64_t now_ns);

/* Another core is started: it owes nothing until it has beaten once. */
void watch_begin(struct watch *watch);

/* When the present core counts as hanging unless it beats before; UINT64_MAX: never. */
uint64_t watch_due_ns(const struct watch *watch);

#endif
