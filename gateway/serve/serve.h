/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A small HTTP + WebSocket server: the one place that knows libwebsockets (and its libuv loop). The edge and the desk
 * thread each own one.
 *
 * Everything runs on the thread that calls serve_run(); serve_stop() alone may be called elsewhere. It makes its own
 * listening socket (SO_REUSEPORT when shared, bound to exactly the address asked for) and enforces what RFC 6455 asks
 * and the library does not: method, version, key, Host, Origin, subprotocol, message size over all fragments, UTF-8,
 * Close payloads; no CONNECT, no HTTP/2, no upgrade without our subprotocol, no compression, no binary messages.
 *
 * Left as the library has it, because it shows nothing of them: unmasked frames are accepted (5.1 asks to refuse them;
 * masking guards caches between the two, not this server), a length longer than it need be is accepted (5.2), of
 * several pings that arrive together one is answered (5.5.3 allows it), and an empty text message is not handed over.
 */
#ifndef STEADYHAND_SERVE_SERVE_H
#define STEADYHAND_SERVE_SERVE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "gateway/show/show.h"

struct serve;      /* opaque */
struct serve_peer; /* opaque: one open WebSocket */

enum { SERVE_PRE = 64 }; /* free bytes needed in front of a message (at least LWS_PRE) */

/* Close codes of our own (RFC 6455 7.4.2: 4000-4999 private use). */
enum { SERVE_CLOSE_TOO_BIG = 1009, SERVE_CLOSE_BUSY = 4001, SERVE_CLOSE_BAD = 4002, SERVE_CLOSE_PASS = 4003 };

struct serve_message {
    const uint8_t *text; /* UTF-8; SERVE_PRE writable bytes lie before it; must stay until the next call */
    size_t len;
};

struct serve_handlers {
    /* A WebSocket is open; user is its zeroed state. Return false to close it at once. */
    bool (*open)(void *ctx, struct serve_peer *peer, void *user);
    /* One whole text message. */
    void (*message)(void *ctx, struct serve_peer *peer, void *user, const char *text, size_t len);
    void (*closed)(void *ctx, struct serve_peer *peer, void *user);
    /* The peer can take a message: fill *out with the next one for it, or return false if there is nothing to say.
     * Called again until false. Nothing is queued: the newest state is made when it can be sent, so a slow reader costs
     * no memory. */
    bool (*compose)(void *ctx, struct serve_peer *peer, void *user, struct serve_message *out);
};

struct serve_config {
    const struct show_listener *listen;
    bool share_port;  /* several processes on one port */
    const char *path; /* of the WebSocket, e.g. "/audience" */
    const char *subprotocol;
    const char *web_root; /* folder whose files are read into memory at start and served (GET, HEAD); NULL: none */
    const char *index;    /* file served for "/" */
    struct show_admission admission;
    /* Places for strangers, see serve_accept(); 0: whoever opens a WebSocket is accepted by that. */
    uint32_t strangers;
    bool hear_to_the_end;    /* whole messages of a peer that is being closed are still handed over, until it is gone */
    bool one_request;        /* a connection is good for one page or one WebSocket: no HTTP keep-alive */
    unsigned accepts_a_turn; /* connections taken before everybody else has a turn; 0: 64 */
    size_t user_bytes;       /* state per peer, zeroed */
    struct serve_handlers handlers;
    void *ctx;
};

struct serve_counts {
    uint64_t opened, turned_away, too_big, bad_handshake;
    uint32_t open_now;
};

/* NULL on error, with one line on stderr that says what and where (address in use, folder missing...). */
struct serve *serve_open(const struct serve_config *cfg);
void serve_free(struct serve *serve);

/* Runs until serve_stop(). */
void serve_run(struct serve *serve);
void serve_stop(struct serve *serve);

/* Calls `tick` every period_ms / when fd is readable, on the serving thread. fd stays the caller's. At most 4 of each.
 */
bool serve_every(struct serve *serve, unsigned period_ms, void (*tick)(void *ctx), void *ctx);
bool serve_watch(struct serve *serve, int fd, void (*readable)(void *ctx), void *ctx);
void serve_unwatch(struct serve *serve, int fd);

/* With places for strangers, the application says who may stay: until it accepts a peer, that peer is a stranger, as is
 * every connection that is no WebSocket yet. Strangers and accepted peers have places of their own: `strangers` and
 * admission.max_viewers. A stranger may be cut off at any moment to make room for the next (closed() is called); who
 * that is, see strangers.h. Limiting how long one may stay is the application's part. Returns false if the peer is
 * being closed already, or if all places are taken: then it is closed with SERVE_CLOSE_BUSY. */
bool serve_accept(struct serve_peer *peer);

/* serve_close() was called, or the server closes it for what it did. With hear_to_the_end its messages still come: an
 * application acts on those alone that must count however late. */
bool serve_is_closing(const struct serve_peer *peer);

/* Asks for a compose() call for this peer / for every accepted peer. */
void serve_want_write(struct serve_peer *peer);
void serve_want_write_all(struct serve *serve);

/* Closes with a code and a short reason (<= 120 bytes), after what compose() has already given. */
void serve_close(struct serve_peer *peer, int code, const char *reason);

void serve_get_counts(const struct serve *serve, struct serve_counts *out);

#endif
