/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A whole server on its own thread, spoken to through sockets. */
#include "gateway/serve/serve.h"

#include <arpa/inet.h>
#include <criterion/criterion.h>
#include <netinet/in.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

enum { ECHO_MAX = 256 };

/* The server under test says back what it is told, and does what some words ask. */
struct echo {
    struct show_listener listen;
    struct serve *serve;
    pthread_t thread;
    int bell; /* eventfd */
    atomic_int ticks, rings, opened, closed;
};

struct echo_peer {
    bool owes;
    size_t len;
    uint8_t text[SERVE_PRE + ECHO_MAX];
};

static bool on_open(void *ctx, struct serve_peer *peer, void *user)
{
    struct echo *e = ctx;
    static const struct echo_peer zero;
    cr_expect_eq(memcmp(user, &zero, sizeof zero), 0);
    cr_expect_eq(serve_peer_address(peer), INADDR_LOOPBACK);
    atomic_fetch_add(&e->opened, 1);
    return true;
}

static void on_message(void *ctx, struct serve_peer *peer, void *user, const char *text, size_t len)
{
    (void)ctx;
    struct echo_peer *p = user;
    p->owes = true;
    p->len = len;
    memcpy(p->text + SERVE_PRE, text, len);
    serve_want_write(peer);
    if (len == 4 && memcmp(text, "quit", 4) == 0)
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

static void start_with(struct echo *e, uint32_t max_viewers, const char *web_root)
{
    memset(e, 0, sizeof *e);
    snprintf(e->listen.host, sizeof e->listen.host, "127.0.0.1");
    e->listen.port = free_port();
    const struct serve_config cfg = {
        .listen = &e->listen,
        .path = "/echo",
        .subprotocol = "echo.1",
        .web_root = web_root,
        .index = "index.html",
        .admission = {.max_viewers = max_viewers,
                      .max_per_address = max_viewers,
                      .message_bytes = ECHO_MAX,
                      .header_bytes = 4096,
                      .handshake_s = 1},
        .user_bytes = sizeof(struct echo_peer),
        .handlers = {.open = on_open, .message = on_message, .closed = on_closed, .compose = on_compose},
        .ctx = e,
    };
    e->serve = serve_open(&cfg);
    cr_assert(e->serve);
    e->bell = eventfd(0, EFD_NONBLOCK);
    cr_assert(serve_watch(e->serve, e->bell, on_bell, e));
    cr_assert(serve_every(e->serve, 5, on_tick, e));
    cr_assert_eq(pthread_create(&e->thread, NULL, serve_thread, e), 0);
}

static void start(struct echo *e, uint32_t max_viewers)
{
    start_with(e, max_viewers, NULL);
}

static void finish(struct echo *e)
{
    serve_stop(e->serve);
    pthread_join(e->thread, NULL);
    serve_free(e->serve);
    close(e->bell);
    cr_expect_eq(atomic_load(&e->opened), atomic_load(&e->closed), "whoever was opened was closed");
}

static int dial(const struct echo *e)
{
    struct sockaddr_in at = {
        .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK), .sin_port = htons(e->listen.port)};
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    struct timeval patience = {.tv_sec = 5};
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    cr_assert_eq(connect(fd, (struct sockaddr *)&at, sizeof at), 0);
    return fd;
}

static void read_exactly(int fd, char *to, size_t len)
{
    for (size_t got = 0; got < len;) {
        ssize_t n = recv(fd, to + got, len - got, 0);
        cr_assert_gt(n, 0, "the server says nothing more");
        got += (size_t)n;
    }
}

/* Opens a WebSocket; the accept value is the one of RFC 6455, section 1.3. */
static int open_socket(const struct echo *e)
{
    char text[512], answer[512] = "";
    int fd = dial(e);
    int n = snprintf(text, sizeof text,
                     "GET /echo HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
                     "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n"
                     "Sec-WebSocket-Protocol: echo.1\r\nOrigin: http://127.0.0.1:%u\r\n\r\n",
                     e->listen.port, e->listen.port);
    cr_assert_eq(send(fd, text, (size_t)n, 0), n);
    for (size_t got = 0; !strstr(answer, "\r\n\r\n"); got++) {
        cr_assert_lt(got, sizeof answer - 1);
        read_exactly(fd, answer + got, 1);
    }
    cr_assert(strstr(answer, " 101 ") && strstr(answer, "s3pPLMBiTxaQ9kYGzzhZRbK+xOo="), "%s", answer);
    cr_assert(strstr(answer, "Sec-WebSocket-Protocol: echo.1"), "%s", answer);
    return fd;
}

