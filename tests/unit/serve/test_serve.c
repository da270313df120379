/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "echo.h"

Test(serve, says_back_whole_messages)
{
    static struct echo e;
    echo_start(&e, 10);
    int fd = echo_open(&e);
    echo_say(fd, 0x81, "hello");
    echo_hear(fd, 0x81, "hello");
    echo_say(fd, 0x01, "in "); /* three fragments, a ping between */
    echo_say(fd, 0x00, "three ");
    echo_say(fd, 0x89, "?");
    echo_say(fd, 0x80, "pieces");
    echo_hear(fd, 0x8a, "?");
    echo_hear(fd, 0x81, "in three pieces");
    close(fd);
    echo_wait(&e.closed, 1);
    echo_finish(&e);
}

Test(serve, closes_with_code_and_reason)
{
    static struct echo e;
    echo_start(&e, 10);
    int fd = echo_open(&e);
    echo_say(fd, 0x81, "quit");
    echo_hear(fd, 0x88,
              "\x0f\xa3"
              "asked to"); /* 4003 */
    echo_say(fd, 0x88, "\x0f\xa3");
    char c;
    cr_expect_eq(recv(fd, &c, 1, 0), 0, "the connection ends");
    close(fd);
    echo_finish(&e);
}

Test(serve, timers_and_watches_run_on_the_loop)
{
    static struct echo e;
    echo_start(&e, 10);
    echo_wait(&e.ticks, 3);
    uint64_t one = 1;
    cr_assert_eq(write(e.bell, &one, sizeof one), (ssize_t)sizeof one);
    echo_wait(&e.rings, 1);
    echo_finish(&e);
}

Test(serve, the_one_too_many_is_told_so)
{
    static struct echo e;
    echo_start(&e, 2);
    int a = echo_open(&e), b = echo_open(&e), c = echo_open(&e);
    echo_hear(c, 0x88,
              "\x0f\xa1"
              "full: try again later"); /* 4001 */
    echo_say(a, 0x81, "still here");
    echo_hear(a, 0x81, "still here");
    close(b);
    echo_wait(&e.closed, 1);
    int d = echo_open(&e);
    echo_say(d, 0x81, "room again");
    echo_hear(d, 0x81, "room again");
    close(a);
    close(c);
    close(d);
    echo_wait(&e.closed, 3);
    echo_finish(&e);
}

Test(serve, ends_with_peers_still_connected)
{
    static struct echo e;
    echo_start(&e, 50);
    int fd[20];
    for (int i = 0; i < 20; i++)
        fd[i] = echo_open(&e);
    echo_wait(&e.opened, 20);
    echo_finish(&e);
    for (int i = 0; i < 20; i++)
        close(fd[i]);
}

Test(serve, an_address_in_use_is_an_error)
{
    static struct echo e;
    echo_start(&e, 2);
    const struct serve_config again = {
        .listen = &e.listen, .path = "/echo", .subprotocol = "echo.1", .admission = {.max_viewers = 1}};
    cr_expect_not(serve_open(&again));
    echo_finish(&e);
}

Test(serve, a_missing_web_folder_is_an_error)
{
    struct show_listener listen = {.host = "127.0.0.1", .port = 1};
    const struct serve_config cfg = {.listen = &listen,
                                     .path = "/echo",
                                     .subprotocol = "echo.1",
                                     .web_root = "/nonexistent",
                                     .index = "index.html",
                                     .admission = {.max_viewers = 1}};
    cr_expect_not(serve_open(&cfg));
}

enum { PAGE_BYTES = 3 << 20, PAGE_SECONDS = 3 };

static void make_page(char *folder, char *path, size_t size)
{
    cr_assert(mkdtemp(folder));
    snprintf(path, size, "%s/index.html", folder);
    FILE *f = fopen(path, "w");
    cr_assert(f);
    for (int i = 0; i < PAGE_BYTES; i++)
        fputc('a' + i % 26, f);
    fclose(f);
}

