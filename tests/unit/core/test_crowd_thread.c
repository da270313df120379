/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The bus thread against edges that behave, die, and send rubbish. */
#include <criterion/criterion.h>
#include <errno.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "gateway/bus/bus.h"
#include "gateway/core/crowd_thread.h"
#include "stand.h"

struct trial {
    struct stand *stand;
    struct crowd_thread *bus;
    pthread_t thread;
    char path[128];
};

#define PATIENT_NS ((uint64_t)60 * 1000000000u) /* a lease that no busy machine lets run out */

enum { TURNS = 2000, TURN_MS = 5 }; /* as long as anything is waited for */

static struct trial begin_with(uint64_t lease_ns)
{
    struct trial t = {.stand = stand_new(), .bus = calloc(1, sizeof *t.bus)};
    t.stand->show.edges = 3;
    t.stand->show.crowd_lease_ns = lease_ns;
    snprintf(t.path, sizeof t.path, "%s/bus.sock", t.stand->files.folder);
    cr_assert_eq(crowd_thread_open(t.bus, &t.stand->shared, t.path), 0);
    cr_assert_eq(pthread_create(&t.thread, NULL, crowd_thread_run, t.bus), 0);
    return t;
}

static struct trial begin(void)
{
    return begin_with(PATIENT_NS);
}

static void end(struct trial *t)
{
    atomic_store(&t->stand->shared.ending, true);
    pthread_join(t->thread, NULL);
    crowd_thread_close(t->bus);
    free(t->bus);
    stand_free(t->stand);
}

/* Core knows an edge by its process. This one connects from a process of its own that shares our descriptors, and says
 * which by its exit status. */
static int join(struct trial *t)
{
    int status = 0;
    pid_t edge = (pid_t)syscall(SYS_clone, CLONE_FILES | SIGCHLD, NULL, NULL, NULL, NULL);
    if (edge == 0)
        _exit(bus_connect(t->path));
    cr_assert_eq(waitpid(edge, &status, 0), edge);
    cr_assert(WIFEXITED(status) && WEXITSTATUS(status) > 2 && WEXITSTATUS(status) < 128);
    return WEXITSTATUS(status);
}

static void speak(int fd, uint64_t seq, uint32_t viewers)
{
    struct snapshot s = {.seq = seq, .tally = {.viewers = viewers}, .counts = {.connects = viewers}};
    uint8_t frame[BUS_FRAME_MAX];
    size_t len = frames_encode_snapshot(&s, frame, sizeof frame);
    cr_assert_gt(len, 0u);
    int sent = bus_send(fd, frame, len);
    for (int i = 0; i < TURNS && sent == -EAGAIN; i++) { /* the thread has not had its turn yet */
        stand_sleep_ms(TURN_MS);
        sent = bus_send(fd, frame, len);
    }
    cr_assert_eq(sent, 0);
}

/* Waits until the tick would hear of so many viewers on so many edges. */
static bool heard(struct trial *t, uint32_t viewers, uint32_t edges)
{
    struct crowds_sum sum = {0};
    for (int i = 0; i < TURNS; i++) {
        mailbox_get(&t->stand->shared.crowd, &sum);
        if (sum.tally.viewers == viewers && sum.edges == edges)
            return true;
        stand_sleep_ms(TURN_MS);
    }
    return false;
}

Test(crowd_thread, edges_are_added_up_and_forgotten)
{
    struct trial t = begin();
    int a = join(&t), b = join(&t);
    speak(a, 1, 10);
    speak(b, 1, 20);
    cr_assert(heard(&t, 30, 2));
    speak(a, 2, 11);
    cr_assert(heard(&t, 31, 2));
    close(b);
    speak(a, 3, 12);
    cr_assert(heard(&t, 12, 1));
    close(a);
    end(&t);
}

Test(crowd_thread, an_edge_that_is_silent_has_no_voice)
{
    struct trial t = begin_with(500000000u);
    int a = join(&t);
    bool was_heard = false;
    for (uint64_t seq = 1; seq <= TURNS && !was_heard; seq++) {
        struct crowds_sum sum = {0};
        speak(a, seq, 10);
        stand_sleep_ms(TURN_MS);
        mailbox_get(&t.stand->shared.crowd, &sum);
        was_heard = sum.tally.viewers == 10;
    }
    cr_assert(was_heard);
    cr_assert(heard(&t, 0, 0));
    close(a);
    end(&t);
}

static bool is_shut(int fd)
{
    uint8_t frame[BUS_FRAME_MAX];
    for (int i = 0; i < TURNS; i++) {
        ssize_t len = bus_receive(fd, frame, sizeof frame);
        if (len != -EAGAIN && len <= 0)
            return true;
        stand_sleep_ms(TURN_MS);
    }
    return false;
}

