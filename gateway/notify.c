/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/notify.h"

#include <errno.h>
#include <stddef.h>
#include <string.h>
#include <unistd.h>

static const socklen_t path_at = offsetof(struct sockaddr_un, sun_path);

int notify_open(struct notify *notify, const char *address)
{
    size_t len = address ? strlen(address) : 0;
    *notify = (struct notify){.fd = -1, .to = {.sun_family = AF_UNIX}};
    if (len == 0)
        return 0;
    if ((address[0] != '/' && address[0] != '@') || len < 2 || len >= sizeof notify->to.sun_path)
        return -EINVAL;
    memcpy(notify->to.sun_path, address, len);
    if (address[0] == '@') /* an abstract address begins with a zero, and ends where its length says */
        notify->to.sun_path[0] = '\0';
    notify->len = path_at + (socklen_t)len + (address[0] == '/');
    notify->fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    return notify->fd >= 0 ? 0 : -errno;
}

void notify_close(struct notify *notify)
{
    if (notify->fd >= 0)
        close(notify->fd);
    notify->fd = -1;
}

bool notify_send(const struct notify *notify, const char *text)
{
    size_t len = strlen(text);
    return notify->fd >= 0 && sendto(notify->fd, text, len, MSG_DONTWAIT | MSG_NOSIGNAL,
                                     (const struct sockaddr *)&notify->to, notify->len) == (ssize_t)len;
}

/* Bound to no address, the kernel chooses an abstract one that is free: unix(7), autobind. */
static int bind_anywhere(int fd, char address[NOTIFY_ADDRESS])
{
    static const int on = 1;
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    socklen_t len = sizeof at;
    if (setsockopt(fd, SOL_SOCKET, SO_PASSCRED, &on, sizeof on) != 0 ||
        bind(fd, (const struct sockaddr *)&at, sizeof(sa_family_t)) != 0 ||
        getsockname(fd, (struct sockaddr *)&at, &len) != 0)
        return -errno;
    size_t name = len - path_at;
    if (name < 2 || name >= NOTIFY_ADDRESS)
        return -ENAMETOOLONG;
    memcpy(address, at.sun_path, name);
    address[0] = '@';
    address[name] = '\0';
    return 0;
}

int notify_listen(char address[NOTIFY_ADDRESS])
{
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0)
        return -errno;
    int err = bind_anywhere(fd, address);
    if (err == 0)
        return fd;
    close(fd);
    return err;
}

static pid_t sender(struct msghdr *msg)
{
    struct ucred who = {.pid = 0};
    for (struct cmsghdr *c = CMSG_FIRSTHDR(msg); c; c = CMSG_NXTHDR(msg, c))
        if (c->cmsg_level == SOL_SOCKET && c->cmsg_type == SCM_CREDENTIALS)
            memcpy(&who, CMSG_DATA(c), sizeof who);
    return who.pid;
}

bool notify_receive(int fd, pid_t *from, char text[NOTIFY_TEXT])
{
    union {
        struct cmsghdr align;
        char bytes[CMSG_SPACE(sizeof(struct ucred))];
    } control;
    struct iovec io = {text, NOTIFY_TEXT - 1};
    struct msghdr msg = {.msg_iov = &io, .msg_iovlen = 1, .msg_control = &control, .msg_controllen = sizeof control};
    ssize_t len = recvmsg(fd, &msg, MSG_DONTWAIT | MSG_CMSG_CLOEXEC);
    if (len < 0)
        return false;
    text[len] = '\0';
    *from = sender(&msg);
    return true;
}

bool notify_says(const char *text, const char *line)
{
    size_t len = strlen(line);
    for (const char *at = text; at; at = strchr(at, '\n') ? strchr(at, '\n') + 1 : NULL)
        if (strncmp(at, line, len) == 0 && (at[len] == '\0' || at[len] == '\n'))
            return true;
    return false;
}
