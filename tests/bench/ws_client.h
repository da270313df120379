/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A small blocking WebSocket client (RFC 6455) for benches and tests: one connection, whole text messages. It trusts
 * the server: what is wrong ends the connection. */
#ifndef STEADYHAND_BENCH_WS_CLIENT_H
#define STEADYHAND_BENCH_WS_CLIENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { WS_CLIENT_BUFFER = 65536, WS_CLIENT_FRAME = 1024 };

struct ws_client {
    int fd;         /* -1: closed */
    int close_code; /* what the server closed with, 0 = nothing yet */
    size_t have, used;
    char buf[WS_CLIENT_BUFFER];
};

/* Connects to 127.0.0.1:port and upgrades. False if refused. */
bool ws_client_open(struct ws_client *ws, uint16_t port, const char *path, const char *subprotocol);
void ws_client_close(struct ws_client *ws);

/* Writes one masked text frame; returns its length. len <= 125. */
size_t ws_client_frame(uint8_t frame[WS_CLIENT_FRAME], const char *text, size_t len);

/* One send() for one message (len <= 900). */
bool ws_client_send(struct ws_client *ws, const char *text);

/* The next text message within timeout_ms, NUL-terminated, valid until the next call; NULL: none, or closed. */
const char *ws_client_next(struct ws_client *ws, int timeout_ms);

#endif
