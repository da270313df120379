/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/serve/door.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { BACKLOG = 1024, SPARE_CONNECTIONS = 64, SPARE_PER_ADDRESS = 8 };

static int complain(int fd, const struct show_listener *listen, const char *what, const char *hint)
{
    fprintf(stderr, "listen %s:%u: %s: %s. Hint: %s\n", listen->host, listen->port, what, strerror(errno), hint);
    if (fd >= 0)
        close(fd);
    return -1;
}

int door_listen(const struct show_listener *at, bool share_port)
{
    struct sockaddr_in where = {.sin_family = AF_INET, .sin_port = htons(at->port)};
    if (inet_pton(AF_INET, at->host, &where.sin_addr) != 1) {
        errno = EINVAL;
        return complain(-1, at, "not an IPv4 address", "write it as four numbers, such as 127.0.0.1.");
    }
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return complain(fd, at, "no socket", "raise the limit of open files.");
    int on = 1;
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
    if (share_port && setsockopt(fd, SOL_SOCKET, SO_REUSEPORT, &on, sizeof on) < 0)
        return complain(fd, at, "cannot share the port", "run one edge only.");
    if (bind(fd, (const struct sockaddr *)&where, sizeof where) < 0)
        return complain(fd, at, "cannot bind",
                        "another program may have the port, or the address is not this machine's.");
    if (listen(fd, BACKLOG) < 0)
        return complain(fd, at, "cannot listen", "another program may have the port.");
    return fd;
}

bool door_init(struct door *door, const struct show_admission *limits, uint32_t strangers)
{
    *door = (struct door){
        .max_sessions = limits->max_viewers,
        .max_connections = limits->max_viewers + limits->max_viewers / 2 + SPARE_CONNECTIONS,
        .address_sessions = limits->max_per_address,
        .address_connections = limits->max_per_address + limits->max_per_address / 2 + SPARE_PER_ADDRESS,
    };
    if (strangers > 0)
        door->address_connections = door->max_connections = limits->max_viewers + strangers;
    uint32_t slots = 64;
    while (slots < 2 * door->max_connections) /* never more than half full: a search always ends, and soon */
        slots *= 2;
    door->mask = slots - 1;
    door->table = calloc(slots, sizeof *door->table);
    return door->table != NULL;
}

void door_free(struct door *door)
{
    free(door->table);
    door->table = NULL;
}

static uint32_t home_slot(const struct door *door, uint32_t address)
{
    uint32_t h = address * 2654435769u; /* Fibonacci hashing: golden ratio * 2^32 */
    return (h ^ h >> 15) & door->mask;
}

/* The address' slot, or the free one where it would go. */
static uint32_t find_slot(const struct door *door, uint32_t address)
{
    uint32_t i = home_slot(door, address);
    while (door->table[i].connections > 0 && door->table[i].address != address)
        i = (i + 1) & door->mask;
    return i;
}

/* Frees a slot and moves up whatever had been pushed past it, so that searches still end at the first free slot. */
static void free_slot(struct door *door, uint32_t hole)
{
    uint32_t i = hole;
    for (;;) {
        i = (i + 1) & door->mask;
        if (door->table[i].connections == 0)
            break;
        uint32_t home = home_slot(door, door->table[i].address);
        if (((i - home) & door->mask) < ((i - hole) & door->mask))
            continue; /* its home lies after the hole: it must stay */
        door->table[hole] = door->table[i];
        hole = i;
    }
    door->table[hole] = (struct door_address){0};
}

bool door_enter(struct door *door, uint32_t address)
{
    struct door_address *a = &door->table[find_slot(door, address)];
    if (door->connections >= door->max_connections || a->connections >= door->address_connections)
        return false;
    a->address = address;
    a->connections++;
    door->connections++;
    return true;
}

void door_leave(struct door *door, uint32_t address)
{
    uint32_t slot = find_slot(door, address);
    if (door->table[slot].connections == 0)
        return;
    door->connections--;
    if (--door->table[slot].connections == 0)
        free_slot(door, slot);
}

bool door_begin_session(struct door *door, uint32_t address)
{
    struct door_address *a = &door->table[find_slot(door, address)];
    if (a->connections == 0 || door->sessions >= door->max_sessions || a->sessions >= door->address_sessions)
        return false;
    a->sessions++;
    door->sessions++;
    return true;
}

void door_end_session(struct door *door, uint32_t address)
{
    struct door_address *a = &door->table[find_slot(door, address)];
    if (a->sessions == 0)
        return;
    a->sessions--;
    door->sessions--;
}

uint32_t door_strangers(const struct door *door)
{
    return door->connections - door->sessions;
}

uint32_t door_strangers_of(const struct door *door, uint32_t address)
{
    const struct door_address *a = &door->table[find_slot(door, address)];
    return a->connections - a->sessions;
}
