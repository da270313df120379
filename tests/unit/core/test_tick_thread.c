/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The thread that ticks, with somebody listening where NOTIFY_SOCKET leads: beats come while it ticks and a desk thread
 * lives, and cease with either. Nothing here depends on how soon: only on whether. */
#include <criterion/criterion.h>
#include <errno.h>
#include <stdlib.h>
#include <sys/timerfd.h>
#include <unistd.h>

#include "gateway/core/tick_thread.h"
#include "stand.h"

enum { BEAT_MS = TICK_THREAD_BEAT * 10 };

struct bench {
    struct stand *stand;
    struct tick tick;
    struct tick_thread ticker;
    struct desk_orders orders;
    pthread_t thread;
    int fd;
    char address[NOTIFY_ADDRESS];
};

static void start(struct bench *b)
{
    b->stand = stand_new();
    b->fd = notify_listen(b->address);
    cr_assert_geq(b->fd, 0);
    tick_init(&b->tick, &b->stand->shared, 1);
    cr_assert_eq(tick_thread_open(&b->ticker, &b->tick, b->address), 0);
    cr_assert_eq(pthread_create(&b->thread, NULL, tick_thread_run, &b->ticker), 0);
}

static void end(struct bench *b)
{
    atomic_store(&b->stand->shared.ending, true);
    pthread_join(b->thread, NULL);
    tick_thread_close(&b->ticker);
    close(b->fd);
    stand_free(b->stand);
}

/* Beats heard for `ms`, or until there are `enough`; the desk thread lives meanwhile, if it shall. */
static int beats(struct bench *b, bool desk, int ms, int enough)
{
    char text[NOTIFY_TEXT];
    pid_t from;
    int heard = 0;
    for (int waited = 0; waited < ms && heard < enough; waited += 20) {
        b->orders.alive_ns = stand_now_ns();
        if (desk)
            mailbox_put(&b->stand->shared.orders, &b->orders);
        stand_sleep_ms(20);
        while (notify_receive(b->fd, &from, text)) {
            cr_assert_eq(from, getpid());
            cr_assert_str_eq(text, "WATCHDOG=1");
            heard++;
        }
    }
    return heard;
}

Test(tick_thread, beats_come_while_it_ticks_and_cease_when_it_is_stuck)
{
    static const struct itimerspec never = {{0, 0}, {0, 0}};
    static const struct itimerspec again = {{0, TICK_NS}, {0, TICK_NS}};
    struct bench *b = calloc(1, sizeof *b);
    start(b);
    cr_assert_eq(beats(b, true, 60000, 5), 5);
    cr_assert_eq(timerfd_settime(b->ticker.timer, 0, &never, NULL), 0); /* it waits for ever */
    int last = beats(b, true, 10 * BEAT_MS, 100);
    cr_assert_leq(last, 1, "one may have been under way, but %d came", last);
    cr_assert_eq(timerfd_settime(b->ticker.timer, 0, &again, NULL), 0);
    cr_assert_geq(beats(b, true, 60000, 3), 3);
    end(b);
    free(b);
}

Test(tick_thread, a_core_whose_desk_thread_hangs_does_not_beat)
{
    struct bench *b = calloc(1, sizeof *b);
    start(b);
    cr_assert_geq(beats(b, true, 60000, 3), 3);
    beats(b, false, 2 * (TICK_DESK_NS / 1000000) + BEAT_MS, 100);
    cr_assert_eq(beats(b, false, 10 * BEAT_MS, 100), 0);
    cr_assert_geq(beats(b, true, 60000, 3), 3);
    end(b);
    free(b);
}

Test(tick_thread, without_a_supervisor_it_ticks_all_the_same_and_a_bad_address_is_refused)
{
    struct tick_thread ticker;
    struct tick tick = {.shared = NULL};
    cr_assert_eq(tick_thread_open(&ticker, &tick, NULL), 0);
    cr_assert_not(notify_send(&ticker.notify, NOTIFY_BEAT));
    tick_thread_close(&ticker);
    cr_assert_eq(tick_thread_open(&ticker, &tick, "here"), -EINVAL);
    tick_thread_close(&ticker);
}
