/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Plain HTTP: pages out of memory, and the guard in front of every WebSocket. */
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "gateway/serve/handshake.h"
#include "gateway/serve/serve_impl.h"

enum { FIELD = 256, BODY_CHUNK = 4096, PAGE_PATIENCE_S = 20 /* for the next chunk to be taken */ };

/* A header field, or "" if it is absent or longer than anything sensible. */
static const char *field(struct lws *wsi, enum lws_token_indexes token, char buf[FIELD])
{
    int n = lws_hdr_copy(wsi, buf, FIELD, token);
    if (n <= 0)
        buf[0] = '\0';
    return buf;
}

static int send_raw(struct lws *wsi, const char *text, size_t len, enum lws_write_protocol how)
{
    unsigned char buf[LWS_PRE + PAGES_HEAD_MAX + FIELD];
    if (len > sizeof buf - LWS_PRE)
        return -1;
    memcpy(buf + LWS_PRE, text, len);
    return lws_write(wsi, buf + LWS_PRE, len, how) < 0 ? -1 : 0;
}

/* A short text answer after which the connection closes. */
static int answer_and_close(struct lws *wsi, const char *status, const char *text, const char *extra)
{
    char out[PAGES_HEAD_MAX + FIELD];
    struct pages_answer answer = {
        .status = status, .type = "text/plain; charset=utf-8", .extra = extra, .length = strlen(text), .close = true};
    size_t head = pages_head(&answer, out);
    if (head == 0 || answer.length >= FIELD)
        return -1;
    memcpy(out + head, text, answer.length);
    (void)send_raw(wsi, out, head + answer.length, LWS_WRITE_HTTP_HEADERS);
    return -1;
}

static int refuse(struct serve_peer *peer, struct lws *wsi, enum handshake_fault fault)
{
    const char *extra = fault == HANDSHAKE_METHOD       ? "Allow: GET, HEAD\r\n"
                        : fault == HANDSHAKE_WS_VERSION ? "Sec-WebSocket-Version: 13\r\n"
                                                        : NULL;
    peer->serve->counts.bad_handshake++;
    return answer_and_close(wsi, handshake_status(fault), handshake_text(fault), extra);
}

/* Before an upgrade. The library would also upgrade to HTTP/2 here, and would not look at most fields. Its `in`
 * argument may point at freed memory and is never read. */
static int vet_upgrade(struct serve_peer *peer, struct lws *wsi)
{
    char upgrade[FIELD], http[FIELD], path[FIELD], host[FIELD], origin[FIELD], key[FIELD], version[FIELD], sub[FIELD];
    const struct serve_config *cfg = &peer->serve->cfg;
    const struct handshake_rules rules = {.path = cfg->path, .subprotocol = cfg->subprotocol, .listen = cfg->listen};
    if (strcasecmp(field(wsi, WSI_TOKEN_UPGRADE, upgrade), "websocket") != 0)
        return -1;
    const struct handshake_request request = {
        .get = lws_hdr_total_length(wsi, WSI_TOKEN_GET_URI) > 0,
        .http = field(wsi, WSI_TOKEN_HTTP, http),
        .path = field(wsi, WSI_TOKEN_GET_URI, path),
        .host = field(wsi, WSI_TOKEN_HOST, host),
        .origin = field(wsi, WSI_TOKEN_ORIGIN, origin),
        .key = field(wsi, WSI_TOKEN_KEY, key),
        .version = field(wsi, WSI_TOKEN_VERSION, version),
        .subprotocols = field(wsi, WSI_TOKEN_PROTOCOL, sub),
    };
    enum handshake_fault fault = handshake_check(&rules, &request);
    if (fault != HANDSHAKE_OK)
        return refuse(peer, wsi, fault);
    peer->vetted = true;
    return 0;
}

/* 0 if the connection goes on to another request. */
static int finish(struct serve_peer *peer, struct lws *wsi)
{
    return peer->serve->cfg.one_request || lws_http_transaction_completed(wsi) ? -1 : 0;
}

/* Sends the rest of a page piece by piece; the socket says when it can take more. Asked once more after the last piece,
 * it knows that the library has kept none of it back. */
