/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What an opening handshake must look like (RFC 6455 4.2.1), as a pure function of the request's fields. The library
 * underneath checks none of this by itself.
 *
 * Origin: with a list of origins, one of them, exactly; without, the page's own: the host and port after the scheme
 * must equal the Host header (a proxy that ends TLS in front changes the scheme only), and the host must be an address
 * or localhost: whoever owns a name can let it stand for this machine, and then a page of theirs would be "our own"
 * (DNS rebinding). A name needs the list. A missing Origin is refused: every browser sends one, and a script can.
 */
#ifndef STEADYHAND_SERVE_HANDSHAKE_H
#define STEADYHAND_SERVE_HANDSHAKE_H

#include <stdbool.h>

#include "gateway/show/show.h"

enum handshake_fault {
    HANDSHAKE_OK,
    HANDSHAKE_METHOD,
    HANDSHAKE_PATH,
    HANDSHAKE_HTTP_VERSION,
    HANDSHAKE_HOST,
    HANDSHAKE_WS_VERSION,
    HANDSHAKE_KEY,
    HANDSHAKE_SUBPROTOCOL,
    HANDSHAKE_NAME,
    HANDSHAKE_ORIGIN,
    HANDSHAKE_FAULT_COUNT
};

/* Absent fields are "". */
struct handshake_request {
    bool get;
    const char *http; /* "HTTP/1.1" */
    const char *path, *host, *origin, *key, *version, *subprotocols;
};

struct handshake_rules {
    const char *path, *subprotocol;
    const struct show_listener *listen;
};

enum handshake_fault handshake_check(const struct handshake_rules *rules, const struct handshake_request *request);

/* A name or address with an optional port, and nothing else in it. */
bool handshake_host_valid(const char *host);

/* IPv4, IPv6 in brackets, or localhost; with or without a port. */
bool handshake_host_is_address(const char *host);

/* The answer's status line after "HTTP/1.1 ", e.g. "403 Forbidden", and a sentence that says what was wrong. */
const char *handshake_status(enum handshake_fault fault);
const char *handshake_text(enum handshake_fault fault);

#endif