static void say(int fd, uint8_t opcode, const char *text)
{
    size_t len = strlen(text);
    uint8_t frame[6 + 125] = {opcode, (uint8_t)(0x80 | len), 0, 0, 0, 0};
    cr_assert_leq(len, 125);
    memcpy(frame + 6, text, len);
    cr_assert_eq(send(fd, frame, 6 + len, 0), (ssize_t)(6 + len));
}

static void hear(int fd, uint8_t opcode, const char *text)
{
    char frame[2 + 125];
    size_t len = strlen(text);
    read_exactly(fd, frame, 2 + len);
    cr_expect_eq((uint8_t)frame[0], opcode);
    cr_expect_eq((size_t)frame[1], len);
    cr_expect_eq(memcmp(frame + 2, text, len), 0, "%.*s, expected %s", (int)len, frame + 2, text);
}

static void wait_for(atomic_int *value, int least)
{
    for (int i = 0; i < 500 && atomic_load(value) < least; i++)
        usleep(10000);
    cr_assert_geq(atomic_load(value), least);
}

Test(serve, says_back_whole_messages)
{
    static struct echo e;
    start(&e, 10);
    int fd = open_socket(&e);
    say(fd, 0x81, "hello");
    hear(fd, 0x81, "hello");
    say(fd, 0x01, "in "); /* three fragments, a ping between */
    say(fd, 0x00, "three ");
    say(fd, 0x89, "?");
    say(fd, 0x80, "pieces");
    hear(fd, 0x8a, "?");
    hear(fd, 0x81, "in three pieces");
    close(fd);
    wait_for(&e.closed, 1);
    finish(&e);
}

Test(serve, closes_with_code_and_reason)
{
    static struct echo e;
    start(&e, 10);
    int fd = open_socket(&e);
    say(fd, 0x81, "quit");
    hear(fd, 0x88,
         "\x0f\xa3"
         "asked to"); /* 4003 */
    say(fd, 0x88, "\x0f\xa3");
    char c;
    cr_expect_eq(recv(fd, &c, 1, 0), 0, "the connection ends");
    close(fd);
    finish(&e);
}

Test(serve, timers_and_watches_run_on_the_loop)
{
    static struct echo e;
    start(&e, 10);
    wait_for(&e.ticks, 3);
    uint64_t one = 1;
    cr_assert_eq(write(e.bell, &one, sizeof one), (ssize_t)sizeof one);
    wait_for(&e.rings, 1);
    finish(&e);
}

Test(serve, the_one_too_many_is_told_so)
{
    static struct echo e;
    start(&e, 2);
    int a = open_socket(&e), b = open_socket(&e), c = open_socket(&e);
    hear(c, 0x88,
         "\x0f\xa1"
         "full: try again later"); /* 4001 */
    say(a, 0x81, "still here");
    hear(a, 0x81, "still here");
    close(b);
    wait_for(&e.closed, 1);
    int d = open_socket(&e);
    say(d, 0x81, "room again");
    hear(d, 0x81, "room again");
    close(a);
    close(c);
    close(d);
    wait_for(&e.closed, 3);
    finish(&e);
}

Test(serve, ends_with_peers_still_connected)
{
    static struct echo e;
    start(&e, 50);
    int fd[20];
    for (int i = 0; i < 20; i++)
        fd[i] = open_socket(&e);
    wait_for(&e.opened, 20);
    finish(&e);
    for (int i = 0; i < 20; i++)
        close(fd[i]);
}

Test(serve, an_address_in_use_is_an_error)
{
    static struct echo e;
    start(&e, 2);
    const struct serve_config again = {
        .listen = &e.listen, .path = "/echo", .subprotocol = "echo.1", .admission = {.max_viewers = 1}};
    cr_expect_not(serve_open(&again));
    finish(&e);
}

Test(serve, a_missing_web_folder_is_an_error)
{
    struct show_listener listen = {.host = "127.0.0.1", .port = free_port()};
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
    start_with(&e, 10, folder);
    int fd = dial(&e);
    cr_assert_gt(send(fd, "GET / HTTP/1.1\r\nHost: a\r\n\r\n", 29, 0), 0);
    for (size_t got = 0; !strstr(head, "\r\n\r\n"); got++) {
        cr_assert_lt(got, sizeof head - 1);
        read_exactly(fd, head + got, 1);
    }
    for (int part = 0; part < PAGE_SECONDS; part++) {
        sleep(1);
        read_exactly(fd, page + part * (PAGE_BYTES / PAGE_SECONDS), PAGE_BYTES / PAGE_SECONDS);
    }
    for (int i = 0; i < PAGE_BYTES; i++)
        cr_assert_eq(page[i], 'a' + i % 26, "byte %d", i);
    close(fd);
    finish(&e);
    remove(path);
    rmdir(folder);
}
