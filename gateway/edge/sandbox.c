/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/sandbox.h"

#include <asm/ioctls.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/landlock.h>
#include <linux/seccomp.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SANITIZED true
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer) || __has_feature(memory_sanitizer)
#define SANITIZED true
#endif
#endif
#ifndef SANITIZED
#define SANITIZED false
#endif

#if defined(__x86_64__)
#define MACHINE AUDIT_ARCH_X86_64
#elif defined(__aarch64__)
#define MACHINE AUDIT_ARCH_AARCH64
#else
#define MACHINE 0
#endif

enum { SPARE_DESCRIPTORS = 256 };

static void complain(const char *what)
{
    fprintf(stderr, "edge: %s: %s. It goes on without; run it as a user of its own.\n", what, strerror(errno));
}

void sandbox_limits(uint32_t viewers)
{
    const struct rlimit none = {0, 0};
    struct rlimit files;
    (void)setrlimit(RLIMIT_CORE, &none);
    if (getrlimit(RLIMIT_NOFILE, &files) != 0)
        return;
    rlim_t wanted = (rlim_t)viewers + viewers / 2 + SPARE_DESCRIPTORS;
    if (files.rlim_max != RLIM_INFINITY && files.rlim_max < wanted) {
        fprintf(stderr, "edge: only %llu open files are allowed, %llu are wanted for %u viewers. Hint: ulimit -Hn.\n",
                (unsigned long long)files.rlim_max, (unsigned long long)wanted, viewers);
        wanted = files.rlim_max;
    }
    files.rlim_cur = wanted;
    (void)setrlimit(RLIMIT_NOFILE, &files);
}

/* Every right over files that the first version of Landlock knows, and none granted anywhere. */
static bool forbid_files(void)
{
    const struct landlock_ruleset_attr rules = {
        .handled_access_fs = LANDLOCK_ACCESS_FS_EXECUTE | LANDLOCK_ACCESS_FS_WRITE_FILE | LANDLOCK_ACCESS_FS_READ_FILE |
                             LANDLOCK_ACCESS_FS_READ_DIR | LANDLOCK_ACCESS_FS_REMOVE_DIR |
                             LANDLOCK_ACCESS_FS_REMOVE_FILE | LANDLOCK_ACCESS_FS_MAKE_CHAR |
                             LANDLOCK_ACCESS_FS_MAKE_DIR | LANDLOCK_ACCESS_FS_MAKE_REG | LANDLOCK_ACCESS_FS_MAKE_SOCK |
                             LANDLOCK_ACCESS_FS_MAKE_FIFO | LANDLOCK_ACCESS_FS_MAKE_BLOCK |
                             LANDLOCK_ACCESS_FS_MAKE_SYM};
    long fd = syscall(SYS_landlock_create_ruleset, &rules, sizeof rules, 0);
    if (fd < 0)
        return false;
    bool done = syscall(SYS_landlock_restrict_self, (int)fd, 0) == 0;
    close((int)fd);
    return done;
}

/* What the event loop, the sockets and the allocator use once everything is open. */
static const unsigned allowed[] = {
#ifdef __NR_poll
    __NR_poll,
#endif
#ifdef __NR_epoll_wait
    __NR_epoll_wait,
#endif
    __NR_ppoll,       __NR_epoll_pwait, __NR_epoll_ctl,     __NR_accept4,         __NR_accept,
    __NR_recvfrom,    __NR_recvmsg,     __NR_read,          __NR_readv,           __NR_write,
    __NR_writev,      __NR_close,       __NR_shutdown,      __NR_getsockopt,      __NR_getsockname,
    __NR_getpeername, __NR_munmap,      __NR_mremap,        __NR_madvise,         __NR_brk,
    __NR_futex,       __NR_getrandom,   __NR_clock_gettime, __NR_clock_nanosleep, __NR_restart_syscall,
    __NR_getpid,      __NR_gettid,      __NR_rt_sigaction,  __NR_rt_sigprocmask,  __NR_rt_sigreturn,
    __NR_exit,        __NR_exit_group,
};

enum { VALUES = 6 };

/* Calls of which some forms only are allowed: one argument must be one of these values. The others would reach beyond
 * the edge: signals to another process (directly, or by way of a descriptor's owner), characters typed into a terminal,
 * connections steered away from the edges that share the port. */
static const struct form {
    unsigned call, argument, count;
    unsigned value[VALUES];
} forms[] = {
    {__NR_fcntl, 1, 5, {F_GETFD, F_SETFD, F_GETFL, F_SETFL, F_DUPFD_CLOEXEC}},
    {__NR_ioctl, 1, 4, {FIONBIO, FIOCLEX, FIONREAD, TCGETS}},
    {__NR_setsockopt, 2, 4, {TCP_NODELAY, TCP_NOTSENT_LOWAT, SO_SNDBUF, SO_KEEPALIVE}},
};

