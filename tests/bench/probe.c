/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "probe.h"

#include <errno.h>
#include <jansson.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#define SECOND 1000000000ull

enum { BEAT_EVERY_MS = 100, PATIENCE_MS = 2000, GAP_LO_US = 1000, GAP_HI_US = 4000, LOOK_EVERY_NS = 100000 };

static uint64_t clock_ns(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (uint64_t)t.tv_sec * SECOND + (uint64_t)t.tv_nsec;
}

static uint64_t now_ns(void)
{
    return clock_ns(CLOCK_MONOTONIC);
}

static void sleep_ns(uint64_t ns)
{
    struct timespec t = {.tv_sec = (time_t)(ns / SECOND), .tv_nsec = (long)(ns % SECOND)};
    nanosleep(&t, NULL);
}

/* Not in step with core's tick. */
static void random_gap(struct probe *p)
{
    p->random = p->random * 1664525u + 1013904223u;
    sleep_ns((GAP_LO_US + (p->random >> 8) % (GAP_HI_US - GAP_LO_US)) * 1000ull);
}

static void keep(char *to, size_t size, const char *text)
{
    size_t len = strnlen(text, size - 1);
    memcpy(to, text, len);
    to[len] = '\0';
}

static void take_message(struct probe *p, const char *text)
{
    if (strncmp(text, "{\"type\":\"scene\"", 15) == 0)
        keep(p->scene, sizeof p->scene, text);
    else if (strncmp(text, "{\"type\":\"stopped\"", 17) == 0)
        keep(p->stopped, sizeof p->stopped, text);
}

/* Reads what core has said, waiting at most wait_ms for something; sends a beat when one is due. */
static void attend(struct probe *p, int wait_ms)
{
    char beat[64];
    if (now_ns() - p->beat_at_ns > BEAT_EVERY_MS * 1000000ull) {
        snprintf(beat, sizeof beat, "{\"type\":\"beat\",\"n\":%llu}", (unsigned long long)++p->beats);
        ws_client_send(&p->desk, beat);
        p->beat_at_ns = now_ns();
    }
    for (const char *text = ws_client_next(&p->desk, wait_ms); text; text = ws_client_next(&p->desk, 0))
        take_message(p, text);
}

void probe_listen(struct probe *p, int ms)
{
    uint64_t end = now_ns() + (uint64_t)ms * 1000000u;
    while (now_ns() < end)
        attend(p, 5);
}

bool probe_open(struct probe *p, struct mini_rig *rig, const struct bench_show *show)
{
    char hello[PASS_MAX + 64];
    memset(p, 0, sizeof *p);
    p->rig = rig;
    p->relay_tcp = p->relay_udp = -1;
    p->random = 1;
    snprintf(hello, sizeof hello, "{\"type\":\"hello\",\"pass\":\"%s\"}", show->operator_pass);
    return ws_client_open(&p->desk, show->desk, "/desk", "steadyhand.desk.1") && ws_client_send(&p->desk, hello);
}

void probe_close(struct probe *p)
{
    ws_client_close(&p->desk);
    if (p->relay_tcp >= 0)
        close(p->relay_tcp);
    if (p->relay_udp >= 0)
        close(p->relay_udp);
}

/* As whoever has seen the newest stop. */
static void press(struct probe *p, const char *what)
{
    char text[64];
    unsigned long long seen = atomic_load(&p->rig->intent_count);
    snprintf(text, sizeof text, "{\"type\":\"%s\",\"stop\":%llu}", what, seen);
    ws_client_send(&p->desk, text);
}

/* Reset, arm and go, whichever leads on, until an intent says that the rig may move. A latch of its own (a lost rig, a
 * late tick) is reset too.
 */
static bool start_again(struct probe *p)
{
    uint64_t end = now_ns() + PATIENCE_MS * 1000000ull, again_at = 0, seen = 0;
    while (!mini_rig_permitted(p->rig)) {
        if (now_ns() > end || p->desk.fd < 0)
            return false;
        if (now_ns() >= again_at || seen != atomic_load(&p->rig->intent_count)) {
            seen = atomic_load(&p->rig->intent_count);
            press(p, "reset");
            press(p, "arm");
            press(p, "go");
            again_at = now_ns() + 200000000u;
        }
        attend(p, 1);
    }
    return true;
}

