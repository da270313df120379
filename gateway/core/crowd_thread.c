/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/crowd_thread.h"
#include "gateway/clock.h"

#include <errno.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>

#include "gateway/bus/bus.h"

enum { EVENTS_A_TURN = 16, FRAMES_A_TURN = 8, KEY_LISTENER = CROWDS_MAX_EDGES, KEY_TIMER };

static int watch(const struct crowd_thread *thread, int fd, uint32_t key)
{
    struct epoll_event e = {.events = EPOLLIN, .data.u32 = key};
    return epoll_ctl(thread->epoll, EPOLL_CTL_ADD, fd, &e) == 0 ? 0 : -errno;
}

static int open_all(struct crowd_thread *thread, const char *path)
{
    static const struct timespec period = {.tv_nsec = CROWD_THREAD_PERIOD_MS * 1000000L};
    const struct itimerspec every = {period, period};
    thread->listener = bus_listen(path);
    if (thread->listener < 0)
        return thread->listener;
    thread->epoll = epoll_create1(EPOLL_CLOEXEC);
    thread->timer = timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC | TFD_NONBLOCK);
    if (thread->epoll < 0 || thread->timer < 0 || timerfd_settime(thread->timer, 0, &every, NULL) != 0)
        return -errno;
    int err = watch(thread, thread->listener, KEY_LISTENER);
    return err != 0 ? err : watch(thread, thread->timer, KEY_TIMER);
}

int crowd_thread_open(struct crowd_thread *thread, struct shared *shared, const char *path)
{
    *thread = (struct crowd_thread){.shared = shared, .listener = -1, .epoll = -1, .timer = -1};
    for (int i = 0; i < CROWDS_MAX_EDGES; i++)
        thread->edge[i] = -1;
    crowds_init(&thread->crowds, shared->show->crowd_lease_ns);
    thread->crowds.max_edges = shared->show->edges + 1;
    thread->crowds.max_viewers = shared->show->admission.max_viewers;
    int err = open_all(thread, path);
    if (err != 0)
        crowd_thread_close(thread);
    return err;
}

static void shut(int *fd)
{
    if (*fd >= 0)
        close(*fd);
    *fd = -1;
}

void crowd_thread_close(struct crowd_thread *thread)
{
    for (int i = 0; i < CROWDS_MAX_EDGES; i++)
        shut(&thread->edge[i]);
    shut(&thread->listener);
    shut(&thread->timer);
    shut(&thread->epoll);
}

static void drop_edge(struct crowd_thread *thread, int slot)
{
    shut(&thread->edge[slot]); /* epoll forgets it with that */
    crowds_leave(&thread->crowds, slot);
}

static pid_t peer_of(int fd)
{
    struct ucred who = {.pid = 0};
    socklen_t size = sizeof who;
    return getsockopt(fd, SOL_SOCKET, SO_PEERCRED, &who, &size) == 0 ? who.pid : 0;
}

static void drop_older(struct crowd_thread *thread, pid_t peer)
{
    for (int slot = 0; slot < CROWDS_MAX_EDGES; slot++)
        if (thread->edge[slot] >= 0 && thread->peer[slot] == peer)
            drop_edge(thread, slot);
}

static void accept_edge(struct crowd_thread *thread)
{
    int fd = bus_accept(thread->listener);
    if (fd < 0)
        return;
    pid_t peer = peer_of(fd);
    drop_older(thread, peer);
    int slot = crowds_join(&thread->crowds);
    if (slot < 0) {
        close(fd);
        return;
    }
    thread->edge[slot] = fd;
    thread->peer[slot] = peer;
    if (watch(thread, fd, (uint32_t)slot) != 0)
        drop_edge(thread, slot);
}

/* Level-triggered: what is left after a bounded number of frames is announced again, after the other edges' turn. */
static void hear_edge(struct crowd_thread *thread, int slot)
{
    uint8_t frame[BUS_FRAME_MAX];
    struct snapshot snapshot;
    for (int i = 0; i < FRAMES_A_TURN; i++) {
        ssize_t len = bus_receive(thread->edge[slot], frame, sizeof frame);
        if (len == -EAGAIN)
            return;
        if (len == 0 || (len < 0 && len != -EMSGSIZE)) {
            drop_edge(thread, slot);
            return;
        }
        if (len > 0 && frames_decode_snapshot(frame, (size_t)len, &snapshot))
            crowds_put(&thread->crowds, slot, &snapshot, clock_now_ns());
        else
            thread->malformed++;
    }
}

/* An edge that does not read loses this scene and gets a newer one next time. */
static void send_scene(struct crowd_thread *thread)
{
    uint8_t frame[BUS_FRAME_MAX];
    size_t len = frames_encode_scene(&thread->scene, frame, sizeof frame);
    for (int slot = 0; slot < CROWDS_MAX_EDGES; slot++) {
        int sent = thread->edge[slot] < 0 || len == 0 ? 0 : bus_send(thread->edge[slot], frame, len);
        if (sent != 0 && sent != -EAGAIN)
            drop_edge(thread, slot);
    }
}

static void on_timer(struct crowd_thread *thread)
{
    uint64_t expired;
    if (read(thread->timer, &expired, sizeof expired) != sizeof expired)
        return;
    if (thread->scene.seq != thread->sent_seq)
        send_scene(thread);
    thread->sent_seq = thread->scene.seq;
}

static void hand_over(struct crowd_thread *thread)
{
    struct crowds_sum sum;
    crowds_total(&thread->crowds, thread->scene.round, clock_now_ns(), &sum);
    mailbox_put(&thread->shared->crowd, &sum);
}

void *crowd_thread_run(void *arg)
{
    struct crowd_thread *thread = arg;
    struct epoll_event event[EVENTS_A_TURN];
    while (!atomic_load(&thread->shared->ending)) {
        int n = epoll_wait(thread->epoll, event, EVENTS_A_TURN, -1);
        mailbox_get(&thread->shared->scene, &thread->scene);
        for (int i = 0; i < n; i++) {
            uint32_t key = event[i].data.u32;
            if (key == KEY_LISTENER)
                accept_edge(thread);
            else if (key == KEY_TIMER)
                on_timer(thread);
            else if (thread->edge[key] >= 0) /* not dropped earlier in this turn */
                hear_edge(thread, (int)key);
        }
        hand_over(thread);
    }
    return NULL;
}
