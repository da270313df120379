/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/serve/serve.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "gateway/serve/strangers.h"

enum { ACCEPTS_A_TURN = 64, SEND_BUFFER = 16384, SEND_UNSENT_MAX = 4096, KEEPALIVE_S = 5 };

/* A peer that says nothing for 20 s is pinged; if it has still said nothing after 30 s it is gone. */
static const lws_retry_bo_t idle_policy = {.secs_since_valid_ping = 20, .secs_since_valid_hangup = 30};

static void on_stop(uv_async_t *stopper)
{
    uv_stop(stopper->loop);
}

/* Small buffers: what lies in them is old by the time a slow reader gets it. */
static void tune_socket(int fd)
{
    int on = 1, buffer = SEND_BUFFER, unsent = SEND_UNSENT_MAX;
    setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &buffer, sizeof buffer);
    setsockopt(fd, IPPROTO_TCP, TCP_NOTSENT_LOWAT, &unsent, sizeof unsent);
}

static void admit(struct serve *serve, int fd, uint32_t address)
{
    if (serve->cfg.strangers > 0)
        strangers_make_room(serve);
    if (!door_enter(&serve->door, address)) {
        serve->counts.turned_away++;
        close(fd);
        return;
    }
    struct serve_peer *peer = calloc(1, sizeof *peer + serve->cfg.user_bytes);
    if (!peer) {
        door_leave(&serve->door, address);
        close(fd);
        return;
    }
    *peer = (struct serve_peer){.serve = serve, .address = address};
    if (serve->cfg.strangers > 0)
        strangers_join(peer);
    tune_socket(fd);
    lws_sock_file_fd_type socket = {.sockfd = fd};
    peer->wsi = lws_adopt_descriptor_vhost(serve->vhost, LWS_ADOPT_SOCKET | LWS_ADOPT_HTTP, socket, NULL, NULL);
    if (!peer->wsi) { /* the library has closed fd */
        session_forget(peer);
        return;
    }
    lws_set_opaque_user_data(peer->wsi, peer);
}

/* Out of descriptors: the listener would stay readable and spin. The one in reserve lets a caller be turned away. */
static void turn_one_away(struct serve *serve)
{
    close(serve->reserve_fd);
    int fd = accept4(serve->listen_fd, NULL, NULL, SOCK_CLOEXEC);
    if (fd >= 0)
        close(fd);
    serve->counts.turned_away++;
    serve->reserve_fd = fcntl(serve->listen_fd, F_DUPFD_CLOEXEC, 0);
}

static void on_connection(uv_poll_t *poll, int status, int events)
{
    (void)events;
    struct serve *serve = poll->data;
    unsigned most = serve->cfg.accepts_a_turn ? serve->cfg.accepts_a_turn : ACCEPTS_A_TURN;
    for (unsigned i = 0; status == 0 && i < most; i++) {
        struct sockaddr_in from;
        socklen_t size = sizeof from;
        int fd = accept4(serve->listen_fd, (struct sockaddr *)&from, &size, SOCK_NONBLOCK | SOCK_CLOEXEC);
        if (fd < 0 && (errno == EMFILE || errno == ENFILE))
            turn_one_away(serve);
        if (fd < 0)
            return;
        admit(serve, fd, ntohl(from.sin_addr.s_addr));
    }
}

static bool start_loop(struct serve *serve)
{
    if (uv_loop_init(&serve->loop) != 0)
        return false;
    serve->loop_ready = true;
    uv_async_init(&serve->loop, &serve->stopper, on_stop);
    return true;
}

static void name_protocols(struct serve *serve)
{
    serve->protocols[SERVE_PROTOCOL_WEB] = (struct lws_protocols){.name = "web", .callback = web_callback};
    serve->protocols[SERVE_PROTOCOL_OURS] = (struct lws_protocols){
        .name = serve->cfg.subprotocol,
        .callback = session_callback,
        .rx_buffer_size = SERVE_RX_CHUNK,
    };
}

