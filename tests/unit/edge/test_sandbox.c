/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/sandbox.h"

#include <arpa/inet.h>
#include <asm/sockios.h>
#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <sys/wait.h>
#include <unistd.h>

/* What a child inside can still do, one bit each. */
enum { OPENS = 1, DIALS = 2, RUNS_CODE = 4, STARTS = 8, FORKS = 16, GAINS = 32, WORKS = 64, SIGNALS = 128 };

/* Made before the child goes inside, as an edge has them: a listener, both ends of a connection to it, of a pair. */
static int listener, calling, called, pair[2];
static struct sockaddr_in own;

static unsigned try_files_and_sockets(void)
{
    unsigned can = 0;
    can |= open("/etc/passwd", O_RDONLY) >= 0 ? OPENS : 0;
    can |= open("/tmp/steadyhand-sandbox", O_WRONLY | O_CREAT, 0600) >= 0 ? OPENS : 0;
    can |= socket(AF_INET, SOCK_STREAM, 0) >= 0 ? DIALS : 0;
    can |= socket(AF_INET6, SOCK_DGRAM, 0) >= 0 ? DIALS : 0;
    can |= socket(AF_UNIX, SOCK_STREAM, 0) >= 0 ? DIALS : 0;
    return can;
}

/* What it has is not connected to anything else: not by way of nowhere, nor with the first bytes. */
static unsigned try_connecting(void)
{
    unsigned can = 0;
    struct sockaddr nowhere = {.sa_family = AF_UNSPEC};
    struct sockaddr *to = (struct sockaddr *)&own;
    can |= connect(called, &nowhere, sizeof nowhere) == 0 ? DIALS : 0;
    (void)shutdown(listener, SHUT_RDWR); /* an unconnected socket from now on */
    can |= connect(listener, to, sizeof own) == 0 || errno != EPERM ? DIALS : 0;
    can |= sendto(listener, "x", 1, MSG_FASTOPEN, to, sizeof own) >= 0 || errno != EPERM ? DIALS : 0;
    struct iovec text = {"x", 1};
    struct msghdr message = {.msg_name = to, .msg_namelen = sizeof own, .msg_iov = &text, .msg_iovlen = 1};
    can |= sendmsg(listener, &message, MSG_FASTOPEN) >= 0 || errno != EPERM ? DIALS : 0;
    return can;
}

/* Signals to others: directly, or as the owner of a descriptor that becomes readable. */
static unsigned try_signals(void)
{
    unsigned can = 0;
    int parent = (int)getppid();
    struct f_owner_ex owner = {F_OWNER_PID, parent};
    can |= syscall(SYS_tgkill, parent, parent, 0) == 0 ? SIGNALS : 0;
    can |= kill(parent, 0) == 0 ? SIGNALS : 0;
    can |= fcntl(pair[0], F_SETOWN, parent) == 0 ? SIGNALS : 0;
    can |= fcntl(pair[0], F_SETOWN_EX, &owner) == 0 ? SIGNALS : 0;
    can |= fcntl(pair[0], F_SETSIG, SIGKILL) == 0 ? SIGNALS : 0;
    can |= ioctl(pair[0], FIOSETOWN, &parent) == 0 ? SIGNALS : 0;
    can |= ioctl(pair[0], SIOCSPGRP, &parent) == 0 ? SIGNALS : 0;
    can |= ioctl(pair[0], TIOCSTI, "x") == 0 || errno != EPERM ? OPENS : 0;
    return can;
}

