/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "gateway/bus/bus.h"

static char folder[64], path[80];

static void begin(void)
{
    snprintf(folder, sizeof folder, "/tmp/steadyhand-bus-XXXXXX");
    cr_assert(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/bus.sock", folder);
}

static void end(void)
{
    unlink(path);
    chmod(folder, 0700);
    rmdir(folder);
}

TestSuite(bus, .init = begin, .fini = end);

static void pair(int fd[2])
{
    cr_assert_eq(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_NONBLOCK | SOCK_CLOEXEC, 0, fd), 0);
}

static int send_text(int fd, const char *text)
{
    return bus_send(fd, (const uint8_t *)text, strlen(text));
}

static void receives(int fd, const char *text)
{
    uint8_t buf[BUS_FRAME_MAX];
    cr_assert_eq(bus_receive(fd, buf, sizeof buf), (ssize_t)strlen(text));
    cr_assert_arr_eq(buf, text, strlen(text));
}

static void is_private(int fd)
{
    cr_assert(fcntl(fd, F_GETFD) & FD_CLOEXEC);
    cr_assert(fcntl(fd, F_GETFL) & O_NONBLOCK);
}

Test(bus, frames_cross_both_ways_whole_and_in_order)
{
    uint8_t buf[BUS_FRAME_MAX];
    int listener = bus_listen(path);
    cr_assert_geq(listener, 0);
    cr_assert_eq(bus_accept(listener), -EAGAIN);
    int edge = bus_connect(path), core = bus_accept(listener);
    cr_assert(edge >= 0 && core >= 0);
    is_private(listener);
    is_private(edge);
    is_private(core);
    cr_assert_eq(bus_receive(core, buf, sizeof buf), -EAGAIN);
    cr_assert_eq(send_text(edge, "one"), 0);
    cr_assert_eq(send_text(edge, "two"), 0);
    cr_assert_eq(send_text(core, "three"), 0);
    receives(core, "one");
    receives(core, "two");
    receives(edge, "three");
    cr_assert_eq(bus_receive(core, buf, sizeof buf), -EAGAIN);
    close(edge);
    close(core);
    close(listener);
}

Test(bus, the_socket_is_for_its_owner_only)
{
    struct stat st;
    mode_t before = umask(0);
    int fd = bus_listen(path);
    umask(before);
    cr_assert_geq(fd, 0);
    cr_assert_eq(lstat(path, &st), 0);
    cr_assert_eq(st.st_mode & 07777, 0600, "whatever the umask");
    close(fd);
}

Test(bus, a_folder_that_others_may_enter_is_refused)
{
    const mode_t open_modes[] = {0755, 0701, 0710, 0707, 0770, 01777};
    for (size_t i = 0; i < sizeof open_modes / sizeof *open_modes; i++) {
        chmod(folder, open_modes[i]);
        cr_assert_eq(bus_listen(path), -EPERM, "mode %o", open_modes[i]);
        cr_assert_eq(access(path, F_OK), -1);
    }
    cr_assert_eq(bus_listen("/tmp/steadyhand-bus-not-here/bus.sock"), -ENOENT);
    chmod(folder, 0700);
    cr_assert_eq(chdir(folder), 0);
    int fd = bus_listen("bus.sock");
    cr_assert_geq(fd, 0, "the working folder is checked like any other");
    close(fd);
    chmod(folder, 0755);
    cr_assert_eq(bus_listen("bus.sock"), -EPERM);
}

Test(bus, a_folder_of_somebody_else_is_refused)
{
    if (geteuid() != 0)
        cr_skip("only root can give a folder away");
    cr_assert_eq(chown(folder, 12345, 12345), 0);
    cr_assert_eq(bus_listen(path), -EPERM);
    cr_assert_eq(chown(folder, 0, 0), 0);
}

Test(bus, running_out_of_descriptors_is_said_and_leaks_none)
{
    int listener = bus_listen(path), edge = bus_connect(path);
    struct rlimit all, none;
    cr_assert_eq(getrlimit(RLIMIT_NOFILE, &all), 0);
    none = (struct rlimit){.rlim_cur = 0, .rlim_max = all.rlim_max};
    cr_assert_eq(setrlimit(RLIMIT_NOFILE, &none), 0);
    int accepted = bus_accept(listener), connected = bus_connect(path), again = bus_listen(path);
    unlink(path);
    int fresh = bus_listen(path);
    cr_assert_eq(setrlimit(RLIMIT_NOFILE, &all), 0);
    cr_assert_eq(accepted, -EMFILE);
    cr_assert_eq(connected, -EMFILE);
    cr_assert_eq(again, -EMFILE, "not taken for an abandoned socket");
    cr_assert_eq(fresh, -EMFILE);
    int core = bus_accept(listener);
    cr_assert_geq(core, 0, "who waited is still there");
    close(core);
    close(edge);
    close(listener);
}

