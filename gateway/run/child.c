/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/child.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

enum { WORDS = 16, FIRST_WAIT_MS = 200, LONGEST_WAIT_MS = 5000 };
static const char parent_name[] = "STEADYHAND_PARENT", notify_name[] = "NOTIFY_SOCKET";
static const uint64_t settled_ns = UINT64_C(10000000000);

void child_init(struct child *child, const char *verb, int index)
{
    *child = (struct child){.verb = verb, .index = index, .out = -1};
    if (index >= 0)
        snprintf(child->name, sizeof child->name, "%s %d", verb, index);
    else
        snprintf(child->name, sizeof child->name, "%s", verb);
}

struct words {
    const char *word[WORDS];
    int count;
    char index[12], parent[12];
};

/* An option that the verb takes and the user has given. */
static void add(struct words *words, bool takes, const char *name, const char *value)
{
    if (!takes || !value)
        return;
    words->word[words->count++] = name;
    words->word[words->count++] = value;
}

static void make_words(const struct child *child, const char *show_path, const struct verb_options *opt,
                       struct words *words)
{
    bool rig_sim = strcmp(child->verb, "rig-sim") == 0, edge = child->index >= 0;
    *words = (struct words){.word = {"steadyhand", child->verb, show_path}, .count = 3};
    snprintf(words->index, sizeof words->index, "%d", child->index);
    snprintf(words->parent, sizeof words->parent, "%d", (int)getpid());
    add(words, true, "--state", opt->state_dir);
    add(words, !rig_sim, "--web", opt->web_root);
    add(words, !rig_sim, "--lan", opt->lan_host);
    add(words, rig_sim, "--judge", opt->judge_path);
    add(words, edge, "--index", words->index);
    if (opt->quiet)
        words->word[words->count++] = "--quiet";
}

/* In the new process, until exec. */
__attribute__((noreturn)) static void become(const struct words *words, const char *notify, int out)
{
    sigset_t none;
    sigemptyset(&none);
    sigprocmask(SIG_SETMASK, &none, NULL);
    signal(SIGPIPE, SIG_DFL);
    setpgid(0, 0); /* Ctrl-C reaches the parent alone, which ends us in order */
    int null = open("/dev/null", O_RDONLY);
    bool told = notify ? setenv(notify_name, notify, 1) == 0 : unsetenv(notify_name) == 0;
    if (told && dup2(null, 0) >= 0 && dup2(out, 1) >= 0 && dup2(out, 2) >= 0 &&
        setenv(parent_name, words->parent, 1) == 0)
        execv("/proc/self/exe", (char *const *)words->word);
    _exit(127);
}

bool child_follow_parent(void)
{
    const char *parent = getenv(parent_name);
    if (!parent)
        return true;
    return prctl(PR_SET_PDEATHSIG, SIGTERM) == 0 && strtol(parent, NULL, 10) == getppid();
}

int child_start(struct child *child, const char *show_path, const struct verb_options *opt)
{
    int ends[2];
    struct words words;
    make_words(child, show_path, opt, &words);
    if (pipe2(ends, O_CLOEXEC | O_NONBLOCK) != 0) /* a child never waits for who reads its words */
        return -errno;
    pid_t pid = fork();
    int error = errno;
    if (pid == 0)
        become(&words, child->notify, ends[1]);
    close(ends[1]);
    if (pid < 0) {
        close(ends[0]);
        return -error;
    }
    child->pid = pid;
    child->out = ends[0];
    child->ready = false;
    child->len = 0;
    return 0;
}

/* True if this line says that the child is ready. */
static bool pass_line(struct child *child, FILE *to)
{
    size_t n = strlen(child->name);
    child->line[child->len] = '\0';
    child->len = 0;
    bool named = strncmp(child->line, child->name, n) == 0 && child->line[n] == ':';
    if (named)
        fprintf(to, "%s\n", child->line);
    else
        fprintf(to, "%s: %s\n", child->name, child->line);
    fflush(to);
    return named && strncmp(child->line + n, ": ready", 7) == 0;
}

static bool take_bytes(struct child *child, const char *bytes, size_t n, FILE *to)
{
    bool ready = false;
    for (size_t i = 0; i < n; i++) {
        if (bytes[i] != '\n')
            child->line[child->len++] = bytes[i];
        if (bytes[i] == '\n' || child->len == CHILD_LINE - 1)
            ready = pass_line(child, to) || ready;
    }
    return ready;
}

bool child_read(struct child *child, FILE *to)
{
    char bytes[1024];
    ssize_t n = 0;
    bool ready = false;
    while (child->out >= 0 && (n = read(child->out, bytes, sizeof bytes)) > 0)
        ready = take_bytes(child, bytes, (size_t)n, to) || ready;
    if (child->out >= 0 && (n == 0 || (errno != EAGAIN && errno != EINTR))) {
        close(child->out);
        child->out = -1;
    }
    return ready;
}

bool child_ended(struct child *child, FILE *to, int *status)
{
    if (child->pid == 0 || waitpid(child->pid, status, WNOHANG) != child->pid)
        return false;
    child_read(child, to);
    if (child->len > 0)
        pass_line(child, to);
    if (child->out >= 0)
        close(child->out);
    child->out = -1;
    child->pid = 0;
    return true;
}

unsigned child_wait(struct child *child, uint64_t now_ns)
{
    if (child->ready && now_ns - child->ready_ns >= settled_ns)
        child->failures = 0;
    unsigned wait_ms = FIRST_WAIT_MS;
    for (int i = 0; i < child->failures && wait_ms < LONGEST_WAIT_MS; i++)
        wait_ms *= 2;
    if (wait_ms > LONGEST_WAIT_MS)
        wait_ms = LONGEST_WAIT_MS;
    child->failures++;
    child->ready = false;
    child->again_ns = now_ns + wait_ms * UINT64_C(1000000);
    return wait_ms;
}

void child_why(int status, char why[CHILD_WHY])
{
    if (WIFSIGNALED(status))
        snprintf(why, CHILD_WHY, "signal %d, %s", WTERMSIG(status), strsignal(WTERMSIG(status)));
    else
        snprintf(why, CHILD_WHY, "status %d", WEXITSTATUS(status));
}
