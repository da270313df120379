/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* From the socket to the datagram and back to whoever pressed, a stop asks for no memory: the program's own malloc
 * counts what the desk thread asks for. Not built with sanitizers, which bring a malloc of their own. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "asked.h"
#include "gateway/core/desk_thread.h"
#include "stand.h"
#include "tests/bench/ws_client.h"

static void greet(struct stand *s, struct ws_client *ws)
{
    char pass[PASS_MAX], hello[PASS_MAX + 64];
    stand_pass(s, PASS_SPOTTER, "sam", (uint64_t)time(NULL) + 60, pass);
    snprintf(hello, sizeof hello, "{\"type\":\"hello\",\"pass\":\"%s\"}", pass);
    cr_assert(ws_client_open(ws, s->show.desk.port, "/desk", "steadyhand.desk.1"));
    cr_assert(ws_client_send(ws, hello));
    cr_assert(stand_told(s, ws, "\"type\":\"room\""));
}

Test(stop_allocates, nothing)
{
    struct stand *s = stand_new();
    struct desk_thread *desk = calloc(1, sizeof *desk);
    static struct ws_client ws;
    pthread_t thread;
    cr_assert(desk_thread_open(desk, &s->shared, s->files.secrets.passes, NULL));
    cr_assert_eq(pthread_create(&thread, NULL, desk_thread_run, desk), 0);
    greet(s, &ws);
    asked_watch(thread);
    cr_assert(ws_client_send(&ws, "{\"type\":\"beat\",\"n\":1}"));
    cr_assert(stand_told(s, &ws, "\"type\":\"beat\""));
    cr_assert_gt(asked_count(), 0u, "other messages are parsed, and that is seen here");
    asked_clear();
    for (int i = 0; i < 20; i++) {
        cr_assert(ws_client_send(&ws, "{\"type\":\"stop\"}"));
        cr_assert(stand_told(s, &ws, "\"type\":\"stopped\""), "stop %d", i);
    }
    unsigned during = asked_count();
    asked_watch(0);
    cr_assert_eq(during, 0u, "20 stops asked for memory %u times", during);
    ws_client_close(&ws);
    serve_stop(desk->serve);
    pthread_join(thread, NULL);
    desk_thread_close(desk);
    free(desk);
    stand_free(s);
}