/* The time for a handshake is no limit for a page on a slow line. */
Test(serve, a_slow_reader_gets_the_whole_page)
{
    static struct echo e;
    static char page[PAGE_BYTES];
    char folder[] = "/tmp/steadyhand-serve-XXXXXX", path[64], head[2048] = "";
    make_page(folder, path, sizeof path);
    struct serve_config cfg = echo_config(&e, 10);
    cfg.web_root = folder;
    cfg.admission.handshake_s = 1;
    echo_start_as(&e, &cfg);
    int fd = echo_dial(&e, 1);
    echo_get(fd, "/");
    for (size_t got = 0; !strstr(head, "\r\n\r\n"); got++) {
        cr_assert_lt(got, sizeof head - 1);
        echo_read(fd, head + got, 1);
    }
    for (int part = 0; part < PAGE_SECONDS; part++) {
        sleep(1);
        echo_read(fd, page + part * (PAGE_BYTES / PAGE_SECONDS), PAGE_BYTES / PAGE_SECONDS);
    }
    for (int i = 0; i < PAGE_BYTES; i++)
        cr_assert_eq(page[i], 'a' + i % 26, "byte %d", i);
    close(fd);
    echo_finish(&e);
    remove(path);
    rmdir(folder);
}

static void get(int fd, char *answer, size_t size)
{
    echo_get(fd, "/healthz");
    memset(answer, 0, size);
    for (size_t got = 0; !strstr(answer, "\r\n\r\nok"); got++) {
        cr_assert_lt(got, size - 1);
        echo_read(fd, answer + got, 1);
    }
}

Test(serve, a_connection_is_good_for_one_request_if_so_asked)
{
    static struct echo e;
    char answer[2048];
    for (int one = 0; one < 2; one++) {
        struct serve_config cfg = echo_config(&e, 10);
        cfg.one_request = one == 1;
        echo_start_as(&e, &cfg);
        int fd = echo_dial(&e, 1);
        get(fd, answer, sizeof answer);
        cr_expect(strstr(answer, one ? "Connection: close\r\n" : "Connection: keep-alive\r\n"), "%s", answer);
        if (one)
            cr_expect(echo_ends(fd));
        else
            get(fd, answer, sizeof answer);
        close(fd);
        int websocket = echo_open(&e);
        echo_say(websocket, 0x81, "hello");
        echo_hear(websocket, 0x81, "hello");
        close(websocket);
        echo_finish(&e);
    }
}

/* Counts, turn by turn of the loop, how many callers are turned away. Holds the loop up first, for a queue to form. */
struct turns {
    atomic_bool go;
    uint64_t turned_away;
    atomic_int most, all;
};

static void on_turn(void *ctx)
{
    struct echo *e = ctx;
    struct turns *t = e->more;
    struct serve_counts counts;
    while (!atomic_load(&t->go))
        usleep(1000);
    serve_get_counts(e->serve, &counts);
    int now = (int)(counts.turned_away - t->turned_away);
    t->turned_away = counts.turned_away;
    if (now > atomic_load(&t->most))
        atomic_store(&t->most, now);
    atomic_fetch_add(&t->all, now);
}

static int most_a_turn(unsigned accepts_a_turn)
{
    enum { CALLERS = 60, LET_IN = 9 }; /* of one address: a session and 8 connections */
    static struct echo e;
    struct turns turns = {0};
    int caller[CALLERS];
    struct serve_config cfg = echo_config(&e, 1);
    cfg.accepts_a_turn = accepts_a_turn;
    e.on_turn = on_turn;
    e.more = &turns;
    echo_start_as(&e, &cfg);
    for (int i = 0; i < CALLERS; i++)
        caller[i] = echo_dial(&e, 1);
    atomic_store(&turns.go, true);
    echo_wait(&turns.all, CALLERS - LET_IN);
    for (int i = 0; i < CALLERS; i++)
        close(caller[i]);
    echo_finish(&e);
    return atomic_load(&turns.most);
}

Test(serve, newcomers_are_taken_a_few_at_a_time)
{
    int few = most_a_turn(2), usual = most_a_turn(0);
    cr_expect(few > 0 && few <= 2, "%d", few);
    cr_expect(usual > 10 && usual <= 64, "%d", usual);
}
