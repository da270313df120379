/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The core process: the only one that talks to the rig. Start-up on one screen: secrets -> sockets -> threads -> memory
 * -> ready; then it sleeps until a signal, stops the rig and ends.
 */
#include <errno.h>
#include <jansson.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "gateway/core/crowd_thread.h"
#include "gateway/core/desk_thread.h"
#include "gateway/core/realtime.h"
#include "gateway/core/tick_thread.h"
#include "gateway/verbs.h"

enum { LAST_STOP_MS = 10, LAST_STOP_TRIES = 30, LAST_STOP_LEAST = 3, DESK_ENDS_MS = 500, PATH_SIZE = 4096 };

struct core {
    struct shared shared;
    struct pass_secrets secrets;
    struct tick tick;
    struct tick_thread ticker;
    struct desk_thread desk;
    struct crowd_thread bus;
    pthread_t tick_id, desk_id, bus_id;
};

static bool complain(const char *what, const char *where, int err, const char *hint)
{
    fprintf(stderr, "core: %s %s: %s. Hint: %s\n", what, where, strerror(err), hint);
    return false;
}

static bool open_mailboxes(struct shared *s)
{
    static const struct desk_orders orders = {0};
    static const struct crowds_sum crowd = {0};
    static const struct shared_report report = {0};
    static const struct scene scene = {0};
    if (mailbox_init(&s->orders, sizeof orders, &orders) && mailbox_init(&s->crowd, sizeof crowd, &crowd) &&
        mailbox_init(&s->report, sizeof report, &report) && mailbox_init(&s->scene, sizeof scene, &scene))
        return true;
    return complain("set-up", "of memory", ENOMEM, "free some");
}

static bool open_rig(struct core *core, const struct show *show)
{
    char where[SHOW_HOST + 8];
    snprintf(where, sizeof where, "%s:%u", show->rig_host, (unsigned)show->rig_port);
    int err = link_open(&core->shared.link, show->rig_host, show->rig_port, core->secrets.rig, show->sensor);
    return err == 0 || complain("rig", where, -err, "check /rig/link in the show file");
}

static bool open_bus(struct core *core, const char *state_dir)
{
    char path[PATH_SIZE];
    snprintf(path, sizeof path, "%s/bus.sock", state_dir);
    int err = crowd_thread_open(&core->bus, &core->shared, path);
    return err == 0 ||
           complain("bus", path, -err,
                    err == -EADDRINUSE     ? "another core runs this show; end that one first"
                    : err == -ENAMETOOLONG ? "a socket's path has at most 107 characters; choose a shorter --state DIR"
                                           : "check the state folder (its owner's alone: chmod 700)");
}

/* Where to number rounds from, so that no vote kept from a run before this one is for a round of this one. Seven a
 * second outrun any show's rounds; six digits can be read aloud. */
static uint32_t first_round(void)
{
    return (uint32_t)((uint64_t)time(NULL) * 7 % 1000000);
}

/* The desk's address is bound before anything is sent to the rig: a second core of the same show ends here, and cannot
 * take the rig from the first. Random seeds and plugins that open files come before the threads. */
static bool open_all(struct core *core, const struct show *show, const struct verb_options *opt)
{
    core->shared.show = show;
    core->shared.link.fd = -1;
    core->ticker.timer = core->ticker.notify.fd = -1;
    json_object_seed(0);
    if (pass_secrets_load(opt->state_dir, &core->secrets) != 0 || !open_mailboxes(&core->shared))
        return false;
    tick_init(&core->tick, &core->shared, first_round());
    stop_line_init(&core->shared.stops, core->tick.policy.stop.count);
    int err = tick_thread_open(&core->ticker, &core->tick, getenv("NOTIFY_SOCKET"));
    if (err != 0)
        return complain("tick", "timer or NOTIFY_SOCKET", -err,
                        err == -EINVAL ? "NOTIFY_SOCKET is a path or @ and a name" : "raise the limit of open files");
    return open_rig(core, show) && desk_thread_open(&core->desk, &core->shared, core->secrets.passes, opt->web_root) &&
           open_bus(core, opt->state_dir);
}

static void close_all(struct core *core)
{
    if (core->bus.shared) /* it was opened */
        crowd_thread_close(&core->bus);
    desk_thread_close(&core->desk);
    tick_thread_close(&core->ticker);
    link_close(&core->shared.link);
    mailbox_free(&core->shared.orders);
    mailbox_free(&core->shared.crowd);
    mailbox_free(&core->shared.report);
    mailbox_free(&core->shared.scene);
    sodium_memzero(&core->secrets, sizeof core->secrets);
}

static void say_degraded(bool fifo, bool locked)
{
    if (!fifo)
        fprintf(stderr,
                "core: runs without real-time priority (not permitted). Ticks may be late under load; a gap of 50 "
                "ms stops the rig. Hint: LimitRTPRIO=70 or the capability CAP_SYS_NICE\n");
    if (!locked)
        fprintf(stderr, "core: memory is not locked (not permitted). Paging may delay a stop. Hint: "
                        "LimitMEMLOCK=infinity\n");
}