static unsigned try_code(void)
{
    unsigned can = 0;
    char *const argv[] = {"true", NULL};
    can |= mmap(NULL, 4096, PROT_READ | PROT_EXEC, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0) != MAP_FAILED ? RUNS_CODE : 0;
    void *page = mmap(NULL, 4096, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    can |= page != MAP_FAILED && mprotect(page, 4096, PROT_READ | PROT_EXEC) == 0 ? RUNS_CODE : 0;
    pid_t child = fork();
    if (child == 0)
        _exit(0);
    can |= child > 0 ? FORKS : 0;
    can |= prctl(PR_GET_NO_NEW_PRIVS, 0, 0, 0, 0) == 0 ? GAINS : 0;
    if (!(can & FORKS) && execv("/bin/true", argv) == 0)
        can |= STARTS;
    return can;
}

/* What serving takes: the sockets it has and those it accepts, memory, descriptors, its own abort(). */
static unsigned try_work(void)
{
    int one = 1, buffer = 16384;
    char byte = 'x';
    void *memory = malloc(1 << 22);
    bool works = memory != NULL;
    free(memory);
    works = works && send(pair[0], &byte, 1, 0) == 1 && recv(pair[1], &byte, 1, 0) == 1;
    works = works && send(calling, &byte, 1, 0) == 1 && read(called, &byte, 1) == 1;
    works = works && fcntl(pair[0], F_SETFL, fcntl(pair[0], F_GETFL) | O_NONBLOCK) == 0;
    works = works && fcntl(pair[0], F_DUPFD_CLOEXEC, 0) >= 0 && ioctl(pair[1], FIONBIO, &one) == 0;
    works = works && setsockopt(called, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one) == 0;
    works = works && setsockopt(called, SOL_SOCKET, SO_SNDBUF, &buffer, sizeof buffer) == 0;
    works = works && accept4(listener, NULL, NULL, SOCK_CLOEXEC) < 0 && errno == EAGAIN;
    works = works && raise(0) == 0;
    return works ? WORKS : 0;
}

static void make_sockets(void)
{
    socklen_t size = sizeof own;
    own = (struct sockaddr_in){.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    listener = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
    calling = socket(AF_INET, SOCK_STREAM, 0);
    cr_assert_eq(bind(listener, (struct sockaddr *)&own, sizeof own), 0);
    cr_assert_eq(listen(listener, 4), 0);
    cr_assert_eq(getsockname(listener, (struct sockaddr *)&own, &size), 0);
    cr_assert_eq(connect(calling, (struct sockaddr *)&own, sizeof own), 0);
    called = accept(listener, NULL, NULL);
    cr_assert_geq(called, 0);
    cr_assert_eq(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, pair), 0);
}

static unsigned in_child(unsigned (*act)(void), unsigned *in_force)
{
    int status, report[2];
    cr_assert_eq(pipe(report), 0);
    make_sockets();
    pid_t child = fork();
    if (child == 0) {
        unsigned parts = sandbox_enter();
        if (write(report[1], &parts, sizeof parts) != sizeof parts)
            _exit(255);
        _exit((int)act());
    }
    cr_assert_eq(read(report[0], in_force, sizeof *in_force), (ssize_t)sizeof *in_force);
    cr_assert_eq(waitpid(child, &status, 0), child);
    cr_assert(WIFEXITED(status), "the child ends by itself");
    return (unsigned)WEXITSTATUS(status);
}

Test(sandbox, forbids_files_and_sockets)
{
    unsigned in_force, can = in_child(try_files_and_sockets, &in_force);
    if (in_force & SANDBOX_FILES)
        cr_expect_not(can & OPENS);
    if (in_force & SANDBOX_CALLS)
        cr_expect_not(can & DIALS);
}

Test(sandbox, forbids_to_connect_what_it_has)
{
    unsigned in_force, can = in_child(try_connecting, &in_force);
    if (in_force & SANDBOX_CALLS)
        cr_expect_eq(can, 0, "%u", can);
}

Test(sandbox, forbids_signals_to_others)
{
    unsigned in_force, can = in_child(try_signals, &in_force);
    if (in_force & SANDBOX_CALLS)
        cr_expect_eq(can, 0, "%u", can);
}

Test(sandbox, forbids_new_code_and_new_processes)
{
    unsigned in_force, can = in_child(try_code, &in_force);
    cr_expect(in_force & SANDBOX_PRIVILEGES);
    if (in_force & SANDBOX_CALLS)
        cr_expect_eq(can & (RUNS_CODE | FORKS | STARTS), 0, "%u", can);
}

Test(sandbox, leaves_what_serving_takes)
{
    unsigned in_force, can = in_child(try_work, &in_force);
    if (in_force & SANDBOX_CALLS)
        cr_expect_eq(can, WORKS);
}

Test(sandbox, descriptors_follow_the_viewers)
{
    struct rlimit limit;
    sandbox_limits(100);
    cr_assert_eq(getrlimit(RLIMIT_NOFILE, &limit), 0);
    cr_expect_eq(limit.rlim_cur, 100 + 50 + 256);
    cr_assert_eq(getrlimit(RLIMIT_CORE, &limit), 0);
    cr_expect_eq(limit.rlim_cur, 0);
}
