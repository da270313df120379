/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/bus/bus.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

enum {
    BACKLOG = 64,
    /* The kernel doubles it. A few frames, well under a second: what a peer that slept finds is not old news. */
    SEND_BUFFER = 8192,
};

static bool address(struct sockaddr_un *to, const char *path)
{
    *to = (struct sockaddr_un){.sun_family = AF_UNIX};
    size_t len = strlen(path);
    if (len >= sizeof to->sun_path)
        return false;
    memcpy(to->sun_path, path, len + 1);
    return true;
}

static int fail(int fd)
{
    int error = errno;
    close(fd);
    return -error;
}

static int new_socket(void)
{
    int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    return fd < 0 ? -errno : fd;
}

static int keep_short(int fd)
{
    int bytes = SEND_BUFFER;
    return setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &bytes, sizeof bytes) ? fail(fd) : fd;
}

/* The folder is what keeps everybody else out, so it is checked, not trusted. */
static int check_folder(const char *path)
{
    char folder[sizeof((struct sockaddr_un *)0)->sun_path] = ".";
    const char *slash = strrchr(path, '/');
    if (slash) {
        size_t len = slash == path ? 1 : (size_t)(slash - path);
        memcpy(folder, path, len);
        folder[len] = 0;
    }
    struct stat st;
    if (stat(folder, &st))
        return -errno;
    return S_ISDIR(st.st_mode) && st.st_uid == geteuid() && (st.st_mode & 077) == 0 ? 0 : -EPERM;
}

/* Removes a socket left by a core that is gone; touches nothing else. */
static int clear_way(const char *path)
{
    struct stat st;
    if (lstat(path, &st))
        return errno == ENOENT ? 0 : -errno;
    if (!S_ISSOCK(st.st_mode))
        return -EEXIST;
    int probe = bus_connect(path);
    if (probe == -ECONNREFUSED)
        return unlink(path) && errno != ENOENT ? -errno : 0;
    if (probe >= 0)
        close(probe);
    return probe >= 0 || probe == -EAGAIN || probe == -EPROTOTYPE ? -EADDRINUSE : probe;
}

int bus_listen(const char *path)
{
    struct sockaddr_un at;
    if (!address(&at, path))
        return -ENAMETOOLONG;
    int error = check_folder(path);
    if (!error)
        error = clear_way(path);
    if (error)
        return error;
    int fd = new_socket();
    if (fd < 0)
        return fd;
    /* On Linux the mode of an unbound socket is that of the file bind() makes: no moment in which it is wider. */
    if (fchmod(fd, 0600) || bind(fd, (struct sockaddr *)&at, sizeof at) || listen(fd, BACKLOG))
        return fail(fd);
    return fd;
}

int bus_accept(int listener)
{
    int fd;
    do
        fd = accept4(listener, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC);
    while (fd < 0 && (errno == EINTR || errno == ECONNABORTED));
    return fd < 0 ? -errno : keep_short(fd);
}

int bus_connect(const char *path)
{
    struct sockaddr_un to;
    if (!address(&to, path))
        return -ENAMETOOLONG;
    int fd = new_socket();
    if (fd < 0)
        return fd;
    if (connect(fd, (struct sockaddr *)&to, sizeof to))
        return fail(fd);
    return keep_short(fd);
}

int bus_send(int fd, const uint8_t *frame, size_t len)
{
    if (len == 0) /* would read as an end at the other side */
        return -EINVAL;
    if (len > BUS_FRAME_MAX)
        return -EMSGSIZE;
    ssize_t sent;
    do
        sent = send(fd, frame, len, MSG_NOSIGNAL | MSG_DONTWAIT);
    while (sent < 0 && errno == EINTR);
    return sent < 0 ? -errno : 0;
}

ssize_t bus_receive(int fd, uint8_t *frame, size_t size)
{
    ssize_t got;
    /* recv() has no room for ancillary data, so the kernel closes any descriptor that came along. */
    do
        got = recv(fd, frame, size, MSG_DONTWAIT | MSG_TRUNC);
    while (got < 0 && errno == EINTR);
    if (got < 0)
        return errno == ECONNRESET ? 0 : -errno;
    return (size_t)got > size ? -EMSGSIZE : got;
}