/* The library counts whole seconds. */
static unsigned handshake_seconds(const struct serve *serve)
{
    double s = serve->cfg.admission.handshake_s;
    return s > 1 && s < 60 ? (unsigned)(s + 0.999) : s >= 60 ? 60 : 1;
}

/* The library's context on our loop. It never gets a listener of its own: with a numeric address its own one would bind
 * to every interface. */
static bool start_library(struct serve *serve)
{
    void *loops[1] = {&serve->loop};
    struct lws_context_creation_info info = {
        .port = CONTEXT_PORT_NO_LISTEN_SERVER,
        .protocols = serve->protocols,
        .options = LWS_SERVER_OPTION_LIBUV | LWS_SERVER_OPTION_EXPLICIT_VHOSTS | LWS_SERVER_OPTION_VALIDATE_UTF8 |
                   LWS_SERVER_OPTION_DISABLE_IPV6,
        .foreign_loops = loops,
        .pcontext = &serve->lws,
        .gid = -1,
        .uid = -1,
        .max_http_header_data = (unsigned short)serve->cfg.admission.header_bytes,
        .timeout_secs = handshake_seconds(serve),
        .timeout_secs_ah_idle = handshake_seconds(serve),
        .keepalive_timeout = KEEPALIVE_S,
        .retry_and_idle_policy = &idle_policy,
    };
    lws_set_log_level(LLL_ERR, NULL);
    serve->lws = lws_create_context(&info);
    serve->vhost = serve->lws ? lws_create_vhost(serve->lws, &info) : NULL;
    lws_set_log_level(0, NULL); /* from here on it would only repeat what strangers send */
    if (!serve->vhost)
        fprintf(stderr, "serve: the WebSocket library does not start. Hint: install its libuv event-loop plugin.\n");
    return serve->vhost != NULL;
}

static bool start_listening(struct serve *serve)
{
    serve->listen_fd = door_listen(serve->cfg.listen, serve->cfg.share_port);
    if (serve->listen_fd < 0 || uv_poll_init(&serve->loop, &serve->listener, serve->listen_fd) != 0)
        return false;
    serve->reserve_fd = fcntl(serve->listen_fd, F_DUPFD_CLOEXEC, 0);
    serve->listener.data = serve;
    return uv_poll_start(&serve->listener, UV_READABLE, on_connection) == 0;
}

struct serve *serve_open(const struct serve_config *cfg)
{
    struct serve *serve = calloc(1, sizeof *serve);
    if (!serve)
        return NULL;
    serve->cfg = *cfg;
    serve->listen_fd = serve->reserve_fd = -1;
    name_protocols(serve);
    if (door_init(&serve->door, &cfg->admission, cfg->strangers) && start_loop(serve) &&
        (!cfg->web_root || pages_load(&serve->pages, cfg->web_root, cfg->index)) && start_library(serve) &&
        start_listening(serve))
        return serve;
    serve_free(serve);
    return NULL;
}

static void free_watch(uv_handle_t *handle)
{
    free(handle->data);
}

static void close_handle(uv_handle_t *handle, void *ctx)
{
    const struct serve *serve = ctx;
    const void *ours[] = {&serve->stopper, &serve->listener};
    for (size_t i = 0; i < sizeof ours / sizeof *ours; i++)
        if ((const void *)handle == ours[i])
            uv_close(handle, NULL);
    for (int i = 0; i < serve->timers; i++)
        if ((const void *)handle == (const void *)&serve->timer[i].uv)
            uv_close(handle, NULL);
}

