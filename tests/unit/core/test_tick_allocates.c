/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Ticks ask for no memory, and after the first few wait for no page: the demo show with all its sensors on the whole
 * simulated rig, in virtual time, while everything is in use: sticks and votes, head and home, limits and set-up,
 * stops, resets and goes. The rig runs between the ticks, and is not counted.
 *
 * The kernel may move a page at any time, locked or not, and whoever touches it next waits; what the code itself does
 * is the same in every round. So there are several rounds, and one of them must be clean.
 */
#include <arpa/inet.h>
#include <criterion/criterion.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include "asked.h"
#include "gateway/core/realtime.h"
#include "gateway/core/tick.h"
#include "gateway/rig/sim_rig.h"
#include "stand.h"

enum { WARM = 1500, ROUND = 1500, ROUNDS = 4, PEER = 1 };

struct bench {
    struct show show;
    struct shared shared;
    struct tick tick;
    struct sim_rig rig;
    struct desk_orders orders;
    struct crowds_sum crowd;
    struct shared_report report;
    struct sockaddr_in core;
    int fd;
    uint64_t n, now_ns, faults, running;
};

static uint16_t bind_anywhere(int fd)
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof at;
    cr_assert_eq(bind(fd, (struct sockaddr *)&at, sizeof at), 0);
    cr_assert_eq(getsockname(fd, (struct sockaddr *)&at, &size), 0);
    return ntohs(at.sin_port);
}

