/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The desk thread: the listener for operators, moderators and spotters, apart from every viewer's. It is the shortest
 * way from a pressed stop to the rig: a stop message is recognised before anything else is looked at, and its datagram
 * leaves from this thread at once, without an allocation, a lock, or a wait for tick, bus or journal.
 */
#ifndef STEADYHAND_CORE_DESK_THREAD_H
#define STEADYHAND_CORE_DESK_THREAD_H

#include "gateway/core/shared.h"
#include "gateway/serve/serve.h"

enum {
    DESK_THREAD_STOP_MS = 10,   /* a stop is repeated this often until the rig confirms it */
    DESK_THREAD_PERIOD_MS = 50, /* scenes */
    DESK_THREAD_HELLO_S = 2,    /* time for a pass after the socket has opened */
    DESK_THREAD_HANDSHAKE_S = 5,
    DESK_THREAD_SILENT_S = 10, /* a desk without a message for so long is gone */
    DESK_THREAD_DESKS = 64,
    DESK_THREAD_STRANGERS = 256, /* places for who has shown no pass yet; see gateway/serve/strangers.h */
    DESK_THREAD_ACCEPTS = 4,     /* a stop waits for that many newcomers at most */
};

struct desk_peer;

struct desk_thread {
    struct shared *shared;
    struct serve *serve;
    const uint8_t *pass_secret;
    struct desk_state state;
    struct shared_report report; /* newest from the tick */
    struct desk_peer *peers;
    uint64_t stop_count; /* of the newest stop pressed; repeated until confirmed */
    enum reason stop_why;
    enum stop_category stop_category; /* the most severe of those not confirmed */
    uint64_t answers_told;
    uint32_t pressed_by[DESK_ORDERS_EVENTS]; /* id of the desk, by event number */
    uint64_t limits_told;
    uint32_t limited_by[DESK_ORDERS_EVENTS]; /* likewise, of limits asked for */
    uint64_t scene_seq;
    size_t scene_len[2], room_len;
    char *room;                                 /* SERVE_PRE bytes before its text */
    char scene[2][SERVE_PRE + DESK_JSON_SCENE]; /* for those who do not hold control, and for the one who does */
    char small[SERVE_PRE + DESK_JSON_SMALL];
};

/* Listens at the show's desk address. False with a line on stderr. */
bool desk_thread_open(struct desk_thread *thread, struct shared *shared, const uint8_t pass_secret[PASS_SECRET],
                      const char *web_root);
void desk_thread_close(struct desk_thread *thread);

/* The thread's body; arg is the struct desk_thread. Runs until serve_stop(thread->serve). */
void *desk_thread_run(void *arg);

#endif
