/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Inside gateway/serve only: the server's own structs, shared by serve.c, session.c and web.c. */
#ifndef STEADYHAND_SERVE_IMPL_H
#define STEADYHAND_SERVE_IMPL_H

#include <libwebsockets.h>
#include <uv.h>

#include "gateway/serve/door.h"
#include "gateway/serve/pages.h"
#include "gateway/serve/serve.h"

_Static_assert(SERVE_PRE >= LWS_PRE, "room for the library's frame header");

enum {
    SERVE_PROTOCOL_WEB,         /* plain HTTP, and everything that is not yet a WebSocket */
    SERVE_PROTOCOL_OURS,        /* the subprotocol */
    SERVE_RX_CHUNK = 256,       /* the library's receive buffer a connection */
    SERVE_SLOTS = 4,            /* timers, watches */
    SERVE_CLOSE_PATIENCE_S = 3, /* for a peer to take and answer a Close frame */
    SERVE_STRANGER_PATIENCE_S = 1,
};

struct serve_timer {
    uv_timer_t uv;
    void (*tick)(void *ctx);
    void *ctx;
};

struct serve_watch {
    uv_poll_t uv;
    int fd;
    void (*readable)(void *ctx);
    void *ctx;
};

/* One accepted connection, from accept to close. */
struct serve_peer {
    struct serve *serve;
    struct lws *wsi;
    uint32_t address;
    bool vetted;         /* its opening handshake passed every check */
    bool session;        /* accepted, and counted at the door as a session */
    bool open;           /* the handlers know it */
    bool outside;        /* no longer counted at the door */
    bool stranger;       /* in the list of strangers */
    bool in_message;     /* between the first and the last piece of a message */
    bool deaf;           /* it broke the rules: nothing more of it is heard */
    uint16_t close_code; /* not 0: it is being closed */
    bool close_sent;
    char *close_reason;
    size_t late; /* bytes it has said since */
    char *part;  /* pieces of a message so far, limits.message_bytes long; NULL until a message comes in pieces */
    size_t part_len;
    const struct page *page; /* being sent */
    size_t page_sent;
    struct serve_peer *next, **link;    /* list of open ones */
    struct serve_peer *older, *younger; /* list of strangers */
    _Alignas(max_align_t) unsigned char user[];
};

struct serve {
    struct serve_config cfg;
    struct lws_protocols protocols[3];
    struct lws_context *lws; /* set to NULL by the library when it is gone */
    struct lws_vhost *vhost;
    uv_loop_t loop;
    bool loop_ready;
    uv_async_t stopper;
    uv_poll_t listener;
    int listen_fd, reserve_fd;
    struct serve_timer timer[SERVE_SLOTS];
    int timers;
    struct serve_watch *watch[SERVE_SLOTS];
    struct door door;
    struct pages pages;
    struct serve_peer *open;
    struct serve_peer *oldest, *youngest; /* stranger */
    struct serve_counts counts;
};

/* Callbacks of the library. */
int session_callback(struct lws *wsi, enum lws_callback_reasons reason, void *user, void *in, size_t len);
int web_callback(struct lws *wsi, enum lws_callback_reasons reason, void *user, void *in, size_t len);

/* Makes a session of an open peer; false, and it is told, if there is no place. */
bool session_take_place(struct serve_peer *peer);

/* Out of the door's counts and the list of strangers. */
void session_leave(struct serve_peer *peer);

/* The peer's connection is gone. */
void session_forget(struct serve_peer *peer);

/* Seconds a peer is given to take and to answer a Close frame. */
int session_patience(const struct serve_peer *peer);

#endif
