/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A whole server on its own thread, spoken to through sockets. It says back what it is told, and does what some words
 * ask. Whatever fails fails the running test. */
#ifndef STEADYHAND_TEST_ECHO_H
#define STEADYHAND_TEST_ECHO_H

#include <pthread.h>
#include <stdatomic.h>
#include <sys/socket.h>

#include "gateway/serve/serve.h"

enum { ECHO_MAX = 256 };

struct echo {
    struct show_listener listen;
    struct serve *serve;
    pthread_t thread;
    int bell, always;            /* eventfds */
    void (*on_turn)(void *echo); /* once a turn of the loop; NULL: none */
    void *more;
    atomic_int ticks, rings, opened, closed;
    atomic_int late; /* messages of peers that were being closed */
};

/* A server of that many places, which is not running yet. */
struct serve_config echo_config(struct echo *echo, uint32_t max_viewers);

/* Starts it: with the configuration, or as it is. */
void echo_start_as(struct echo *echo, const struct serve_config *cfg);
void echo_start(struct echo *echo, uint32_t max_viewers);

/* Ends it; whoever was opened must have been closed. */
void echo_finish(struct echo *echo);

/* A TCP connection from 127.0.0.who, with 5 s of patience when reading; made a WebSocket; both, from 127.0.0.1. */
int echo_dial(const struct echo *echo, uint8_t who);
void echo_upgrade(const struct echo *echo, int fd);
int echo_open(const struct echo *echo);

/* Asks for a page, with the answer yet to be read. */
void echo_get(int fd, const char *path);

void echo_read(int fd, char *to, size_t len);

/* Sends one frame (first byte as given) of at most 125 bytes. "quit" closes with 4003, "accept" accepts. */
void echo_say(int fd, uint8_t first, const char *text);
void echo_hear(int fd, uint8_t first, const char *text);

/* The connection ends, with or without more before. */
bool echo_ends(int fd);

/* Up to 5 s. */
void echo_wait(atomic_int *value, int least);

#endif
