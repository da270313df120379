/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A whole show on one machine: starts the simulated rig (if the show has one), core and the edges, each when those
 * before it are ready, and starts anew what dies. A core that comes back is disarmed by its nature: it begins parked,
 * and only arm and go at the desk lead on.
 */
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include "gateway/clock.h"
#include "gateway/run/addresses.h"
#include "gateway/run/child.h"
#include "gateway/run/state_dir.h"
#include "gateway/run/watch.h"

enum { EDGES = 16, CHILDREN = EDGES + 2, TRIES = 3, START_S = 15, CORE_END_S = 2, END_S = 2 };

struct run {
    const struct verb_options *opt;
    char show_copy[4096];
    struct addresses addresses;
    struct child child[CHILDREN];
    int children;
    struct child *core;
    struct watch watch;
    int signals; /* signalfd */
    bool announced;
    bool ending; /* nothing is started any more */
    int asked;   /* times somebody asked us to end */
    int status;
};

static const uint64_t second = UINT64_C(1000000000);

static void say(const char *name, const char *what)
{
    printf("show: %s%s%s\n", name, name[0] ? " " : "", what);
    fflush(stdout);
}

static void fail(struct run *run, const char *name, const char *what)
{
    fprintf(stderr, "show: %s %s\n", name, what);
    run->ending = true;
    run->status = 1;
}

/* ---- addresses ---- */

static void write_ready(const struct run *run)
{
    struct addresses_pids pids = {.core = run->core->pid};
    for (int i = 0; i < run->children; i++) {
        const struct child *child = &run->child[i];
        if (child->index >= 0)
            pids.edge[pids.edges++] = child->pid;
        else if (child != run->core)
            pids.rig_sim = child->pid;
    }
    if (run->opt->json_ready)
        addresses_write(&run->addresses, &pids, run->opt->json_ready);
}

static void announce(struct run *run)
{
    for (int i = 0; i < run->children; i++)
        if (!run->child[i].ready)
            return;
    run->announced = true;
    write_ready(run);
    say("", "ready");
    (void)notify_send(&run->watch.manager, NOTIFY_READY);
    if (!run->opt->quiet)
        addresses_print(&run->addresses, run->opt->print_passes || isatty(STDOUT_FILENO), stdout);
}

/* ---- what children do ---- */

static void is_ready(struct run *run, struct child *child)
{
    bool back = child->was_ready;
    child->ready = child->was_ready = true;
    child->ready_ns = clock_now_ns();
    if (!run->announced) {
        announce(run);
        return;
    }
    write_ready(run);
    if (back)
        say(child->name, child == run->core ? "is back, parked: arm and go at the desk lead on" : "is back");
}

/* A process that gives up by itself before it was ever ready has said why, and would say it again. */
static bool hopeless(const struct child *child, int status)
{
    return !child->was_ready && (WIFEXITED(status) || child->failures >= TRIES);
}

static void has_ended(struct run *run, struct child *child, int status)
{
    char why[CHILD_WHY], text[160];
    child_why(status, why);
    if (run->ending) {
        bool well =
            (WIFEXITED(status) && WEXITSTATUS(status) == 0) || (WIFSIGNALED(status) && WTERMSIG(status) == SIGTERM);
        snprintf(text, sizeof text, "ended badly (%s)", why);
        if (!well)
            fail(run, child->name, text);
        return;
    }
    if (hopeless(child, status)) {
        snprintf(text, sizeof text, "cannot start (%s); the reason is above", why);
        fail(run, child->name, text);
        return;
    }
    unsigned wait_ms = child_wait(child, clock_now_ns());
    snprintf(text, sizeof text, "ended (%s); starting it again in %.1f s", why, wait_ms / 1000.0);
    say(child->name, text);
}

/* Starts what is due, in order: nothing before all ahead of it have been ready once. */
static void start_due(struct run *run)
{
    for (int i = 0; i < run->children; i++) {
        struct child *child = &run->child[i];
        if (child->pid == 0 && child->again_ns <= clock_now_ns()) {
            if (child == run->core)
                watch_begin(&run->watch);
            int error = child_start(child, run->show_copy, run->opt);
            if (error < 0) {
                child_wait(child, clock_now_ns());
                say(child->name, strerror(-error));
            }
        }
        if (!child->was_ready)
            return;
    }
}

/* ---- the loop ---- */

static void read_signals(struct run *run)
{
    struct signalfd_siginfo info;
    while (read(run->signals, &info, sizeof info) == sizeof info)
        if (info.ssi_signo != SIGCHLD)
            run->asked++;
}

static void reap(struct run *run)
{
    int status;
    for (int i = 0; i < run->children; i++)
        if (child_ended(&run->child[i], stdout, &status))
            has_ended(run, &run->child[i], status);
}

