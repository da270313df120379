/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Telling whoever supervises a process how it is: the notification protocol of sd_notify(3), which is one datagram of
 * lines "NAME=value" to the socket that NOTIFY_SOCKET names: a path, or "@..." for an abstract address. Both ends of
 * it, since `run` stands between a service manager and core. Nothing here allocates or waits.
 */
#ifndef STEADYHAND_NOTIFY_H
#define STEADYHAND_NOTIFY_H

#include <stdbool.h>
#include <sys/socket.h>
#include <sys/types.h>
#include <sys/un.h>

enum { NOTIFY_ADDRESS = 32, NOTIFY_TEXT = 256 };

#define NOTIFY_READY    "READY=1"
#define NOTIFY_BEAT     "WATCHDOG=1"
#define NOTIFY_STOPPING "STOPPING=1"

struct notify {
    int fd; /* -1: nobody is to be told */
    socklen_t len;
    struct sockaddr_un to;
};

/* address: what NOTIFY_SOCKET holds; NULL or empty: nobody is told, which is no error. 0, or -errno: -EINVAL for an
 * address that is none. */
int notify_open(struct notify *notify, const char *address);
void notify_close(struct notify *notify);

/* False if it could not be sent at once, or if nobody is to be told. Any thread. */
bool notify_send(const struct notify *notify, const char *text);

/* The other end: a socket on an abstract address of its own, written into `address` as NOTIFY_SOCKET takes it. Its
 * descriptor, or -errno. */
int notify_listen(char address[NOTIFY_ADDRESS]);

/* Reads one datagram. False if there is none. *from: the process that sent it, as the kernel says. */
bool notify_receive(int fd, pid_t *from, char text[NOTIFY_TEXT]);

/* Is this one of the text's lines? */
bool notify_says(const char *text, const char *line);

#endif
