/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A WebSocket from its opening to its end: whole messages in, newest messages out. */
#include <stdlib.h>
#include <string.h>

#include "gateway/serve/strangers.h"

enum { WS_PROTOCOL_ERROR = 1002, WS_NOT_TEXT = 1003, REASON_MAX = 120, LATE_MAX = 65536 };

static void unlink_open(struct serve_peer *peer)
{
    *peer->link = peer->next;
    if (peer->next)
        peer->next->link = peer->link;
}

static void link_open(struct serve_peer *peer)
{
    struct serve_peer **head = &peer->serve->open;
    peer->next = *head;
    peer->link = head;
    if (*head)
        (*head)->link = &peer->next;
    *head = peer;
}

/* Every close of ours goes this way (RFC 6455 5.5.1). Left to the library, the Close frame is lost when unsent data
 * waits before it, and on this event loop always, unless the close is asked for while receiving. The peer's answer, or
 * the time limit, then ends the connection. */
static int send_close(struct serve_peer *peer)
{
    unsigned char buf[LWS_PRE + 4 + REASON_MAX], *frame = buf + LWS_PRE;
    if (peer->close_sent)
        return 0;
    size_t len = peer->close_reason ? strnlen(peer->close_reason, REASON_MAX) : 0;
    frame[0] = 0x88;
    frame[1] = (unsigned char)(2 + len);
    frame[2] = (unsigned char)(peer->close_code >> 8);
    frame[3] = (unsigned char)peer->close_code;
    if (len > 0)
        memcpy(frame + 4, peer->close_reason, len);
    peer->close_sent = true;
    lws_set_timeout(peer->wsi, PENDING_TIMEOUT_CLOSE_ACK, session_patience(peer));
    return lws_write(peer->wsi, frame, 4 + len, LWS_WRITE_HTTP) < 0 ? -1 : 0; /* HTTP: as it stands */
}

int session_patience(const struct serve_peer *peer)
{
    return peer->stranger ? SERVE_STRANGER_PATIENCE_S : SERVE_CLOSE_PATIENCE_S;
}

bool session_take_place(struct serve_peer *peer)
{
    struct serve *serve = peer->serve;
    if (!door_begin_session(&serve->door, peer->address)) {
        serve->counts.turned_away++;
        serve_close(peer, SERVE_CLOSE_BUSY, "full: try again later");
        return false;
    }
    peer->session = true;
    strangers_leave(peer);
    return true;
}

static int begin(struct serve_peer *peer)
{
    struct serve *serve = peer->serve;
    if (serve->cfg.strangers == 0 && !session_take_place(peer))
        return 0;
    peer->open = true;
    link_open(peer);
    serve->counts.opened++;
    if (!serve->cfg.handlers.open(serve->cfg.ctx, peer, peer->user))
        serve_close(peer, SERVE_CLOSE_BUSY, "not now: try again later");
    return 0;
}

static void end(struct serve_peer *peer)
{
    struct serve *serve = peer->serve;
    if (peer->open) {
        peer->open = false;
        unlink_open(peer);
        serve->cfg.handlers.closed(serve->cfg.ctx, peer, peer->user);
    }
    if (peer->session)
        door_end_session(&serve->door, peer->address);
    peer->session = false;
}

void session_leave(struct serve_peer *peer)
{
    strangers_leave(peer);
    if (!peer->outside)
        door_leave(&peer->serve->door, peer->address);
    peer->outside = true;
}

void session_forget(struct serve_peer *peer)
{
    end(peer);
    session_leave(peer);
    free(peer->part);
    free(peer->close_reason);
    free(peer);
}

static bool keep_part(struct serve_peer *peer, const void *in, size_t len)
{
    if (!peer->part)
        peer->part = malloc(peer->serve->cfg.admission.message_bytes);
    if (!peer->part)
        return false;
    memcpy(peer->part + peer->part_len, in, len);
    peer->part_len += len;
    return true;
}

static void deliver(struct serve_peer *peer, const char *text, size_t len)
{
    peer->serve->cfg.handlers.message(peer->serve->cfg.ctx, peer, peer->user, text, len);
}