/* Waits for something to happen, until `until_ns` at most, and deals with it. */
static void turn(struct run *run, uint64_t until_ns)
{
    struct pollfd fds[CHILDREN + 2] = {{.fd = run->signals, .events = POLLIN}};
    for (int i = 0; i < run->children; i++)
        fds[i + 1] = (struct pollfd){.fd = run->child[i].out, .events = POLLIN};
    fds[run->children + 1] = (struct pollfd){.fd = run->watch.fd, .events = POLLIN};
    uint64_t now = clock_now_ns();
    int ms = until_ns > now ? (int)((until_ns - now) / 1000000 + 1) : 0;
    poll(fds, (nfds_t)run->children + 2, ms);
    read_signals(run);
    watch_hear(&run->watch, run->core->pid, clock_now_ns());
    for (int i = 0; i < run->children; i++)
        if (fds[i + 1].revents && child_read(&run->child[i], stdout) && !run->ending)
            is_ready(run, &run->child[i]);
    reap(run);
}

static uint64_t next_due(const struct run *run, uint64_t start_by)
{
    uint64_t due = run->announced ? clock_now_ns() + 60 * second : start_by;
    for (int i = 0; i < run->children; i++)
        if (run->child[i].pid == 0 && run->child[i].again_ns > 0 && run->child[i].again_ns < due)
            due = run->child[i].again_ns;
    return due < watch_due_ns(&run->watch) ? due : watch_due_ns(&run->watch);
}

/* A core whose ticks have ceased, or whose desk thread hangs, says no more. The rig has braked by itself long before.
 */
static void end_if_hanging(struct run *run)
{
    if (run->core->pid <= 0 || clock_now_ns() < watch_due_ns(&run->watch))
        return;
    say("core", "hangs: it has not ticked for 5 s, or cannot hear its desk; ending it");
    watch_begin(&run->watch);
    kill(run->core->pid, SIGKILL);
}

static void late(struct run *run)
{
    for (int i = 0; i < run->children; i++)
        if (!run->child[i].ready) {
            fail(run, run->child[i].name, "is not ready in time; is the machine busy, or its reason above?");
            return;
        }
}

static void supervise(struct run *run)
{
    uint64_t start_by = clock_now_ns() + START_S * second;
    while (!run->ending && run->asked == 0) {
        start_due(run);
        turn(run, next_due(run, start_by));
        end_if_hanging(run);
        if (!run->announced && clock_now_ns() >= start_by)
            late(run);
    }
    run->ending = true;
}

/* ---- the end ---- */

static bool lives(const struct run *run, const struct child *only)
{
    for (int i = 0; i < run->children; i++)
        if (run->child[i].pid > 0 && (!only || only == &run->child[i]))
            return true;
    return false;
}

static void ask_to_end(struct run *run, const struct child *only, int seconds)
{
    uint64_t until_ns = clock_now_ns() + (uint64_t)seconds * second;
    int asked = run->asked;
    for (int i = 0; i < run->children; i++)
        if (run->child[i].pid > 0 && (!only || only == &run->child[i]))
            kill(run->child[i].pid, SIGTERM);
    while (lives(run, only) && clock_now_ns() < until_ns && run->asked == asked)
        turn(run, until_ns);
}

/* Core first: its last act is a stop to the rig. */
static void end_all(struct run *run)
{
    say("", "ending");
    (void)notify_send(&run->watch.manager, NOTIFY_STOPPING);
    ask_to_end(run, run->core, CORE_END_S);
    ask_to_end(run, NULL, END_S);
    for (int i = 0; i < run->children; i++) {
        struct child *child = &run->child[i];
        if (child->pid == 0)
            continue;
        fprintf(stderr, "show: %s does not end; killed\n", child->name);
        run->status = 1;
        kill(child->pid, SIGKILL);
        waitpid(child->pid, NULL, 0);
        child->pid = 0;
    }
    if (run->opt->json_ready && run->announced)
        unlink(run->opt->json_ready);
}

static void add(struct run *run, const char *verb, int index)
{
    child_init(&run->child[run->children++], verb, index);
}

static int open_signals(void)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGHUP);
    sigaddset(&set, SIGCHLD);
    sigprocmask(SIG_BLOCK, &set, NULL);
    signal(SIGPIPE, SIG_IGN);
    return signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
}

int run_main(const struct show *show, const struct verb_options *opt)
{
    struct run run = {.opt = opt, .signals = -1};
    int hold = state_dir_hold(opt->state_dir);
    if (hold < 0 || !state_dir_keep_show(opt->state_dir, opt->show_path, run.show_copy, sizeof run.show_copy) ||
        !addresses_make(show, opt->state_dir, &run.addresses))
        return 1;
    if (!opt->web_root)
        fprintf(stderr, "show: no built pages found, so none are served. Hint: node web/build.mjs, or --web DIR\n");
    if (show->sim.enabled)
        add(&run, "rig-sim", -1);
    run.core = &run.child[run.children];
    add(&run, "core", -1);
    for (int i = 0; i < show->edges && i < EDGES; i++)
        add(&run, "edge", i);
    run.signals = open_signals();
    if (run.signals < 0)
        fail(&run, "signals", strerror(errno));
    int error = watch_open(&run.watch, getenv("NOTIFY_SOCKET"));
    if (error != 0)
        fail(&run, "NOTIFY_SOCKET",
             error == -EINVAL ? "is neither a path nor @ and a name; unset it, or let the service manager set it"
                              : strerror(-error));
    run.core->notify = run.watch.address;
    supervise(&run);
    end_all(&run);
    explicit_bzero(&run.addresses, sizeof run.addresses);
    close(run.signals);
    watch_close(&run.watch);
    close(hold);
    return run.status;
}
