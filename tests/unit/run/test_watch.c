/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* `run` between a service manager, which the test plays, and a core that beats: what is passed on, from whom, and what
 * becomes of a core that falls silent. */
#include "gateway/run/watch.h"

#include <criterion/criterion.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "staged.h"

enum { AGAIN_MS = 20000, BEAT_MS = 100 };

static struct staged show;
static int manager;

static void start(const char *fake)
{
    char address[NOTIFY_ADDRESS];
    manager = notify_listen(address);
    cr_assert_geq(manager, 0);
    setenv("NOTIFY_SOCKET", address, 1);
    staged_start(&show, fake, "--quiet");
}

/* Datagrams that say this, until there are `enough` or `ms` have passed. All come from run itself. */
static int heard(const char *line, int enough, int ms)
{
    char text[NOTIFY_TEXT];
    pid_t from;
    int n = 0;
    for (int waited = 0; waited < ms && n < enough; waited += 10) {
        usleep(10000);
        while (notify_receive(manager, &from, text)) {
            cr_assert_eq(from, show.pid);
            n += notify_says(text, line);
        }
    }
    return n;
}

/* core's NOTIFY_SOCKET, as it was started with. */
static void address_of(pid_t core, char address[NOTIFY_ADDRESS])
{
    static char environ_text[1 << 16];
    char path[64];
    snprintf(path, sizeof path, "/proc/%d/environ", (int)core);
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    ssize_t n = read(fd, environ_text, sizeof environ_text - 1);
    close(fd);
    for (char *at = environ_text; at < environ_text + (n > 0 ? n : 0); at += strlen(at) + 1)
        if (strncmp(at, "NOTIFY_SOCKET=", 14) == 0)
            snprintf(address, NOTIFY_ADDRESS, "%s", at + 14);
}

Test(watch, core_s_beats_are_passed_on_and_cease_with_it)
{
    start("core=beats");
    cr_assert_geq(heard(NOTIFY_BEAT, 3, AGAIN_MS), 3);
    staged_wait(&show, "show: ready", AGAIN_MS);
    cr_assert(strstr(show.said, "core is watched") && strstr(show.said, "edge 0 is not watched") &&
              strstr(show.said, "rig-sim is not watched"));
    struct staged_pids before = staged_pids(&show);
    kill(before.core, SIGSTOP);
    int tries = 0; /* what was under way comes first, however late */
    while (heard(NOTIFY_BEAT, 1000, 15 * BEAT_MS) > 0)
        cr_assert_lt(tries++, 10, "a core that is frozen goes on beating");
    staged_wait(&show, "core hangs: ", AGAIN_MS);
    staged_wait(&show, "show: core is back, parked: arm and go at the desk lead on", AGAIN_MS);
    cr_assert_neq(staged_pids(&show).core, before.core);
    cr_assert_geq(heard(NOTIFY_BEAT, 3, AGAIN_MS), 3);
    kill(show.pid, SIGTERM);
    cr_assert_eq(heard(NOTIFY_STOPPING, 1, AGAIN_MS), 1);
    cr_assert_eq(staged_end(&show, 0, AGAIN_MS), 0, "%s", show.said);
    staged_clean(&show);
}

Test(watch, ready_is_said_and_nobody_else_can_beat)
{
    char address[NOTIFY_ADDRESS] = "";
    struct notify liar;
    start(NULL); /* a core that never beats is not waited for */
    cr_assert_eq(heard(NOTIFY_READY, 1, AGAIN_MS), 1);
    staged_wait(&show, "show: ready", AGAIN_MS);
    address_of(staged_pids(&show).core, address);
    cr_assert_eq(notify_open(&liar, address), 0);
    for (int i = 0; i < 10; i++)
        cr_assert(notify_send(&liar, NOTIFY_BEAT));
    cr_assert_eq(heard(NOTIFY_BEAT, 1, 10 * BEAT_MS), 0);
    notify_close(&liar);
    cr_assert_eq(staged_end(&show, SIGTERM, AGAIN_MS), 0, "%s", show.said);
    staged_clean(&show);
}

Test(watch, an_address_that_is_none_is_said)
{
    setenv("NOTIFY_SOCKET", "somewhere", 1);
    staged_start(&show, NULL, "--quiet");
    cr_assert_eq(staged_end(&show, 0, AGAIN_MS), 1);
    cr_assert(strstr(show.said, "NOTIFY_SOCKET is neither a path nor"), "%s", show.said);
    staged_clean(&show);
}

Test(watch, a_core_owes_nothing_until_it_has_beaten)
{
    struct watch watch;
    struct notify core;
    cr_assert_eq(watch_open(&watch, NULL), 0);
    cr_assert_eq(watch_due_ns(&watch), UINT64_MAX);
    cr_assert_eq(notify_open(&core, watch.address), 0);
    cr_assert(notify_send(&core, NOTIFY_READY));
    watch_hear(&watch, getpid(), 1000);
    cr_assert_eq(watch_due_ns(&watch), UINT64_MAX);
    cr_assert(notify_send(&core, NOTIFY_BEAT));
    watch_hear(&watch, getpid() + 1, 1000);
    cr_assert_eq(watch_due_ns(&watch), UINT64_MAX, "another's");
    cr_assert(notify_send(&core, NOTIFY_BEAT));
    watch_hear(&watch, getpid(), 1000);
    cr_assert_eq(watch_due_ns(&watch), 1000 + WATCH_SILENT_S * UINT64_C(1000000000));
    watch_begin(&watch);
    cr_assert_eq(watch_due_ns(&watch), UINT64_MAX);
    notify_close(&core);
    watch_close(&watch);
}