Test(bus, what_is_not_a_socket_is_left_alone)
{
    char target[96];
    int fd = open(path, O_CREAT | O_WRONLY, 0600);
    cr_assert_eq(write(fd, "kept", 4), 4);
    close(fd);
    cr_assert_eq(bus_listen(path), -EEXIST);
    struct stat st;
    cr_assert(lstat(path, &st) == 0 && S_ISREG(st.st_mode) && st.st_size == 4);
    snprintf(target, sizeof target, "%s/target", folder);
    cr_assert_eq(rename(path, target), 0);
    cr_assert_eq(symlink(target, path), 0);
    cr_assert_eq(bus_listen(path), -EEXIST, "nor is a link followed");
    cr_assert(lstat(path, &st) == 0 && S_ISLNK(st.st_mode));
    unlink(target);
    unlink(path);
    cr_assert_eq(mkdir(path, 0700), 0);
    cr_assert_eq(bus_listen(path), -EEXIST);
    rmdir(path);
}

Test(bus, a_dead_cores_socket_is_replaced_a_living_ones_is_not)
{
    int first = bus_listen(path);
    cr_assert_geq(first, 0);
    cr_assert_eq(bus_listen(path), -EADDRINUSE);
    int edge = bus_connect(path);
    cr_assert_geq(edge, 0, "and the living one still listens");
    close(edge);
    close(first);
    cr_assert_eq(bus_connect(path), -ECONNREFUSED, "left behind");
    int second = bus_listen(path);
    cr_assert_geq(second, 0);
    close(second);
}

Test(bus, a_living_socket_of_another_kind_is_not_taken)
{
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    memcpy(at.sun_path, path, strlen(path) + 1);
    int other = socket(AF_UNIX, SOCK_STREAM, 0);
    cr_assert(bind(other, (struct sockaddr *)&at, sizeof at) == 0 && listen(other, 1) == 0);
    cr_assert_eq(bus_listen(path), -EADDRINUSE);
    cr_assert_eq(access(path, F_OK), 0);
    close(other);
}

Test(bus, connecting_to_nothing_says_so)
{
    char longest[200];
    memset(longest, 'x', sizeof longest);
    longest[sizeof longest - 1] = 0;
    cr_assert_eq(bus_connect(path), -ENOENT);
    cr_assert_eq(bus_connect(longest), -ENAMETOOLONG);
    cr_assert_eq(bus_listen(longest), -ENAMETOOLONG);
}

Test(bus, a_full_backlog_makes_nobody_wait)
{
    int listener = bus_listen(path), fd[200], n = 0;
    for (; n < 200; n++)
        if ((fd[n] = bus_connect(path)) < 0)
            break;
    cr_assert(n > 1 && n < 200);
    cr_assert_eq(fd[n], -EAGAIN);
    cr_assert_eq(bus_listen(path), -EADDRINUSE, "busy is not gone");
    for (int i = 0; i < n; i++)
        close(fd[i]);
    close(listener);
}

Test(bus, frames_too_long_or_empty_are_not_sent)
{
    uint8_t big[BUS_FRAME_MAX + 1] = {0};
    int fd[2];
    pair(fd);
    cr_assert_eq(bus_send(fd[0], big, sizeof big), -EMSGSIZE);
    cr_assert_eq(bus_send(fd[0], big, 0), -EINVAL);
    cr_assert_eq(bus_send(fd[0], big, BUS_FRAME_MAX), 0);
    cr_assert_eq(bus_receive(fd[1], big, BUS_FRAME_MAX), BUS_FRAME_MAX);
}

/* A peer that does not keep to the rules. */
Test(bus, an_oversize_frame_is_dropped_and_the_next_one_read)
{
    uint8_t big[5000] = {1}, buf[BUS_FRAME_MAX + 8];
    int fd[2];
    pair(fd);
    memset(buf, 0x5a, sizeof buf);
    cr_assert_eq(send(fd[0], big, sizeof big, 0), (ssize_t)sizeof big);
    cr_assert_eq(send_text(fd[0], "next"), 0);
    cr_assert_eq(bus_receive(fd[1], buf, BUS_FRAME_MAX), -EMSGSIZE);
    for (size_t i = BUS_FRAME_MAX; i < sizeof buf; i++)
        cr_assert_eq(buf[i], 0x5a);
    receives(fd[1], "next");
}

