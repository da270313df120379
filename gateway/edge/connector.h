/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The connector: a process of a few lines beside the edge, split off before anything of a stranger's is read. All it
 * can be asked for is a connection to core's bus, so that the edge itself needs no right to connect to anything. It
 * reads nothing but that it is asked, and ends with the edge.
 */
#ifndef STEADYHAND_EDGE_CONNECTOR_H
#define STEADYHAND_EDGE_CONNECTOR_H

#include <stdbool.h>

/* Starts it for the bus at that path. Before the first thread, and before any socket is open that it must not keep open
 * too. Returns a descriptor that becomes readable with every answer, and when the connector is gone; -errno on error.
 */
int connector_start(const char *path);

/* One answer comes for each time it is asked. False if it cannot be asked (now). */
bool connector_ask(int connector);

/* An answer: a connected, non-blocking descriptor, now the caller's; -EAGAIN: none yet; -EPIPE: there is no connector
 * any more; any other -errno: why there is no connection. */
int connector_take(int connector);

#endif