static bool start_threads(struct core *core)
{
    bool fifo = true;
    if (!realtime_start(&core->tick_id, REALTIME_TICK, tick_thread_run, &core->ticker, &fifo))
        return complain("thread", "tick", EAGAIN, "raise the limit of processes");
    if (!realtime_start(&core->desk_id, REALTIME_DESK, desk_thread_run, &core->desk, &fifo)) {
        atomic_store(&core->shared.ending, true);
        pthread_join(core->tick_id, NULL);
        return complain("thread", "desk", EAGAIN, "raise the limit of processes");
    }
    if (!realtime_start(&core->bus_id, 0, crowd_thread_run, &core->bus, &fifo)) {
        serve_stop(core->desk.serve);
        pthread_join(core->desk_id, NULL);
        atomic_store(&core->shared.ending, true);
        pthread_join(core->tick_id, NULL);
        return complain("thread", "bus", EAGAIN, "raise the limit of processes");
    }
    bool locked = realtime_lock_memory();
    say_degraded(fifo, locked);
    atomic_store(&core->shared.real_time, fifo);
    atomic_store(&core->shared.locked, locked);
    atomic_store(&core->shared.ready, true);
    return true;
}

/* Of category 1: no drives stay live behind a core that is gone. The tick has latched a stop, or is about to, and goes
 * on to hear the rig's answer: at least for a few ticks, so that the count sent here is that of its latch. A datagram
 * that cannot be sent now is sent again like one that is lost. */
static void stop_rig(struct core *core)
{
    static const struct timespec pause = {.tv_nsec = LAST_STOP_MS * 1000000L};
    for (int i = 0; i < LAST_STOP_TRIES; i++) {
        uint64_t count = atomic_load(&core->shared.stops.count);
        if (i >= LAST_STOP_LEAST && link_stop_confirmed(&core->shared.link, count))
            return;
        (void)link_send_stop(&core->shared.link, count, REASON_STOP_OPERATOR, STOP_CATEGORY_1);
        nanosleep(&pause, NULL);
    }
}

/* False if the desk thread hangs. */
static bool end_desk(struct core *core)
{
    struct timespec until;
    serve_stop(core->desk.serve);
    clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_nsec += DESK_ENDS_MS * 1000000L;
    until.tv_sec += until.tv_nsec / 1000000000L;
    until.tv_nsec %= 1000000000L;
    return pthread_clockjoin_np(core->desk_id, NULL, CLOCK_MONOTONIC, &until) == 0;
}

/* The rig first: it waits for no thread. */
static void end_threads(struct core *core)
{
    atomic_store(&core->shared.stopping, true);
    stop_rig(core);
    if (!end_desk(core)) {
        fprintf(stderr, "core: the desk thread hangs; the rig was told to stop, and core ends without it\n");
        _exit(1);
    }
    atomic_store(&core->shared.ending, true);
    pthread_join(core->tick_id, NULL);
    pthread_join(core->bus_id, NULL);
}

/* After the threads have ended. */
static void summary(const struct core *core)
{
    const struct desk_view *view = &core->tick.report.view;
    const struct lateness *late = &core->tick.late;
    printf(
        "core: ended after %llu ticks, %llu skipped; late by %u us at half of them, %u at 99 %%, %u at 99.9 %%, %u at "
        "worst; %llu page faults\n",
        (unsigned long long)view->ticks, (unsigned long long)view->skipped, lateness_us(late, 0.5),
        lateness_us(late, 0.99), lateness_us(late, 0.999), lateness_us(late, 1), (unsigned long long)view->page_faults);
}

int core_main(const struct show *show, const struct verb_options *opt)
{
    sigset_t ends;
    int ended_by = 0, status = 1;
    struct core *core = calloc(1, sizeof *core);
    if (!core)
        return 1;
    sigemptyset(&ends);
    sigaddset(&ends, SIGTERM);
    sigaddset(&ends, SIGINT);
    pthread_sigmask(SIG_BLOCK, &ends, NULL); /* every thread inherits it; this one alone waits for them */
    signal(SIGPIPE, SIG_IGN);
    realtime_keep_heap();
    if (open_all(core, show, opt) && start_threads(core)) {
        printf("core: ready desk http://%s:%u\n", show->desk.host, (unsigned)show->desk.port);
        fflush(stdout);
        (void)notify_send(&core->ticker.notify, NOTIFY_READY);
        sigwait(&ends, &ended_by);
        (void)notify_send(&core->ticker.notify, NOTIFY_STOPPING);
        end_threads(core);
        if (!opt->quiet)
            summary(core);
        status = 0;
    }
    close_all(core);
    free(core);
    return status;
}
