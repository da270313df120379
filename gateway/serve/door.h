/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The door: the listening socket, and how many may be inside at once, in all and from one address. Counting is done
 * before a byte is read, so that a refused connection costs one accept and one close.
 *
 * Two counts: connections (TCP, which page loads need too) and sessions (open WebSockets). The show's limits are about
 * sessions; connections get half as many again, and some, on top, unless their number is given.
 */
#ifndef STEADYHAND_SERVE_DOOR_H
#define STEADYHAND_SERVE_DOOR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "gateway/show/show.h"

struct door_address {
    uint32_t address; /* IPv4, host byte order */
    uint32_t connections, sessions;
};

struct door {
    uint32_t max_connections, max_sessions;
    uint32_t address_connections, address_sessions; /* most from one address */
    uint32_t connections, sessions;
    struct door_address *table; /* open addressing; a slot with no connection is free */
    uint32_t mask;
};

/* A non-blocking listening socket bound to exactly that address, or -1 with one line on stderr. */
int door_listen(const struct show_listener *listen, bool share_port);

/* strangers: how many connections may be in that are no sessions, whoever's they are; 0: as the limits have it. False
 * if out of memory. */
bool door_init(struct door *door, const struct show_admission *limits, uint32_t strangers);
void door_free(struct door *door);

/* A connection comes in: true if there is room. Every true needs a door_leave. */
bool door_enter(struct door *door, uint32_t address);
void door_leave(struct door *door, uint32_t address);

/* A connection that is inside becomes a session: true if there is room. Every true needs a door_end_session before its
 * door_leave. */
bool door_begin_session(struct door *door, uint32_t address);
void door_end_session(struct door *door, uint32_t address);

/* Connections that are no sessions, in all and from one address. */
uint32_t door_strangers(const struct door *door);
uint32_t door_strangers_of(const struct door *door, uint32_t address);

#endif
