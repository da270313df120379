/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "relay.h"

#include <stdint.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

/* epoll and then recv, as any server does, so that the floor is one that a server could reach. */
_Noreturn void relay_run(int tcp, int udp)
{
    struct epoll_event event = {.events = EPOLLIN};
    int epoll = epoll_create1(EPOLL_CLOEXEC);
    epoll_ctl(epoll, EPOLL_CTL_ADD, tcp, &event);
    for (;;) {
        uint8_t bytes[256];
        if (epoll_wait(epoll, &event, 1, -1) != 1)
            continue;
        ssize_t n = recv(tcp, bytes, sizeof bytes, 0);
        if (n <= 0 || send(udp, bytes, (size_t)n, 0) != n)
            _exit(n == 0 ? 0 : 1);
    }
}
