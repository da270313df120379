/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "bench_show.h"

#include <arpa/inet.h>
#include <dirent.h>
#include <jansson.h>
#include <poll.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { READY_MS = 10000, END_MS = 2000, POLL_MS = 10 };

static uint16_t free_port(void)
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof at;
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    bool ok = fd >= 0 && bind(fd, (struct sockaddr *)&at, sizeof at) == 0 &&
              getsockname(fd, (struct sockaddr *)&at, &size) == 0;
    close(fd);
    return ok ? ntohs(at.sin_port) : 0;
}

bool bench_show_secrets(struct bench_show *show)
{
    struct pass pass = {.role = PASS_OPERATOR, .name = "bench", .expires_s = (uint64_t)time(NULL) + 3600};
    snprintf(show->folder, sizeof show->folder, "/tmp/steadyhand-bench-XXXXXX");
    return mkdtemp(show->folder) && pass_secrets_load(show->folder, &show->secrets) == 0 &&
           pass_mint(show->secrets.passes, &pass, show->operator_pass);
}

/* What the least rig (mini_rig.h) does not measure is not waited for. */
static void forget_sensors(json_t *root)
{
    json_t *sensors = json_object_get(json_object_get(root, "rig"), "sensors");
    json_object_del(sensors, "length");
    json_object_del(sensors, "tension");
    json_object_del(sensors, "tilt");
}

static int set_port(json_t *root, const char *section, const char *key, uint16_t port)
{
    json_t *listener = json_object_get(json_object_get(root, section), key);
    return json_object_set_new(listener, "port", json_integer(port));
}

bool bench_show_write(struct bench_show *show, const char *like, uint16_t rig_port)
{
    json_error_t e;
    json_t *root = json_load_file(like, JSON_REJECT_DUPLICATES, &e);
    if (!root) {
        fprintf(stderr, "bench: %s:%d: %s\n", like, e.line, e.text);
        return false;
    }
    show->audience = free_port();
    show->desk = free_port();
    forget_sensors(root);
    snprintf(show->file, sizeof show->file, "%s/show.json", show->folder);
    bool ok = set_port(root, "rig", "link", rig_port) == 0 &&
              set_port(root, "audience", "listen", show->audience) == 0 &&
              set_port(root, "desk", "listen", show->desk) == 0 && json_dump_file(root, show->file, 0) == 0;
    json_decref(root);
    return ok;
}

void bench_show_remove(struct bench_show *show)
{
    static const char *const files[] = {"show.json", "secret", "bus.sock"};
    char path[128];
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", show->folder, files[i]);
        unlink(path);
    }
    rmdir(show->folder);
}

bool bench_show_pin(int cpu)
{
    cpu_set_t set;
    CPU_ZERO(&set);
    if (cpu >= 0)
        CPU_SET((unsigned)cpu, &set);
    return cpu < 0 || sched_setaffinity(0, sizeof set, &set) == 0;
}

static void become(const struct bench_show *show, const char *binary, const char *verb, int cpu, int out)
{
    sigset_t none;
    sigemptyset(&none);
    sigprocmask(SIG_SETMASK, &none, NULL);
    prctl(PR_SET_PDEATHSIG, SIGKILL); /* nothing is left behind if the bench dies */
    if (!bench_show_pin(cpu))
        fprintf(stderr, "bench: no processor %d: %s runs anywhere\n", cpu, verb);
    dup2(out, STDOUT_FILENO);
    char *const argv[] = {(char *)binary,    (char *)verb,         (char *)show->file,
                          (char *)"--state", (char *)show->folder, NULL};
    execv(binary, argv);
    perror(binary);
    _exit(127);
}

static bool wait_ready(int fd)
{
    struct pollfd p = {.fd = fd, .events = POLLIN};
    char line[512];
    return poll(&p, 1, READY_MS) == 1 && read(fd, line, sizeof line - 1) > 0;
}

pid_t bench_show_start(const struct bench_show *show, const char *binary, const char *verb, int cpu)
{
    int out[2];
    if (pipe(out) != 0)
        return -1;
    pid_t pid = fork();
    if (pid == 0)
        become(show, binary, verb, cpu, out[1]);
    close(out[1]);
    bool ready = pid > 0 && wait_ready(out[0]);
    close(out[0]);
    if (ready)
        return pid;
    fprintf(stderr, "bench: %s does not start\n", verb);
    if (pid > 0)
        bench_show_end(pid);
    return -1;
}

int bench_show_end(pid_t pid)
{
    static const struct timespec pause = {.tv_nsec = POLL_MS * 1000000L};
    int status = -1;
    if (pid <= 0)
        return -1;
    kill(pid, SIGTERM);
    for (int waited = 0; waited < END_MS; waited += POLL_MS) {
        if (waitpid(pid, &status, WNOHANG) == pid)
            return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
        nanosleep(&pause, NULL);
    }
    kill(pid, SIGKILL);
    waitpid(pid, &status, 0);
    return -1;
}

static struct bench_load thread_load(pid_t pid, const char *thread)
{
    char path[300];
    unsigned long long ran = 0, waited = 0;
    snprintf(path, sizeof path, "/proc/%d/task/%s/schedstat", (int)pid, thread);
    FILE *f = fopen(path, "r");
    if (!f)
        return (struct bench_load){0, 0};
    if (fscanf(f, "%llu %llu", &ran, &waited) != 2)
        ran = waited = 0;
    fclose(f);
    return (struct bench_load){(double)ran / 1e9, (double)waited / 1e9};
}

struct bench_load bench_show_load(pid_t pid)
{
    char path[64];
    struct bench_load sum = {0, 0};
    snprintf(path, sizeof path, "/proc/%d/task", (int)pid);
    DIR *dir = opendir(path);
    for (struct dirent *e; dir && (e = readdir(dir));) {
        struct bench_load one = e->d_name[0] == '.' ? (struct bench_load){0, 0} : thread_load(pid, e->d_name);
        sum.ran += one.ran;
        sum.waited += one.waited;
    }
    if (dir)
        closedir(dir);
    return sum;
}
