/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The floor a stop is measured against: a process that does nothing but pass what comes on a TCP connection on as a UDP
 * datagram. */
#ifndef STEADYHAND_BENCH_RELAY_H
#define STEADYHAND_BENCH_RELAY_H

/* Reads from the connected socket `tcp`, sends to the connected socket `udp`, until the other end closes. Never
 * returns: it is the body of a child process. */
_Noreturn void relay_run(int tcp, int udp);

#endif