static int open_descriptors(void)
{
    int n = 0;
    DIR *dir = opendir("/proc/self/fd");
    while (readdir(dir))
        n++;
    closedir(dir);
    return n;
}

Test(bus, descriptors_sent_along_are_not_taken_in)
{
    int fd[2];
    pair(fd);
    union {
        struct cmsghdr align;
        char room[CMSG_SPACE(sizeof(int))];
    } control = {0};
    struct iovec text = {.iov_base = "hello", .iov_len = 5};
    struct msghdr msg = {.msg_iov = &text, .msg_iovlen = 1, .msg_control = control.room};
    msg.msg_controllen = sizeof control.room;
    struct cmsghdr *c = CMSG_FIRSTHDR(&msg);
    *c = (struct cmsghdr){.cmsg_level = SOL_SOCKET, .cmsg_type = SCM_RIGHTS, .cmsg_len = CMSG_LEN(sizeof(int))};
    memcpy(CMSG_DATA(c), &fd[0], sizeof(int));
    int before = open_descriptors();
    for (int i = 0; i < 20; i++) {
        cr_assert_eq(sendmsg(fd[0], &msg, 0), 5);
        receives(fd[1], "hello");
    }
    cr_assert_eq(open_descriptors(), before);
}

/* Sends until the peer is full; says how many frames it took. */
static int fill(int fd)
{
    uint8_t frame[300] = {7};
    int sent = 0, error = 0;
    while (sent < 10000 && (error = bus_send(fd, frame, sizeof frame)) == 0)
        sent++;
    cr_assert_eq(error, -EAGAIN);
    return sent;
}

Test(bus, a_peer_that_does_not_read_costs_nothing_and_finds_little_old_news)
{
    uint8_t buf[BUS_FRAME_MAX];
    int listener = bus_listen(path), edge = bus_connect(path), core = bus_accept(listener);
    const int way[2][2] = {{core, edge}, {edge, core}};
    for (int i = 0; i < 2; i++) {
        int sent = fill(way[i][0]), got = 0;
        cr_assert(sent >= 2 && sent <= 40, "%d frames wait: at 20 a second that is %d ms", sent, sent * 50);
        cr_assert_eq(fill(way[i][0]), 0, "still full, still at once");
        while (bus_receive(way[i][1], buf, sizeof buf) == 300)
            got++;
        cr_assert_eq(got, sent);
        cr_assert_eq(send_text(way[i][0], "again"), 0);
        receives(way[i][1], "again");
    }
}

Test(bus, a_dead_peer_is_told_from_a_silent_one)
{
    uint8_t buf[BUS_FRAME_MAX];
    int fd[2];
    signal(SIGPIPE, SIG_DFL);
    pair(fd);
    cr_assert_eq(send_text(fd[0], "last words"), 0);
    close(fd[0]);
    receives(fd[1], "last words");
    cr_assert_eq(bus_receive(fd[1], buf, sizeof buf), 0);
    cr_assert_eq(send_text(fd[1], "hello?"), -EPIPE, "and no signal ends us");
    pair(fd);
    cr_assert_eq(send_text(fd[1], "never read"), 0);
    close(fd[0]);
    cr_assert_eq(bus_receive(fd[1], buf, sizeof buf), 0, "gone with unread frames is gone too");
}

/* What a dying or hostile edge may leave on the line is read as frames or dropped, whatever it is. */
Test(bus, rubbish_on_the_line_reaches_the_decoder_and_stops_there)
{
    uint8_t buf[BUS_FRAME_MAX], good[BUS_FRAME_MAX];
    struct snapshot s = {.seq = 1, .round = 2, .tally = {.viewers = 1}}, got;
    size_t len = frames_encode_snapshot(&s, good, sizeof good);
    int fd[2], refused = 0;
    pair(fd);
    for (size_t n = 1; n < 1200; n += 13) {
        uint8_t rubbish[1200];
        memset(rubbish, (int)n, sizeof rubbish);
        cr_assert_eq(send(fd[0], rubbish, n, 0), (ssize_t)n);
        ssize_t r = bus_receive(fd[1], buf, sizeof buf);
        refused += r < 0 || !frames_decode_snapshot(buf, (size_t)r, &got);
    }
    cr_assert_eq(refused, 93);
    cr_assert_eq(bus_send(fd[0], good, len), 0);
    ssize_t r = bus_receive(fd[1], buf, sizeof buf);
    cr_assert(r == (ssize_t)len && frames_decode_snapshot(buf, (size_t)r, &got) && got.round == 2);
}
