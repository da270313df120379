/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "echo.h"

#include <arpa/inet.h>
#include <criterion/criterion.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/time.h>
#include <unistd.h>

struct echo_peer {
    bool owes;
    size_t len;
    uint8_t text[SERVE_PRE + ECHO_MAX];
};

static bool on_open(void *ctx, struct serve_peer *peer, void *user)
{
    (void)peer;
    struct echo *e = ctx;
    static const struct echo_peer zero;
    cr_expect_eq(memcmp(user, &zero, sizeof zero), 0);
    atomic_fetch_add(&e->opened, 1);
    return true;
}

static bool is(const char *text, size_t len, const char *word)
{
    return len == strlen(word) && memcmp(text, word, len) == 0;
}

static void on_message(void *ctx, struct serve_peer *peer, void *user, const char *text, size_t len)
{
    struct echo *e = ctx;
    struct echo_peer *p = user;
    atomic_fetch_add(&e->late, serve_is_closing(peer));
    if (is(text, len, "accept") && !serve_accept(peer))
        return;
    p->owes = true;
    p->len = len;
    memcpy(p->text + SERVE_PRE, text, len);
    serve_want_write(peer);
    if (is(text, len, "quit"))
        serve_close(peer, SERVE_CLOSE_PASS, "asked to");
}

static void on_closed(void *ctx, struct serve_peer *peer, void *user)
{
    (void)peer;
    (void)user;
    struct echo *e = ctx;
    atomic_fetch_add(&e->closed, 1);
}

static bool on_compose(void *ctx, struct serve_peer *peer, void *user, struct serve_message *out)
{
    (void)ctx;
    (void)peer;
    struct echo_peer *p = user;
    if (!p->owes)
        return false;
    p->owes = false;
    *out = (struct serve_message){.text = p->text + SERVE_PRE, .len = p->len};
    return true;
}

static void on_tick(void *ctx)
{
    struct echo *e = ctx;
    atomic_fetch_add(&e->ticks, 1);
}

static void on_bell(void *ctx)
{
    struct echo *e = ctx;
    uint64_t n;
    if (read(e->bell, &n, sizeof n) == sizeof n)
        atomic_fetch_add(&e->rings, 1);
}

static uint16_t free_port(void)
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof at;
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    cr_assert_eq(bind(fd, (struct sockaddr *)&at, sizeof at), 0);
    cr_assert_eq(getsockname(fd, (struct sockaddr *)&at, &size), 0);
    close(fd);
    return ntohs(at.sin_port);
}

static void *serve_thread(void *arg)
{
    struct echo *e = arg;
    serve_run(e->serve);
    return NULL;
}

struct serve_config echo_config(struct echo *e, uint32_t max_viewers)
{
    memset(e, 0, sizeof *e);
    snprintf(e->listen.host, sizeof e->listen.host, "127.0.0.1");
    e->listen.port = free_port();
    return (struct serve_config){
        .listen = &e->listen,
        .path = "/echo",
        .subprotocol = "echo.1",
        .index = "index.html",
        .admission = {.max_viewers = max_viewers,
                      .max_per_address = max_viewers,
                      .message_bytes = ECHO_MAX,
                      .header_bytes = 4096,
                      .handshake_s = 20} /* nobody is gone by that */,
        .user_bytes = sizeof(struct echo_peer),
        .handlers = {.open = on_open, .message = on_message, .closed = on_closed, .compose = on_compose},
        .ctx = e,
    };
}

void echo_start_as(struct echo *e, const struct serve_config *cfg)
{
    e->serve = serve_open(cfg);
    cr_assert(e->serve);
    e->bell = eventfd(0, EFD_NONBLOCK);
    cr_assert(serve_watch(e->serve, e->bell, on_bell, e));
    cr_assert(serve_every(e->serve, 5, on_tick, e));
    e->always = eventfd(1, EFD_NONBLOCK); /* readable, and never read */
    cr_assert(!e->on_turn || serve_watch(e->serve, e->always, e->on_turn, e));
    cr_assert_eq(pthread_create(&e->thread, NULL, serve_thread, e), 0);
}