static int send_page(struct serve_peer *peer, struct lws *wsi)
{
    unsigned char buf[LWS_PRE + BODY_CHUNK];
    if (!peer->page)
        return 0;
    lws_set_timeout(wsi, PENDING_TIMEOUT_HTTP_CONTENT, PAGE_PATIENCE_S);
    size_t left = peer->page->len - peer->page_sent, n = left < BODY_CHUNK ? left : BODY_CHUNK;
    if (left == 0) {
        peer->page = NULL;
        return finish(peer, wsi);
    }
    memcpy(buf + LWS_PRE, peer->page->data + peer->page_sent, n);
    if (lws_write(wsi, buf + LWS_PRE, n, n == left ? LWS_WRITE_HTTP_FINAL : LWS_WRITE_HTTP) < 0)
        return -1;
    peer->page_sent += n;
    lws_callback_on_writable(wsi);
    return 0;
}

static int start_page(struct serve_peer *peer, struct lws *wsi, const struct page *page, bool head_only)
{
    char head[PAGES_HEAD_MAX], known[FIELD];
    bool same = strcmp(field(wsi, WSI_TOKEN_HTTP_IF_NONE_MATCH, known), page->etag) == 0;
    struct pages_answer answer = {.status = same ? "304 Not Modified" : "200 OK",
                                  .type = page->type,
                                  .etag = page->etag,
                                  .length = page->len,
                                  .close = peer->serve->cfg.one_request};
    size_t len = pages_head(&answer, head);
    if (len == 0 || send_raw(wsi, head, len, LWS_WRITE_HTTP_HEADERS) != 0)
        return -1;
    if (same || head_only || page->len == 0)
        return finish(peer, wsi);
    peer->page = page;
    peer->page_sent = 0;
    lws_set_timeout(wsi, PENDING_TIMEOUT_HTTP_CONTENT, PAGE_PATIENCE_S);
    lws_callback_on_writable(wsi);
    return 0;
}

static bool has_body(struct lws *wsi)
{
    char length[FIELD];
    return lws_hdr_total_length(wsi, WSI_TOKEN_HTTP_TRANSFER_ENCODING) > 0 ||
           (lws_hdr_total_length(wsi, WSI_TOKEN_HTTP_CONTENT_LENGTH) > 0 &&
            strcmp(field(wsi, WSI_TOKEN_HTTP_CONTENT_LENGTH, length), "0") != 0);
}

static const struct page health = {
    .type = "text/plain; charset=utf-8", .etag = "\"ok\"", .data = (uint8_t *)(uintptr_t) "ok", .len = 2};

static int serve_request(struct serve_peer *peer, struct lws *wsi)
{
    char path[FIELD];
    bool get = lws_hdr_total_length(wsi, WSI_TOKEN_GET_URI) > 0;
    bool head = lws_hdr_total_length(wsi, WSI_TOKEN_HEAD_URI) > 0;
    if (!get && !head)
        return answer_and_close(wsi, "405 Method Not Allowed", "GET and HEAD only.", "Allow: GET, HEAD\r\n");
    if (has_body(wsi))
        return answer_and_close(wsi, "400 Bad Request", "A request here has no body.", NULL);
    field(wsi, get ? WSI_TOKEN_GET_URI : WSI_TOKEN_HEAD_URI, path);
    if (strcmp(path, "/healthz") == 0)
        return start_page(peer, wsi, &health, head);
    const struct page *page = pages_find(&peer->serve->pages, path);
    if (!page)
        return answer_and_close(wsi, "404 Not Found", "There is no such page here.", NULL);
    return start_page(peer, wsi, page, head);
}

int web_callback(struct lws *wsi, enum lws_callback_reasons reason, void *user, void *in, size_t len)
{
    (void)user;
    (void)in;
    (void)len;
    struct serve_peer *peer = lws_get_opaque_user_data(wsi);
    switch ((int)reason) {
    case LWS_CALLBACK_RAW_ADOPT: /* CONNECT would turn the connection into a raw one without any timeout */
    case LWS_CALLBACK_RAW_CONNECTED:
    case LWS_CALLBACK_FILTER_PROTOCOL_CONNECTION: /* a WebSocket without our subprotocol lands here */
    case LWS_CALLBACK_ESTABLISHED:
        return -1;
    case LWS_CALLBACK_HTTP_CONFIRM_UPGRADE:
        return peer ? vet_upgrade(peer, wsi) : -1;
    case LWS_CALLBACK_HTTP:
        return peer ? serve_request(peer, wsi) : -1;
    case LWS_CALLBACK_HTTP_WRITEABLE:
        return peer ? send_page(peer, wsi) : -1;
    case LWS_CALLBACK_WSI_DESTROY:
        if (peer)
            session_forget(peer);
        lws_set_opaque_user_data(wsi, NULL);
        return 0;
    default:
        return 0;
    }
}