Test(crowd_thread, a_process_is_one_edge_however_often_it_connects)
{
    struct trial t = begin();
    int honest = join(&t), first = bus_connect(t.path), second = -1;
    speak(honest, 1, 10);
    speak(first, 1, 20);
    cr_assert(heard(&t, 30, 2));
    second = bus_connect(t.path);
    speak(second, 1, 5);
    speak(honest, 2, 11);
    cr_assert(heard(&t, 16, 2), "the newest of its connections counts");
    cr_assert(is_shut(first));
    close(honest);
    close(first);
    close(second);
    end(&t);
}

Test(crowd_thread, no_more_edges_than_the_show_has_and_a_spare)
{
    struct trial t = begin();
    int edge[8], most = t.stand->show.edges + 1;
    cr_assert_lt(most, 8);
    for (int i = 0; i <= most; i++)
        edge[i] = join(&t);
    cr_assert(is_shut(edge[most]));
    for (int i = 0; i <= most; i++)
        close(edge[i]);
    end(&t);
}

Test(crowd_thread, rubbish_is_counted_and_dropped)
{
    struct trial t = begin();
    int a = join(&t), b = join(&t);
    uint8_t frame[2000];
    memset(frame, 0xa5, sizeof frame);
    for (int i = 1; i <= 20; i++)
        while (bus_send(a, frame, (size_t)i * 50) == -EAGAIN)
            stand_sleep_ms(1);
    speak(a, 1, 5);
    speak(b, 1, 6);
    cr_assert(heard(&t, 11, 2), "what is sound is still heard");
    cr_assert_eq(t.bus->malformed, 20u);
    speak(b, 2, t.stand->show.admission.max_viewers + 1);
    speak(a, 2, 7);
    cr_assert(heard(&t, 13, 2), "an edge cannot speak for more than the show admits");
    close(a);
    close(b);
    end(&t);
}

Test(crowd_thread, the_newest_scene_goes_to_every_edge)
{
    struct trial t = begin();
    int a = join(&t), b = join(&t), fds[2] = {a, b};
    struct scene scene = {.seq = 5}, got;
    uint8_t frame[BUS_FRAME_MAX];
    mailbox_put(&t.stand->shared.scene, &scene);
    scene.seq = 6;
    mailbox_put(&t.stand->shared.scene, &scene);
    for (int e = 0; e < 2; e++) {
        got.seq = 0;
        for (int i = 0; i < TURNS && got.seq != 6; i++) { /* the 5 too, where the thread came between the two */
            ssize_t len = bus_receive(fds[e], frame, sizeof frame);
            stand_sleep_ms(len == -EAGAIN ? TURN_MS : 0);
            cr_assert(len == -EAGAIN || (len > 0 && frames_decode_scene(frame, (size_t)len, &got)));
        }
        cr_assert_eq(got.seq, 6u);
        stand_sleep_ms(120);
        cr_assert_eq(bus_receive(fds[e], frame, sizeof frame), -EAGAIN, "the same scene is not sent twice");
    }
    close(a);
    close(b);
    end(&t);
}

/* One edge never reads and one never stops sending; the third is served all the same. */
Test(crowd_thread, no_edge_keeps_the_others_from_being_heard)
{
    struct trial t = begin();
    int deaf = join(&t), loud = join(&t), good = join(&t);
    struct scene scene = {.seq = 0};
    uint64_t seq = 0, heard_scenes = 0;
    uint8_t frame[BUS_FRAME_MAX] = {0};
    for (int turn = 0; turn < 500 || (turn < 20 * TURNS && heard_scenes < 3); turn++) {
        scene.seq++;
        mailbox_put(&t.stand->shared.scene, &scene);
        for (int i = 0; i < 20; i++)
            (void)bus_send(loud, frame, sizeof frame);
        speak(good, ++seq, 3);
        while (bus_receive(good, frame, sizeof frame) > 0)
            heard_scenes++;
        stand_sleep_ms(1);
    }
    speak(good, ++seq, 4);
    cr_assert(heard(&t, 4, 1));
    cr_assert_geq(heard_scenes, 3u);
    close(deaf);
    close(loud);
    close(good);
    end(&t);
}

Test(crowd_thread, a_bus_in_use_is_an_error)
{
    struct trial t = begin();
    struct crowd_thread *second = calloc(1, sizeof *second);
    cr_assert_eq(crowd_thread_open(second, &t.stand->shared, t.path), -EADDRINUSE);
    free(second);
    end(&t);
}