void echo_start(struct echo *e, uint32_t max_viewers)
{
    const struct serve_config cfg = echo_config(e, max_viewers);
    echo_start_as(e, &cfg);
}

void echo_finish(struct echo *e)
{
    serve_stop(e->serve);
    pthread_join(e->thread, NULL);
    serve_free(e->serve);
    close(e->bell);
    close(e->always);
    cr_expect_eq(atomic_load(&e->opened), atomic_load(&e->closed), "whoever was opened was closed");
}

int echo_dial(const struct echo *e, uint8_t who)
{
    struct sockaddr_in from = {.sin_family = AF_INET, .sin_addr.s_addr = htonl((INADDR_LOOPBACK & ~0xffu) | who)};
    struct sockaddr_in at = {
        .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK), .sin_port = htons(e->listen.port)};
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    struct timeval patience = {.tv_sec = 30};
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    cr_assert_eq(bind(fd, (struct sockaddr *)&from, sizeof from), 0);
    cr_assert_eq(connect(fd, (struct sockaddr *)&at, sizeof at), 0);
    return fd;
}

void echo_get(int fd, const char *path)
{
    char request[128];
    int n = snprintf(request, sizeof request, "GET %s HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", path);
    cr_assert_eq(send(fd, request, (size_t)n, 0), n);
}

void echo_read(int fd, char *to, size_t len)
{
    for (size_t got = 0; got < len;) {
        ssize_t n = recv(fd, to + got, len - got, 0);
        cr_assert_gt(n, 0, "the server says nothing more");
        got += (size_t)n;
    }
}

/* The accept value is the one of RFC 6455, section 1.3. */
void echo_upgrade(const struct echo *e, int fd)
{
    char text[512], answer[512] = "";
    int n = snprintf(text, sizeof text,
                     "GET /echo HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
                     "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n"
                     "Sec-WebSocket-Protocol: echo.1\r\nOrigin: http://127.0.0.1:%u\r\n\r\n",
                     e->listen.port, e->listen.port);
    cr_assert_eq(send(fd, text, (size_t)n, 0), n);
    for (size_t got = 0; !strstr(answer, "\r\n\r\n"); got++) {
        cr_assert_lt(got, sizeof answer - 1);
        echo_read(fd, answer + got, 1);
    }
    cr_assert(strstr(answer, " 101 ") && strstr(answer, "s3pPLMBiTxaQ9kYGzzhZRbK+xOo="), "%s", answer);
    cr_assert(strstr(answer, "Sec-WebSocket-Protocol: echo.1"), "%s", answer);
}

int echo_open(const struct echo *e)
{
    int fd = echo_dial(e, 1);
    echo_upgrade(e, fd);
    return fd;
}

void echo_say(int fd, uint8_t first, const char *text)
{
    size_t len = strlen(text);
    uint8_t frame[6 + 125] = {first, (uint8_t)(0x80 | len), 0, 0, 0, 0};
    cr_assert_leq(len, 125);
    memcpy(frame + 6, text, len);
    cr_assert_eq(send(fd, frame, 6 + len, 0), (ssize_t)(6 + len));
}

void echo_hear(int fd, uint8_t first, const char *text)
{
    char frame[2 + 125];
    size_t len = strlen(text);
    echo_read(fd, frame, 2 + len);
    cr_expect_eq((uint8_t)frame[0], first);
    cr_expect_eq((size_t)frame[1], len);
    cr_expect_eq(memcmp(frame + 2, text, len), 0, "%.*s, expected %s", (int)len, frame + 2, text);
}

void echo_wait(atomic_int *value, int least)
{
    for (int i = 0; i < 3000 && atomic_load(value) < least; i++)
        usleep(10000);
    cr_assert_geq(atomic_load(value), least);
}

bool echo_ends(int fd)
{
    char sink[4096];
    ssize_t n;
    do
        n = recv(fd, sink, sizeof sink, 0);
    while (n > 0);
    return n == 0 || errno == ECONNRESET;
}
