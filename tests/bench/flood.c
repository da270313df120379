/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "flood.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "ws_client.h"

enum { VIEWERS_MAX = 1000, MESSAGES_A_SEND = 64 };

static struct ws_client opener; /* one at a time: its buffer is large */

/* A send of several whole messages: votes, sticks and nonsense. And a pong nobody asked for (RFC 6455, 5.5.3), so that
 * the edge does not take a flooder who never reads its pings for dead. */
static size_t make_burst(uint8_t *burst)
{
    static const char *const say[] = {"{\"type\":\"stick\",\"x\":-1,\"y\":0.25,\"z\":0.5}",
                                      "{\"type\":\"vote\",\"round\":1,\"choice\":\"truck-left\"}",
                                      "{\"type\":\"stick\",\"x\":1,\"y\":-0.25,\"z\":0}",
                                      "{\"type\":\"noise\",\"n\":1}"};
    size_t len = 0;
    for (int i = 0; i < MESSAGES_A_SEND; i++) {
        const char *text = say[i % 4];
        len += ws_client_frame(burst + len, text, strlen(text));
    }
    static const uint8_t pong[] = {0x8a, 0x80, 0, 0, 0, 0};
    memcpy(burst + len, pong, sizeof pong);
    return len + sizeof pong;
}

static int open_viewer(uint16_t port)
{
    if (!ws_client_open(&opener, port, "/audience", "steadyhand.audience.1"))
        return -1;
    fcntl(opener.fd, F_SETFL, O_NONBLOCK);
    return opener.fd;
}

/* Whatever the edge says is thrown away. -1: it has closed us. */
static int drain(int fd)
{
    char nowhere[16384];
    ssize_t n;
    do
        n = recv(fd, nowhere, sizeof nowhere, MSG_DONTWAIT);
    while (n == (ssize_t)sizeof nowhere);
    return n == 0 ? -1 : 0;
}

struct viewer {
    size_t left; /* of a burst that did not fit whole */
};

static void push(int fd, struct viewer *v, const uint8_t *burst, size_t len)
{
    for (int i = 0; i < 4; i++) {
        if (v->left == 0)
            v->left = len;
        ssize_t n = send(fd, burst + len - v->left, v->left, MSG_DONTWAIT | MSG_NOSIGNAL);
        if (n <= 0)
            return;
        v->left -= (size_t)n;
    }
}

_Noreturn void flood_run(uint16_t port, int viewers, int seconds, int told)
{
    static struct pollfd p[VIEWERS_MAX];
    static struct viewer v[VIEWERS_MAX];
    static uint8_t burst[(MESSAGES_A_SEND + 1) * WS_CLIENT_FRAME];
    size_t len = make_burst(burst);
    struct rlimit files = {VIEWERS_MAX + 100, VIEWERS_MAX + 100};
    setrlimit(RLIMIT_NOFILE, &files);
    alarm((unsigned)seconds);
    signal(SIGALRM, SIG_DFL);
    for (int i = 0; i < viewers; i++) {
        p[i] = (struct pollfd){.fd = open_viewer(port), .events = POLLIN | POLLOUT};
        if (p[i].fd < 0) {
            fprintf(stderr, "flood: viewer %d was not let in\n", i);
            _exit(1);
        }
    }
    if (write(told, "!", 1) != 1)
        _exit(1);
    for (;;) {
        poll(p, (nfds_t)viewers, 100);
        for (int i = 0; i < viewers; i++) {
            if (p[i].fd >= 0 && p[i].revents & (POLLIN | POLLHUP | POLLERR) && drain(p[i].fd) != 0) {
                close(p[i].fd);
                p[i].fd = -1; /* poll passes over it */
            }
            if (p[i].fd >= 0 && p[i].revents & POLLOUT)
                push(p[i].fd, &v[i], burst, len);
        }
    }
}
