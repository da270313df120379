/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Children that do what the test asks for, so that what `run` does about it can be seen. FAKE names a child and a way
 * to misbehave: "core=exit", "edge 0=stubborn", "edge 0=short-lived"; "core=beats" says that it lives, as a real one
 * does. */
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "gateway/notify.h"
#include "gateway/verbs.h"

static bool behaves(const char *name, const char *how)
{
    const char *fake = getenv("FAKE");
    size_t n = strlen(name);
    return fake && strncmp(fake, name, n) == 0 && fake[n] == '=' && strcmp(fake + n + 1, how) == 0;
}

/* Until it is told to end. */
static void beat(const sigset_t *ends)
{
    static const struct timespec period = {.tv_nsec = 100000000};
    struct notify notify;
    if (notify_open(&notify, getenv("NOTIFY_SOCKET")) != 0)
        return;
    do
        (void)notify_send(&notify, NOTIFY_BEAT);
    while (sigtimedwait(ends, NULL, &period) < 0);
    notify_close(&notify);
}

static int wait_for_end(const char *name)
{
    sigset_t set;
    int got;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigprocmask(SIG_BLOCK, &set, NULL);
    printf("%s: ready\n", name);
    fflush(stdout);
    if (behaves(name, "stubborn"))
        for (;;)
            pause();
    if (behaves(name, "short-lived"))
        return 3;
    if (behaves(name, "beats"))
        beat(&set);
    else
        sigwait(&set, &got);
    printf("%s: ended in order\n", name);
    return 0;
}

static int go(const char *name, const struct show *show)
{
    if (behaves(name, "exit")) {
        fprintf(stderr, "%s: cannot be had\n", name);
        return 1;
    }
    printf("a line of %s about %s\n", name, show->name);
    printf("%s is %s\n", name, getenv("NOTIFY_SOCKET") ? "watched" : "not watched");
    return wait_for_end(name);
}

int core_main(const struct show *show, const struct verb_options *opt)
{
    printf("core: listens on %s with %s\n", show->desk.host, opt->state_dir);
    return go("core", show);
}

int edge_main(const struct show *show, const struct verb_options *opt)
{
    char name[16];
    snprintf(name, sizeof name, "edge %d", opt->edge_index);
    return go(name, show);
}

int rig_sim_main(const struct show *show, const struct verb_options *opt)
{
    printf("rig-sim: judge %s\n", opt->judge_path ? opt->judge_path : "none");
    return go("rig-sim", show);
}

int survey_main(const struct show *show, const struct verb_options *opt)
{
    (void)opt;
    return go("survey", show);
}

int swing_main(const struct show *show, const struct verb_options *opt)
{
    (void)opt;
    return go("swing", show);
}
