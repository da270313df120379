/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/sandbox.h"

#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

/* What a child inside can still do, one bit each. */
enum { OPENS = 1, DIALS = 2, RUNS_CODE = 4, STARTS = 8, FORKS = 16, GAINS = 32, WORKS = 64 };

static unsigned try_files_and_sockets(void)
{
    unsigned can = 0;
    can |= open("/etc/passwd", O_RDONLY) >= 0 ? OPENS : 0;
    can |= open("/tmp/steadyhand-sandbox", O_WRONLY | O_CREAT, 0600) >= 0 ? OPENS : 0;
    can |= socket(AF_INET, SOCK_STREAM, 0) >= 0 ? DIALS : 0;
    can |= socket(AF_INET6, SOCK_DGRAM, 0) >= 0 ? DIALS : 0;
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

/* What serving takes: sockets to core, memory, messages. */
static unsigned try_work(void)
{
    int pair[2], unix_socket = socket(AF_UNIX, SOCK_SEQPACKET, 0);
    char byte = 'x';
    void *memory = malloc(1 << 22);
    bool works = unix_socket >= 0 && memory;
    free(memory);
    works = works && pipe2(pair, 0) != 0; /* not even a pipe is made anew */
    return works && write(unix_socket, &byte, 1) < 0 && errno == ENOTCONN ? WORKS : 0;
}

static unsigned in_child(unsigned (*act)(void), unsigned *in_force)
{
    int status, report[2];
    cr_assert_eq(pipe(report), 0);
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
