/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "ws_client.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { OP_TEXT = 1, OP_CLOSE = 8, OP_PING = 9, FIN = 0x80, MASKED = 0x80, SHORT_MAX = 125 };

static int connect_to(uint16_t port)
{
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons(port), .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    int on = 1, fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    if (fd >= 0 && connect(fd, (struct sockaddr *)&to, sizeof to) != 0) {
        close(fd);
        return -1;
    }
    return fd;
}

static bool upgrade(struct ws_client *ws, uint16_t port, const char *path, const char *subprotocol)
{
    char request[512];
    int len = snprintf(request, sizeof request,
                       "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%u\r\nOrigin: http://127.0.0.1:%u\r\nUpgrade: websocket\r\n"
                       "Connection: Upgrade\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
                       "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Protocol: %s\r\n\r\n",
                       path, (unsigned)port, (unsigned)port, subprotocol);
    if (send(ws->fd, request, (size_t)len, MSG_NOSIGNAL) != len)
        return false;
    char *end = NULL;
    while (!end) {
        ssize_t n = recv(ws->fd, ws->buf + ws->have, sizeof ws->buf - 1 - ws->have, 0);
        if (n <= 0)
            return false;
        ws->have += (size_t)n;
        ws->buf[ws->have] = '\0';
        end = strstr(ws->buf, "\r\n\r\n");
    }
    ws->used = (size_t)(end + 4 - ws->buf);
    return strncmp(ws->buf, "HTTP/1.1 101", 12) == 0;
}

bool ws_client_open(struct ws_client *ws, uint16_t port, const char *path, const char *subprotocol)
{
    ws->have = ws->used = 0;
    ws->close_code = 0;
    ws->fd = connect_to(port);
    if (ws->fd < 0)
        return false;
    if (upgrade(ws, port, path, subprotocol))
        return true;
    ws_client_close(ws);
    return false;
}

void ws_client_close(struct ws_client *ws)
{
    if (ws->fd >= 0)
        close(ws->fd);
    ws->fd = -1;
}

static size_t make_frame(uint8_t *frame, int op, const char *text, size_t len)
{
    static const uint8_t mask[4] = {0x37, 0xfa, 0x21, 0x3d};
    size_t n = 0;
    frame[n++] = (uint8_t)(FIN | op);
    if (len > SHORT_MAX) {
        frame[n++] = MASKED | 126;
        frame[n++] = (uint8_t)(len >> 8);
        frame[n++] = (uint8_t)len;
    } else {
        frame[n++] = (uint8_t)(MASKED | len);
    }
    memcpy(frame + n, mask, sizeof mask);
    n += sizeof mask;
    for (size_t i = 0; i < len; i++)
        frame[n++] = (uint8_t)((uint8_t)text[i] ^ mask[i % 4]);
    return n;
}

size_t ws_client_frame(uint8_t frame[WS_CLIENT_FRAME], const char *text, size_t len)
{
    return make_frame(frame, OP_TEXT, text, len);
}

static bool send_frame(struct ws_client *ws, int op, const char *text, size_t len)
{
    uint8_t frame[WS_CLIENT_FRAME];
    size_t n = make_frame(frame, op, text, len);
    return ws->fd >= 0 && send(ws->fd, frame, n, MSG_NOSIGNAL) == (ssize_t)n;
}

bool ws_client_send(struct ws_client *ws, const char *text)
{
    size_t len = strlen(text);
    return len + 8 <= WS_CLIENT_FRAME && send_frame(ws, OP_TEXT, text, len);
}

/* Header length, or 0 if the header is not whole yet. A server's frame is never masked. */
static size_t frame_size(const uint8_t *at, size_t have, size_t *payload)
{
    if (have < 2)
        return 0;
    *payload = at[1] & 127u;
    if (*payload < 126)
        return 2;
    if (*payload == 127 || have < 4) {
        *payload = 0;
        return 0;
    }
    *payload = (size_t)at[2] << 8 | at[3];
    return 4;
}

/* Takes one whole frame out of the buffer: its text if it is a text message, NULL if there is none or it was another.
 */
static const char *take_frame(struct ws_client *ws, bool *took)
{
    uint8_t *at = (uint8_t *)ws->buf + ws->used;
    size_t payload = 0, head = frame_size(at, ws->have - ws->used, &payload);
    *took = head > 0 && ws->have - ws->used >= head + payload;
    if (!*took)
        return NULL;
    int op = at[0] & 15;
    ws->used += head + payload;
    if (op == OP_CLOSE)
        ws->close_code = payload >= 2 ? at[head] << 8 | at[head + 1] : 1005;
    if (op == OP_PING)
        send_frame(ws, OP_PING + 1, (char *)at + head, payload);
    if (op != OP_TEXT)
        return NULL;
    memmove(at, at + head, payload); /* room for the NUL without touching the next frame */
    at[payload] = '\0';
    return (char *)at;
}

static bool receive(struct ws_client *ws, int timeout_ms)
{
    struct pollfd p = {.fd = ws->fd, .events = POLLIN};
    memmove(ws->buf, ws->buf + ws->used, ws->have - ws->used);
    ws->have -= ws->used;
    ws->used = 0;
    if (poll(&p, 1, timeout_ms) <= 0)
        return false;
    ssize_t n = recv(ws->fd, ws->buf + ws->have, sizeof ws->buf - ws->have, 0);
    if (n <= 0) {
        ws_client_close(ws);
        return false;
    }
    ws->have += (size_t)n;
    return true;
}

static int64_t now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

const char *ws_client_next(struct ws_client *ws, int timeout_ms)
{
    int64_t end = now_ms() + timeout_ms;
    for (;;) {
        bool took = true;
        while (took) {
            const char *text = take_frame(ws, &took);
            if (text)
                return text;
        }
        int64_t left = end - now_ms();
        if (ws->fd < 0 || !receive(ws, left > 0 ? (int)left : 0))
            return NULL;
    }
}