/* On its way out it is not read from for ever, whether or not it is heard. */
static bool said_enough(struct serve_peer *peer, size_t len)
{
    peer->late += peer->close_code ? len : 0;
    return peer->late > LATE_MAX;
}

static bool is_heard(const struct serve_peer *peer)
{
    return !peer->deaf && (!peer->close_code || (peer->open && peer->serve->cfg.hear_to_the_end));
}

static int refuse(struct serve_peer *peer, int code, const char *reason)
{
    peer->deaf = true;
    peer->serve->counts.too_big += code == SERVE_CLOSE_TOO_BIG;
    serve_close(peer, code, reason);
    return 0;
}

/* The library hands over a message in pieces and knows no limit: pieces are counted here, with what the frame has yet
 * to bring, so that an announced monster is refused at its first byte. */
static int receive(struct serve_peer *peer, const void *in, size_t len)
{
    struct lws *wsi = peer->wsi;
    size_t coming = lws_remaining_packet_payload(wsi);
    size_t room = peer->serve->cfg.admission.message_bytes - peer->part_len;
    bool first = lws_is_first_fragment(wsi) != 0, last = coming == 0 && lws_is_final_fragment(wsi);
    if (said_enough(peer, len))
        return -1;
    if (!is_heard(peer))
        return 0;
    if (lws_frame_is_binary(wsi))
        return refuse(peer, WS_NOT_TEXT, "text messages only");
    if (first == peer->in_message)
        return refuse(peer, WS_PROTOCOL_ERROR, "fragments out of order");
    if (len > room || coming > room - len)
        return refuse(peer, SERVE_CLOSE_TOO_BIG, "message too big");
    peer->in_message = !last;
    if (first && last) {
        deliver(peer, in, len);
        return 0;
    }
    if (!keep_part(peer, in, len))
        return -1;
    if (last) {
        len = peer->part_len;
        peer->part_len = 0;
        deliver(peer, peer->part, len);
    }
    return 0;
}

/* Sends while there is something to say and the socket takes it. */
static int transmit(struct serve_peer *peer)
{
    const struct serve_config *cfg = &peer->serve->cfg;
    struct serve_message message;
    while (!peer->close_code && peer->open && cfg->handlers.compose(cfg->ctx, peer, peer->user, &message)) {
        unsigned char *text = (unsigned char *)(uintptr_t)message.text; /* the library writes its header before it */
        if (lws_write(peer->wsi, text, message.len, LWS_WRITE_TEXT) < 0)
            return -1;
        if (lws_send_pipe_choked(peer->wsi)) {
            lws_callback_on_writable(peer->wsi);
            return 0;
        }
    }
    return peer->close_code ? send_close(peer) : 0;
}

/* RFC 6455 5.5.1, 7.4: nothing, or a code that may be sent and a reason. The library checks the rest. */
static bool close_valid(const unsigned char *payload, size_t len)
{
    unsigned code = len >= 2 ? (unsigned)payload[0] << 8 | payload[1] : 0;
    return len == 0 || (len >= 2 && code >= 1000 && code < 5000);
}

int session_callback(struct lws *wsi, enum lws_callback_reasons reason, void *user, void *in, size_t len)
{
    (void)user;
    struct serve_peer *peer = lws_get_opaque_user_data(wsi);
    switch ((int)reason) {
    case LWS_CALLBACK_FILTER_PROTOCOL_CONNECTION:
        return peer && peer->vetted ? 0 : -1;
    case LWS_CALLBACK_ESTABLISHED:
        return peer ? begin(peer) : -1;
    case LWS_CALLBACK_RECEIVE:
        return peer ? receive(peer, in, len) : -1;
    case LWS_CALLBACK_SERVER_WRITEABLE:
        return peer ? transmit(peer) : -1;
    case LWS_CALLBACK_WS_PEER_INITIATED_CLOSE:
        return peer && !peer->close_sent && close_valid(in, len) ? 0 : -1; /* an answer to ours is not answered again */
    case LWS_CALLBACK_CLOSED:
        if (peer)
            end(peer);
        return 0;
    default:
        return web_callback(wsi, reason, user, in, len);
    }
}
