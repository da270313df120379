/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * An edge reads what strangers send, so it gives up what it does not need. What the kernel does not offer is told on
 * stderr and done without.
 *
 * An edge that is taken over can still: lie about its crowd (core checks and caps that); say anything to its own
 * viewers, and take or refuse new ones, on the port that edges share; end itself; use processor time, and memory as far
 * as the machine's limits go; write to its output. It cannot reach other processes, files, or any address: for a new
 * line to core it asks the connector (connector.h), which connects to nothing else.
 */
#ifndef STEADYHAND_EDGE_SANDBOX_H
#define STEADYHAND_EDGE_SANDBOX_H

#include <stdint.h>

enum sandbox_part {
    SANDBOX_PRIVILEGES = 1, /* nothing it executes may gain any: PR_SET_NO_NEW_PRIVS */
    SANDBOX_FILES = 2,      /* no file is opened, made or removed by name: Landlock */
    SANDBOX_CALLS = 4,      /* only the system calls that serving takes, and of some only the forms it takes; no socket
                               of its own and no connecting, no signal to others, no executable memory, no other
                               program: seccomp. Anything else fails with EPERM */
    SANDBOX_ALL = 7
};

/* At the start: no core files, and descriptors for that many viewers, as far as the hard limit goes. */
void sandbox_limits(uint32_t viewers);

/* Once everything is open. Returns the parts in force. A build with a sanitizer, which needs much more, has only the
 * first. */
unsigned sandbox_enter(void);

#endif
