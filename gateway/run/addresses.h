/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Where people find a running show, with the passes that let them in. */
#ifndef STEADYHAND_RUN_ADDRESSES_H
#define STEADYHAND_RUN_ADDRESSES_H

#include <stdbool.h>
#include <stdio.h>
#include <sys/types.h>

#include "gateway/pass/pass.h"
#include "gateway/show/show.h"

enum { ADDRESSES_URL = 64 + PASS_MAX };

struct addresses {
    char audience[64], desk[64]; /* http://host:port */
    char operator_pass[PASS_MAX], spotter_pass[PASS_MAX];
    bool this_machine_only; /* the desk is on a loopback address */
};

/* Mints an operator's and a spotter's pass for the day (12 h). False, with a line on stderr, if that fails. */
bool addresses_make(const struct show *show, const char *state_dir, struct addresses *out);

/* The page for a role, with the pass (or NULL: none) in the fragment, which browsers do not send. */
void addresses_url(const char *desk, enum pass_role role, const char *pass, char url[ADDRESSES_URL]);

/* For people: addresses, cautions, and the stop page as a QR code; without passes, how to get them instead. */
void addresses_print(const struct addresses *addresses, bool with_passes, FILE *out);

struct addresses_pids {
    pid_t core, rig_sim; /* 0: not running */
    int edges;
    pid_t edge[16];
};

/* For scripts: a JSON object, mode 0600, replaced whole so that a reader never sees half of it. False with a line on
 * stderr. */
bool addresses_write(const struct addresses *addresses, const struct addresses_pids *pids, const char *path);

/* "http://host:port"; every address of the machine is shown as the loopback one. */
void addresses_base(const struct show_listener *listener, char base[64]);

#endif