void serve_free(struct serve *serve)
{
    if (!serve)
        return;
    for (int i = 0; i < SERVE_SLOTS; i++)
        if (serve->watch[i])
            serve_unwatch(serve, serve->watch[i]->fd);
    if (serve->loop_ready)
        uv_walk(&serve->loop, close_handle, serve);
    if (serve->lws)
        lws_context_destroy(serve->lws);
    if (serve->loop_ready) {
        uv_run(&serve->loop, UV_RUN_DEFAULT); /* the library's closes finish on the loop */
        if (serve->lws)
            lws_context_destroy(serve->lws);
        uv_loop_close(&serve->loop);
    }
    if (serve->listen_fd >= 0)
        close(serve->listen_fd);
    if (serve->reserve_fd >= 0)
        close(serve->reserve_fd);
    pages_free(&serve->pages);
    door_free(&serve->door);
    free(serve);
}

void serve_run(struct serve *serve)
{
    uv_run(&serve->loop, UV_RUN_DEFAULT);
}

void serve_stop(struct serve *serve)
{
    uv_async_send(&serve->stopper);
}

static void on_tick(uv_timer_t *uv)
{
    struct serve_timer *timer = uv->data;
    timer->tick(timer->ctx);
}

bool serve_every(struct serve *serve, unsigned period_ms, void (*tick)(void *ctx), void *ctx)
{
    if (serve->timers == SERVE_SLOTS)
        return false;
    struct serve_timer *timer = &serve->timer[serve->timers];
    timer->tick = tick;
    timer->ctx = ctx;
    if (uv_timer_init(&serve->loop, &timer->uv) != 0)
        return false;
    timer->uv.data = timer;
    serve->timers++;
    return uv_timer_start(&timer->uv, on_tick, period_ms, period_ms) == 0;
}

static void on_readable(uv_poll_t *uv, int status, int events)
{
    (void)status; /* an error shows itself when the owner reads */
    (void)events;
    struct serve_watch *watch = uv->data;
    watch->readable(watch->ctx);
}

bool serve_watch(struct serve *serve, int fd, void (*readable)(void *ctx), void *ctx)
{
    int slot = 0;
    while (slot < SERVE_SLOTS && serve->watch[slot])
        slot++;
    struct serve_watch *watch = slot < SERVE_SLOTS ? calloc(1, sizeof *watch) : NULL;
    if (!watch)
        return false;
    watch->fd = fd;
    watch->readable = readable;
    watch->ctx = ctx;
    if (uv_poll_init(&serve->loop, &watch->uv, fd) != 0) {
        free(watch);
        return false;
    }
    watch->uv.data = watch;
    serve->watch[slot] = watch;
    return uv_poll_start(&watch->uv, UV_READABLE | UV_DISCONNECT, on_readable) == 0;
}

void serve_unwatch(struct serve *serve, int fd)
{
    for (int i = 0; i < SERVE_SLOTS; i++) {
        struct serve_watch *watch = serve->watch[i];
        if (!watch || watch->fd != fd)
            continue;
        serve->watch[i] = NULL;
        uv_close((uv_handle_t *)&watch->uv, free_watch);
    }
}

void serve_close(struct serve_peer *peer, int code, const char *reason)
{
    if (peer->close_code)
        return;
    peer->close_code = (uint16_t)code;
    peer->close_reason = strdup(reason);
    lws_set_timeout(peer->wsi, PENDING_TIMEOUT_CLOSE_SEND, session_patience(peer)); /* a peer that never reads */
    lws_callback_on_writable(peer->wsi);
}

bool serve_is_closing(const struct serve_peer *peer)
{
    return peer->close_code != 0;
}

bool serve_accept(struct serve_peer *peer)
{
    return !peer->close_code && (peer->session || session_take_place(peer));
}

void serve_want_write(struct serve_peer *peer)
{
    if (!peer->close_code)
        lws_callback_on_writable(peer->wsi);
}

void serve_want_write_all(struct serve *serve)
{
    for (struct serve_peer *peer = serve->open; peer; peer = peer->next)
        if (peer->session)
            serve_want_write(peer);
}

void serve_get_counts(const struct serve *serve, struct serve_counts *out)
{
    *out = serve->counts;
    out->open_now = serve->door.sessions;
}
