/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The wall clock is set, a day on and a day back, in the middle of a show: nothing takes notice but whether a pass is
 * still good. The program's own clocks jump; not built with sanitizers, which bring clocks of their own. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <unistd.h>

#include "gateway/core/desk_thread.h"
#include "tests/bench/ws_client.h"
#include "trial.h"

enum { DAY_S = 86400 };

static _Atomic long jump_s;
static _Atomic unsigned asked; /* readings of the wall clock */

static int read_clock(clockid_t clock, struct timespec *t)
{
    int err = (int)syscall(SYS_clock_gettime, clock, t);
    if (clock != CLOCK_REALTIME && clock != CLOCK_REALTIME_COARSE)
        return err;
    asked++;
    t->tv_sec += jump_s;
    return err;
}

int clock_gettime(clockid_t clock, struct timespec *t)
{
    return read_clock(clock, t);
}

time_t time(time_t *to)
{
    struct timespec t;
    read_clock(CLOCK_REALTIME, &t);
    if (to)
        *to = t.tv_sec;
    return t.tv_sec;
}

int gettimeofday(struct timeval *to, void *zone)
{
    struct timespec t;
    (void)zone;
    read_clock(CLOCK_REALTIME, &t);
    *to = (struct timeval){t.tv_sec, t.tv_nsec / 1000};
    return 0;
}

Test(wall_clock, a_tick_never_reads_it)
{
    static const long jumps[] = {DAY_S, -DAY_S, 0};
    struct trial t = trial_begin();
    trial_start(&t);
    unsigned rig = 0; /* the least rig's, which stamps what it gets */
    for (size_t i = 0; i < sizeof jumps / sizeof *jumps; i++) {
        jump_s = jumps[i];
        for (int ticks = 0; ticks < 20; ticks++) {
            unsigned before = asked;
            trial_run(&t, 10);
            rig += asked - before;
            cr_assert_eq(trial_state(&t), STOP_RUNNING, "%s", reason_code(t.report.scene.stop_reason));
        }
    }
    cr_assert_eq(rig, 0u);
    trial_end(&t);
}

static void hello(struct stand *s, struct ws_client *ws, const char *pass)
{
    char text[PASS_MAX + 64];
    snprintf(text, sizeof text, "{\"type\":\"hello\",\"pass\":\"%s\"}", pass);
    cr_assert(ws_client_open(ws, s->show.desk.port, "/desk", "steadyhand.desk.1"));
    cr_assert(ws_client_send(ws, text));
}

static bool beats(struct stand *s, struct ws_client *ws, int n)
{
    char text[64], answer[64];
    snprintf(text, sizeof text, "{\"type\":\"beat\",\"n\":%d}", n);
    snprintf(answer, sizeof answer, "\"type\":\"beat\",\"n\":%d}", n);
    return ws_client_send(ws, text) && stand_told(s, ws, answer);
}

Test(wall_clock, a_desk_stays_and_stops_whatever_it_says)
{
    static const long jumps[] = {DAY_S, -DAY_S, 400 * DAY_S, 0};
    static struct ws_client ws, late;
    struct stand *s = stand_new();
    struct desk_thread *desk = calloc(1, sizeof *desk);
    char pass[PASS_MAX];
    pthread_t thread;
    stand_pass(s, PASS_SPOTTER, "sam", (uint64_t)time(NULL) + 600, pass);
    cr_assert(desk_thread_open(desk, &s->shared, s->files.secrets.passes, NULL));
    cr_assert_eq(pthread_create(&thread, NULL, desk_thread_run, desk), 0);
    hello(s, &ws, pass);
    cr_assert(stand_told(s, &ws, "\"type\":\"room\""));
    for (int i = 0; i < 20; i++) {
        jump_s = jumps[i / 5];
        stand_sleep_ms(60);
        cr_assert(beats(s, &ws, i), "beat %d", i);
        cr_assert(ws_client_send(&ws, "{\"type\":\"stop\"}"));
        cr_assert(stand_told(s, &ws, "\"type\":\"stopped\""), "stop %d", i);
    }
    jump_s = DAY_S;
    hello(s, &late, pass);
    cr_assert_not(stand_told(s, &late, "\"type\":\"welcome\""), "the jump is felt: this pass has expired");
    cr_assert(beats(s, &ws, 20), "and not because nobody is heard any more");
    ws_client_close(&late);
    ws_client_close(&ws);
    serve_stop(desk->serve);
    pthread_join(thread, NULL);
    desk_thread_close(desk);
    free(desk);
    stand_free(s);
}
