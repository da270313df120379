/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/connector.h"

#include <errno.h>
#include <signal.h>
#include <stdint.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <unistd.h>

#include "gateway/bus/bus.h"

/* A control message with one descriptor. */
union control {
    char bytes[CMSG_SPACE(sizeof(int))];
    struct cmsghdr align;
};

static bool answer(int to, int line)
{
    int32_t error = line < 0 ? line : 0;
    union control control = {.bytes = {0}};
    struct iovec text = {&error, sizeof error};
    struct msghdr message = {.msg_iov = &text, .msg_iovlen = 1};
    if (line >= 0) {
        message.msg_control = control.bytes;
        message.msg_controllen = sizeof control.bytes;
        struct cmsghdr *c = CMSG_FIRSTHDR(&message);
        *c = (struct cmsghdr){.cmsg_level = SOL_SOCKET, .cmsg_type = SCM_RIGHTS, .cmsg_len = CMSG_LEN(sizeof line)};
        memcpy(CMSG_DATA(c), &line, sizeof line);
    }
    return sendmsg(to, &message, MSG_NOSIGNAL) == (ssize_t)sizeof error;
}

/* The new process. It keeps nothing of the edge's but its end of the pair, not even the edge's words: whoever reads
 * them learns of the edge's end by theirs. */
__attribute__((noreturn)) static void connect_when_asked(int edge, const char *path, pid_t parent)
{
    char asked;
    bool ready =
        prctl(PR_SET_PDEATHSIG, SIGKILL) == 0 && getppid() == parent && prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0;
    signal(SIGINT, SIG_IGN); /* Ctrl-C reaches the edge too, which ends in order, and then this does */
    signal(SIGTERM, SIG_IGN);
    signal(SIGHUP, SIG_IGN);
    (void)prctl(PR_SET_NAME, "connector");
    if (edge > 0)
        (void)close_range(0, (unsigned)edge - 1, 0);
    (void)close_range((unsigned)edge + 1, ~0u, 0);
    while (ready && recv(edge, &asked, sizeof asked, 0) == (ssize_t)sizeof asked) {
        int line = bus_connect(path);
        ready = answer(edge, line);
        if (line >= 0)
            close(line);
    }
    _exit(0);
}

int connector_start(const char *path)
{
    int pair[2];
    pid_t parent = getpid();
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair) != 0)
        return -errno;
    pid_t child = fork();
    int error = errno;
    if (child == 0)
        connect_when_asked(pair[1], path, parent);
    close(pair[1]);
    if (child > 0)
        return pair[0];
    close(pair[0]);
    return -error;
}

bool connector_ask(int connector)
{
    return send(connector, "c", 1, MSG_DONTWAIT | MSG_NOSIGNAL) == 1;
}

int connector_take(int connector)
{
    int32_t error = 0;
    int line = -EPROTO;
    union control control;
    struct iovec text = {&error, sizeof error};
    struct msghdr message = {
        .msg_iov = &text, .msg_iovlen = 1, .msg_control = control.bytes, .msg_controllen = sizeof control.bytes};
    ssize_t got = recvmsg(connector, &message, MSG_DONTWAIT | MSG_CMSG_CLOEXEC);
    if (got < 0)
        return errno == EAGAIN || errno == EINTR ? -EAGAIN : -EPIPE;
    if (got != (ssize_t)sizeof error)
        return -EPIPE;
    const struct cmsghdr *c = CMSG_FIRSTHDR(&message);
    if (c && c->cmsg_level == SOL_SOCKET && c->cmsg_type == SCM_RIGHTS && c->cmsg_len == CMSG_LEN(sizeof line))
        memcpy(&line, CMSG_DATA(c), sizeof line);
    return error < 0 ? error : line;
}
