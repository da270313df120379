/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * An edge reads what strangers send, so it gives up what it does not need: an edge that is taken over can still lie
 * about its crowd (which core checks and caps), and little else. What the kernel does not offer is told on stderr and
 * done without.
 */
#ifndef STEADYHAND_EDGE_SANDBOX_H
#define STEADYHAND_EDGE_SANDBOX_H

#include <stdint.h>

enum sandbox_part {
    SANDBOX_PRIVILEGES = 1, /* nothing it executes may gain any: PR_SET_NO_NEW_PRIVS */
    SANDBOX_FILES = 2,      /* no file is opened, made or removed by name: Landlock */
    SANDBOX_CALLS = 4,      /* only the system calls that serving takes; no internet socket of its own, no executable
                               memory, no other program: seccomp. Anything else fails with EPERM */
    SANDBOX_ALL = 7
};

/* At the start: no core files, and descriptors for that many viewers, as far as the hard limit goes. */
void sandbox_limits(uint32_t viewers);

/* Once everything is open. Returns the parts in force. A build with a sanitizer, which needs much more, has only the
 * first. */
unsigned sandbox_enter(void);

#endif
