/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "staged.h"

#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static long now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static void copy_show(const char *to)
{
    char text[16384];
    FILE *from = fopen(GOOD_SHOW, "r"), *out = fopen(to, "w");
    cr_assert(from && out);
    size_t n = fread(text, 1, sizeof text, from);
    cr_assert(n > 1000 && fwrite(text, 1, n, out) == n);
    fclose(from);
    fclose(out);
}

static void launch(struct staged *staged, bool terminal, const char *fake, const char *option)
{
    int ends[2];
    cr_assert_eq(terminal ? openpty(&ends[0], &ends[1], NULL, NULL, NULL) : pipe2(ends, O_CLOEXEC), 0);
    staged->pid = fork();
    if (staged->pid == 0) {
        dup2(ends[1], 1);
        dup2(ends[1], 2);
        prctl(PR_SET_PDEATHSIG, SIGKILL); /* a test that fails leaves nothing behind */
        setenv("FAKE", fake ? fake : "", 1);
        execl(FAKE_STEADYHAND, "steadyhand", "run", staged->show, "--state", staged->state, "--json-ready",
              staged->ready, "--web", "/tmp", option, NULL);
        _exit(127);
    }
    close(ends[1]);
    fcntl(ends[0], F_SETFL, O_NONBLOCK);
    staged->out = ends[0];
}

static void start(struct staged *staged, bool terminal, const char *fake, const char *option)
{
    *staged = (struct staged){.folder = "/tmp/steadyhand-run-XXXXXX"};
    cr_assert(mkdtemp(staged->folder));
    snprintf(staged->show, sizeof staged->show, "%s/show.json", staged->folder);
    snprintf(staged->state, sizeof staged->state, "%s/a/state", staged->folder);
    snprintf(staged->ready, sizeof staged->ready, "%s/ready.json", staged->folder);
    copy_show(staged->show);
    launch(staged, terminal, fake, option);
}

void staged_start(struct staged *staged, const char *fake, const char *option)
{
    start(staged, false, fake, option);
}

void staged_start_in_terminal(struct staged *staged)
{
    start(staged, true, NULL, NULL);
}

void staged_start_again(const struct staged *first, struct staged *second)
{
    *second = *first;
    second->len = 0;
    second->said[0] = '\0';
    launch(second, false, NULL, NULL);
}

static void read_more(struct staged *staged, int ms)
{
    struct pollfd fd = {.fd = staged->out, .events = POLLIN};
    poll(&fd, 1, ms);
    ssize_t n = read(staged->out, staged->said + staged->len, sizeof staged->said - 1 - staged->len);
    if (n == 0)
        usleep(1000);
    staged->len += n > 0 ? (size_t)n : 0;
    staged->said[staged->len] = '\0';
}

const char *staged_wait(struct staged *staged, const char *text, int ms)
{
    long until = now_ms() + ms;
    const char *found;
    while (!(found = strstr(staged->said, text)) && now_ms() < until)
        read_more(staged, 20);
    if (!found)
        kill(staged->pid, SIGKILL);
    cr_assert(found, "it did not say \"%s\" within %d ms, but:\n%s", text, ms, staged->said);
    return found;
}

int staged_end(struct staged *staged, int signal, int ms)
{
    long until = now_ms() + ms;
    int status = 0;
    pid_t ended = 0;
    if (signal)
        kill(staged->pid, signal);
    while ((ended = waitpid(staged->pid, &status, WNOHANG)) == 0 && now_ms() < until)
        read_more(staged, 20);
    read_more(staged, 0);
    if (ended == 0)
        kill(staged->pid, SIGKILL);
    cr_assert_eq(ended, staged->pid, "it did not end within %d ms, but said:\n%s", ms, staged->said);
    return WIFSIGNALED(status) ? -WTERMSIG(status) : WEXITSTATUS(status);
}

struct staged_pids staged_pids(const struct staged *staged)
{
    json_t *ready = json_load_file(staged->ready, 0, NULL);
    json_t *pids = json_object_get(ready, "pids");
    cr_assert(pids, "%s", staged->ready);
    struct staged_pids found = {
        (int)json_integer_value(json_object_get(pids, "core")),
        (int)json_integer_value(json_array_get(json_object_get(pids, "edges"), 0)),
        (int)json_integer_value(json_object_get(pids, "rig_sim")),
    };
    json_decref(ready);
    cr_assert(found.core > 0 && found.edge > 0 && found.rig_sim > 0);
    return found;
}

/* A process that has ended but that nobody has waited for counts as gone: whoever adopts it may be slow. */
static bool lives(int pid)
{
    char path[64], state = 'X';
    snprintf(path, sizeof path, "/proc/%d/stat", pid);
    FILE *stat = fopen(path, "r");
    if (!stat)
        return false;
    int got = fscanf(stat, "%*d (%*[^)]) %c", &state);
    fclose(stat);
    return got == 1 && state != 'Z' && state != 'X';
}

bool staged_gone(int pid, int ms)
{
    long until = now_ms() + ms;
    while (lives(pid) && now_ms() < until)
        usleep(10000);
    return !lives(pid);
}

void staged_clean(struct staged *staged)
{
    char path[160];
    static const char *const files[] = {"a/state/run.lock", "a/state/secret", "a/state/show.json", "ready.json",
                                        "show.json"};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", staged->folder, files[i]);
        unlink(path);
    }
    rmdir(staged->state);
    snprintf(path, sizeof path, "%s/a", staged->folder);
    rmdir(path);
    cr_expect_eq(rmdir(staged->folder), 0, "something is left in %s", staged->folder);
    close(staged->out);
}
