/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Viewers who send as fast as the edge will read: many WebSockets of one process. For an isolated test on loopback. */
#ifndef STEADYHAND_BENCH_FLOOD_H
#define STEADYHAND_BENCH_FLOOD_H

#include <stdint.h>

/* Opens `viewers` (at most 1000) sockets to 127.0.0.1:port and floods for at most `seconds`. Never returns: it is the
 * body of a child process. `told` gets one byte written when all are open. */
_Noreturn void flood_run(uint16_t port, int viewers, int seconds, int told);

#endif
