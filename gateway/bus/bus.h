/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The bus between core and its edges on one machine: a Unix SOCK_SEQPACKET socket in a folder only its owner can enter
 * (0700). Every descriptor is non-blocking; a peer that does not read loses scenes (newest wins), it never makes
 * anybody wait.
 */
#ifndef STEADYHAND_BUS_BUS_H
#define STEADYHAND_BUS_BUS_H

#include <sys/types.h>

#include "gateway/bus/frames.h"

/* Listens at path. Returns the descriptor or -errno:
 * -EPERM: the folder is not ours alone (another owner, or a mode beyond 0700): anyone could stand in for core;
 * -EADDRINUSE: another core answers there; -EEXIST: something that is not a socket is there, and is left alone;
 * -ENAMETOOLONG: over 107 bytes. A socket that nobody answers is removed first; the new one has mode 0600. */
int bus_listen(const char *path);

/* Accepts one edge; -EAGAIN if none waits. */
int bus_accept(int listener);

/* Connects to core. Descriptor or -errno (-ENOENT, -ECONNREFUSED: no core there yet; -EAGAIN: busy, try again). */
int bus_connect(const char *path);

/* Sends one frame; 0, -EAGAIN (peer full: dropped), or another -errno (-EPIPE, -ECONNRESET: peer gone; -EINVAL: empty;
 * -EMSGSIZE: over BUS_FRAME_MAX). Never raises SIGPIPE. */
int bus_send(int fd, const uint8_t *frame, size_t len);

/* Receives one frame: its length, 0 if the peer has gone, -EAGAIN if none waits. A frame longer than `size` gives
 * -EMSGSIZE and is dropped. Descriptors a peer attaches are never taken in. A few frames may wait behind each other:
 * read until -EAGAIN and use the last. */
ssize_t bus_receive(int fd, uint8_t *frame, size_t size);

#endif