static struct bench *begin(void)
{
    static const uint8_t master[SEAL_KEY] = {3, 1, 4};
    const struct sim_rig_options opt = {.seed = 1, .nonce_key = {7}, .start_ns = 1000000000};
    const char *why;
    struct bench *b = calloc(1, sizeof *b);
    cr_assert(b && show_load(SHOW_FILE, &b->show, stderr) == 0);
    b->fd = socket(AF_INET, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    uint16_t port = bind_anywhere(b->fd);
    b->show.crowd.poll.round_ns = 2000000000; /* several while this lasts */
    b->shared.show = &b->show;
    stand_mailboxes(&b->shared);
    stop_line_init(&b->shared.stops, 1);
    cr_assert_eq(link_open(&b->shared.link, "127.0.0.1", port, master, b->show.sensor), 0);
    cr_assert(sim_rig_init(&b->rig, &b->show, master, &opt, &why), "%s", why);
    tick_init(&b->tick, &b->shared, 1);
    b->now_ns = stand_now_ns();
    b->orders.audience_scale = 1;
    (void)realtime_lock_memory(); /* where it may not, pages once touched stay all the same */
    return b;
}

static void end(struct bench *b)
{
    stand_close(&b->shared);
    close(b->fd);
    free(b);
}

/* The rig's ten milliseconds. */
static void run_rig(struct bench *b)
{
    uint8_t buf[WIRE_MAX + 1];
    const struct sim_datagram *d;
    socklen_t len = sizeof b->core;
    ssize_t got;
    while ((got = recvfrom(b->fd, buf, sizeof buf, 0, (struct sockaddr *)&b->core, &len)) >= 0)
        sim_rig_arrive(&b->rig, b->rig.now_ns, PEER, buf, (size_t)got);
    sim_rig_run(&b->rig, b->rig.now_ns + TICK_NS);
    while ((d = sim_rig_depart(&b->rig, b->rig.now_ns)))
        (void)sendto(b->fd, d->bytes, d->len, 0, (const struct sockaddr *)&b->core, sizeof b->core);
}

static void press(struct bench *b, enum stop_event what)
{
    const struct desk_event event = {what, b->report.view.stop_count, stop_line_asked(&b->shared.stops)};
    desk_orders_press(&b->orders, &event);
}

/* Whatever people do, each at its own pace. A stop every seven seconds, then whatever leads on. */
static void people(struct bench *b)
{
    static const double way[][3] = {{1, 0, 0}, {-1, 1, 0}, {0, -1, -1}, {0.3, 0.2, 1}, {0, 0, 0}};
    const double *stick = way[b->n / 150 % 5];
    struct desk_orders *o = &b->orders;
    o->alive_ns = o->presence_ns = o->spotter_ns = o->held_ns = o->stick_ns = o->head_ns = b->now_ns;
    o->held = b->n / 400 % 2 == 0;
    o->stick = (struct vec3){stick[0], stick[1], stick[2]};
    for (int i = 0; i < HEAD_AXES; i++)
        o->head[i] = b->n / 130 % 3 == 0 ? stick[i % 3] : 0;
    o->homes += b->n % 350 == 349;
    o->mode = b->n / 1000 % 2 ? CROWD_POLL : CROWD_BLEND;
    if (b->n % 700 == 600)
        stop_line_press(&b->shared.stops, REASON_STOP_SPOTTER, STOP_CATEGORY_2);
    o->setup = b->n / 700 % 3 == 1;
    if (b->n % 700 == 630) {
        struct desk_asked_limit asked = {{LANE_AUDIENCE, 0.1 + 0.05 * (double)(b->n / 700 % 2), NAN, NAN}, true};
        desk_orders_ask(o, &asked);
    }
    static const enum stop_event next[STOP_STATE_COUNT] = {
        [STOP_PARKED] = STOP_EVENT_ARM, [STOP_LATCHED] = STOP_EVENT_RESET, [STOP_ARMED] = STOP_EVENT_GO};
    bool stopping = b->n % 700 >= 600 && b->n % 700 < 640;
    if (!stopping && b->n % 20 == 0 && next[b->report.scene.stop_state] != STOP_EVENT_NONE)
        press(b, next[b->report.scene.stop_state]);
    mailbox_put(&b->shared.orders, o);
}

static void crowd(struct bench *b)
{
    struct crowds_sum *c = &b->crowd;
    *c = (struct crowds_sum){.made_ns = b->now_ns, .edges = 1, .round = b->report.scene.round};
    c->tally.viewers = 9;
    c->tally.votes[b->n / 300 % CHOICE_COUNT] = 8;
    c->tally.sticks = 5;
    for (int axis = 0; axis < TALLY_AXES; axis++)
        c->tally.stick[axis][(b->n / 200 + (uint64_t)axis * 9) % TALLY_BINS] = 5;
    mailbox_put(&b->shared.crowd, c);
}

static uint64_t faults(void)
{
    struct rusage used;
    cr_assert_eq(getrusage(RUSAGE_THREAD, &used), 0);
    return (uint64_t)used.ru_minflt + (uint64_t)used.ru_majflt;
}

static void run(struct bench *b, int ticks)
{
    for (int i = 0; i < ticks; i++, b->n++) {
        run_rig(b);
        people(b);
        crowd(b);
        b->now_ns += TICK_NS;
        const struct tick_time time = {.now_ns = b->now_ns, .due_ns = b->now_ns};
        uint64_t before = faults();
        asked_watch(pthread_self());
        tick_once(&b->tick, &time);
        asked_watch(0);
        b->faults += faults() - before;
        mailbox_get(&b->shared.report, &b->report);
        b->running += b->report.scene.stop_state == STOP_RUNNING;
    }
}

/* Nothing counts that was not in use. */
static void everything_was_in_use(const struct bench *b)
{
    static const enum reason met[] = {REASON_STOP_SPOTTER, REASON_AWAIT_GO, REASON_SPEED_LIMIT};
    const struct desk_view *view = &b->report.view;
    cr_assert_gt(b->running, b->n / 2, "it ran for %lu of %lu ticks, and stands for %s", (unsigned long)b->running,
                 (unsigned long)b->n, reason_code(b->report.scene.stop_reason));
    for (size_t i = 0; i < sizeof met / sizeof *met; i++)
        cr_assert_gt(view->clamped[met[i]], 0u, "%s", reason_code(met[i]));
    cr_assert_gt(view->rounds, 2u);
    cr_assert_gt(b->report.limits, 2u);
    cr_assert_gt(b->rig.controller.intents, b->n / 2);
    cr_assert_eq(b->rig.judge.touched, 0u);
}

Test(tick_allocates, nothing_and_waits_for_no_page)
{
    struct bench *b = begin();
    int clean = 0;
    unsigned least = 1000000;
    asked_clear();
    run(b, WARM);
    for (int round = 0; round < ROUNDS; round++) {
        b->faults = 0;
        run(b, ROUND);
        clean += b->faults == 0;
        least = b->faults < least ? (unsigned)b->faults : least;
    }
    cr_assert_eq(asked_count(), 0u, "%lu ticks asked for memory %u times", (unsigned long)b->n, asked_count());
    everything_was_in_use(b);
    cr_assert_gt(clean, 0, "%u page faults in the best of %d rounds of %d ticks", least, ROUNDS, ROUND);
    end(b);
}

/* ---- a thread's stack ---- */

static uint64_t deep_faults;

/* A frame of its own, below that of whoever calls it. */
__attribute__((noinline)) static void use_stack(void)
{
    volatile char deep[200 * 1024];
    for (size_t i = 0; i < sizeof deep; i += 512)
        deep[i] = 1;
}

static void *go_deep(void *touch)
{
    if (touch)
        realtime_touch_stack();
    uint64_t before = faults();
    use_stack();
    deep_faults = faults() - before;
    return NULL;
}

static uint64_t faults_of_a_thread(bool touch)
{
    pthread_t thread;
    bool permitted = true;
    cr_assert(realtime_start(&thread, REALTIME_TICK, go_deep, touch ? &permitted : NULL, &permitted));
    pthread_join(thread, NULL);
    return deep_faults;
}

Test(tick_allocates, no_call_is_the_first_one_so_deep)
{
    uint64_t least = UINT64_MAX;
    cr_assert_gt(faults_of_a_thread(false), 0u, "without, each page is waited for, and that is seen here");
    for (int i = 0; i < 5; i++) {
        uint64_t now = faults_of_a_thread(true);
        least = now < least ? now : least;
    }
    cr_assert_eq(least, 0u, "%lu page faults", (unsigned long)least);
}