/* Waits for the datagram, then for core's word to whoever pressed. Returns the time it took, 0 if one did not come. */
static uint64_t follow_stop(struct probe *p, uint64_t before, uint64_t sent_ns)
{
    char want[64];
    uint64_t end = now_ns() + PATIENCE_MS * 1000000ull;
    while (atomic_load(&p->rig->stop_seen) == before)
        if (sleep_ns(LOOK_EVERY_NS), now_ns() > end)
            return 0;
    uint64_t took = atomic_load(&p->rig->stop_at_ns) - sent_ns;
    snprintf(want, sizeof want, "\"count\":%llu}", (unsigned long long)atomic_load(&p->rig->stop_seen));
    while (!strstr(p->stopped, want)) {
        if (now_ns() > end)
            return 0;
        attend(p, 2);
    }
    return took;
}

static uint64_t stop_through_core(struct probe *p)
{
    uint8_t frame[WS_CLIENT_FRAME];
    static const char stop[] = "{\"type\":\"stop\"}";
    if (!start_again(p))
        return 0;
    random_gap(p);
    attend(p, 0);
    uint64_t before = atomic_load(&p->rig->stop_seen);
    size_t len = ws_client_frame(frame, stop, sizeof stop - 1);
    uint64_t sent_ns = clock_ns(CLOCK_REALTIME);
    if (send(p->desk.fd, frame, len, MSG_NOSIGNAL) != (ssize_t)len)
        return 0;
    return follow_stop(p, before, sent_ns);
}

static uint64_t receipt(int udp)
{
    char bytes[256];
    union {
        struct cmsghdr align;
        char bytes[128];
    } control;
    struct iovec io = {bytes, sizeof bytes};
    struct msghdr msg = {.msg_iov = &io, .msg_iovlen = 1, .msg_control = &control, .msg_controllen = sizeof control};
    struct pollfd p = {.fd = udp, .events = POLLIN};
    if (poll(&p, 1, PATIENCE_MS) != 1 || recvmsg(udp, &msg, 0) <= 0)
        return 0;
    struct cmsghdr *c = CMSG_FIRSTHDR(&msg);
    if (!c || c->cmsg_level != SOL_SOCKET || c->cmsg_type != SCM_TIMESTAMPNS)
        return 0;
    struct timespec t;
    memcpy(&t, CMSG_DATA(c), sizeof t);
    return (uint64_t)t.tv_sec * SECOND + (uint64_t)t.tv_nsec;
}

static uint64_t stop_through_relay(struct probe *p)
{
    static const char stop[] = "a bare stop, as long";
    random_gap(p);
    attend(p, 0);
    uint64_t sent_ns = clock_ns(CLOCK_REALTIME);
    if (send(p->relay_tcp, stop, sizeof stop, MSG_NOSIGNAL) != (ssize_t)sizeof stop)
        return 0;
    uint64_t at_ns = receipt(p->relay_udp);
    return at_ns != 0 ? at_ns - sent_ns : 0;
}

static void note(struct probe_times *t, uint64_t ns)
{
    if (ns != 0)
        t->ns[t->count++] = ns;
    else
        t->lost++;
}

static int by_size(const void *a, const void *b)
{
    const uint64_t *x = a, *y = b;
    return *x < *y ? -1 : *x > *y;
}

bool probe_run(struct probe *p, int stops, struct probe_times *core, struct probe_times *relay)
{
    *core = *relay = (struct probe_times){0};
    core->ns = calloc((size_t)stops, sizeof *core->ns);
    relay->ns = calloc((size_t)stops, sizeof *relay->ns);
    if (!core->ns || !relay->ns)
        return false;
    for (int i = 0; i < stops && core->lost == 0 && relay->lost == 0; i++) {
        if (i % 2)
            note(relay, stop_through_relay(p));
        note(core, stop_through_core(p));
        if (i % 2 == 0)
            note(relay, stop_through_relay(p));
    }
    qsort(core->ns, (size_t)core->count, sizeof *core->ns, by_size);
    qsort(relay->ns, (size_t)relay->count, sizeof *relay->ns, by_size);
    return core->lost == 0 && relay->lost == 0;
}

void probe_free(struct probe_times *core, struct probe_times *relay)
{
    free(core->ns);
    free(relay->ns);
}

int64_t probe_number(const struct probe *p, const char *object, const char *key)
{
    json_t *root = json_loads(p->scene, 0, NULL);
    const json_t *j = json_object_get(json_object_get(json_object_get(root, "desk"), object), key);
    int64_t value = json_is_integer(j) ? (int64_t)json_integer_value(j) : -1;
    json_decref(root);
    return value;
}
