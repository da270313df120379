/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A show of its own for a bench: free ports, a state folder, passes, and the processes that make it up. All on
 * loopback; everything started is ended by its process id. */
#ifndef STEADYHAND_BENCH_BENCH_SHOW_H
#define STEADYHAND_BENCH_BENCH_SHOW_H

#include <sys/types.h>

#include "gateway/pass/pass.h"

struct bench_show {
    char folder[64]; /* holds show.json and the state */
    char file[96];
    uint16_t audience, desk;
    struct pass_secrets secrets;
    char operator_pass[PASS_MAX];
};

/* Writes a copy of the show file `like` with free ports and the rig at rig_port. The folder and the secrets must be
 * there (bench_show_secrets). */
bool bench_show_write(struct bench_show *show, const char *like, uint16_t rig_port);

/* Makes the folder and its secrets, and mints an operator's pass. */
bool bench_show_secrets(struct bench_show *show);
void bench_show_remove(struct bench_show *show);

/* Starts `binary verb` on a processor (-1: any) and waits until it says that it is ready. -1 on failure. */
pid_t bench_show_start(const struct bench_show *show, const char *binary, const char *verb, int cpu);

/* SIGTERM, and SIGKILL if that does not end it in 2 s. Returns its exit status, -1 if it was killed. */
int bench_show_end(pid_t pid);

/* Of all its threads so far [s]: time on a processor, and time ready to run but waiting for one. */
struct bench_load {
    double ran, waited;
};
struct bench_load bench_show_load(pid_t pid);

/* Pins the calling thread; false where there is no such processor. */
bool bench_show_pin(int cpu);

#endif