enum {
    ALLOWED = sizeof allowed / sizeof *allowed,
    FORMS = sizeof forms / sizeof *forms,
    PROGRAM_MAX = 2 * ALLOWED + (3 + 2 * VALUES) * (FORMS + 1) + 32
};

/* Refused like this, a call fails and the edge lives on. */
#define REFUSE (SECCOMP_RET_ERRNO | EPERM)

struct program {
    struct sock_filter code[PROGRAM_MAX];
    unsigned short len;
};

static void add(struct program *p, struct sock_filter instruction)
{
    p->code[p->len++] = instruction;
}

static void load(struct program *p, size_t offset)
{
    add(p, (struct sock_filter)BPF_STMT(BPF_LD | BPF_W | BPF_ABS, (unsigned)offset));
}

static void decide(struct program *p, unsigned verdict)
{
    add(p, (struct sock_filter)BPF_STMT(BPF_RET | BPF_K, verdict));
}

/* Goes on with the next `count` instructions only if the loaded word compares so. */
static void only_if(struct program *p, unsigned short comparison, unsigned value, unsigned char count)
{
    add(p, (struct sock_filter)BPF_JUMP((unsigned short)(BPF_JMP | comparison | BPF_K), value, 0, count));
}

/* An argument's low word, which is first (little-endian); of an int the kernel looks at no more. */
static void load_argument(struct program *p, unsigned argument)
{
    load(p, offsetof(struct seccomp_data, args) + 8 * argument);
}

static void allow_form(struct program *p, const struct form *form)
{
    only_if(p, BPF_JEQ, form->call, (unsigned char)(2 + 2 * form->count));
    load_argument(p, form->argument);
    for (unsigned i = 0; i < form->count; i++) {
        only_if(p, BPF_JEQ, form->value[i], 1);
        decide(p, SECCOMP_RET_ALLOW);
    }
    decide(p, REFUSE);
}

/* No memory that can be executed. */
static void allow_plain_memory(struct program *p)
{
    only_if(p, BPF_JEQ, __NR_mmap, 4);
    load_argument(p, 2);
    only_if(p, BPF_JSET, PROT_EXEC, 1);
    decide(p, REFUSE);
    decide(p, SECCOMP_RET_ALLOW);
}

/* To whom it is connected, not to an address: the latter can connect, too (TCP Fast Open). All 64 bits are a pointer.
 */
static void allow_plain_send(struct program *p)
{
    only_if(p, BPF_JEQ, __NR_sendto, 6);
    load_argument(p, 4);
    only_if(p, BPF_JEQ, 0, 3);
    load(p, offsetof(struct seccomp_data, args) + 8 * 4 + 4);
    only_if(p, BPF_JEQ, 0, 1);
    decide(p, SECCOMP_RET_ALLOW);
    decide(p, REFUSE);
}

static bool forbid_calls(void)
{
    const struct form own_signals = {__NR_tgkill, 0, 1, {(unsigned)getpid()}}; /* abort() */
    struct program p = {.len = 0};
    load(&p, offsetof(struct seccomp_data, arch));
    add(&p, (struct sock_filter)BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, MACHINE, 1, 0));
    decide(&p, REFUSE);
    load(&p, offsetof(struct seccomp_data, nr));
    for (size_t i = 0; i < ALLOWED; i++) {
        only_if(&p, BPF_JEQ, allowed[i], 1);
        decide(&p, SECCOMP_RET_ALLOW);
    }
    for (size_t i = 0; i < FORMS; i++)
        allow_form(&p, &forms[i]);
    allow_form(&p, &own_signals);
    allow_plain_memory(&p);
    allow_plain_send(&p);
    decide(&p, REFUSE);
    const struct sock_fprog filter = {.len = p.len, .filter = p.code};
    return prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &filter) == 0;
}

unsigned sandbox_enter(void)
{
    unsigned in_force = 0;
    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0)
        in_force |= SANDBOX_PRIVILEGES;
    else
        complain("cannot give up new privileges");
    if (SANITIZED || MACHINE == 0)
        return in_force;
    if (forbid_files())
        in_force |= SANDBOX_FILES;
    else
        complain("the kernel has no Landlock to keep it from files");
    if (forbid_calls())
        in_force |= SANDBOX_CALLS;
    else
        complain("the kernel has no seccomp to keep it from system calls");
    return in_force;
}
