/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/serve/handshake.h"

#include <arpa/inet.h>
#include <ctype.h>
#include <string.h>
#include <strings.h>

enum { KEY_CHARS = 24 }; /* base64 of 16 bytes, 4.2.1 item 5 */

static const struct {
    const char *status, *text;
} answers[] = {
    [HANDSHAKE_OK] = {"101 Switching Protocols", "welcome"},
    [HANDSHAKE_METHOD] = {"405 Method Not Allowed", "A WebSocket is opened with GET."},
    [HANDSHAKE_PATH] = {"404 Not Found", "There is no WebSocket at this path."},
    [HANDSHAKE_HTTP_VERSION] = {"505 HTTP Version Not Supported", "A WebSocket needs HTTP/1.1."},
    [HANDSHAKE_HOST] = {"400 Bad Request", "The Host header is missing or malformed."},
    [HANDSHAKE_WS_VERSION] = {"426 Upgrade Required", "Sec-WebSocket-Version must be 13."},
    [HANDSHAKE_KEY] = {"400 Bad Request", "Sec-WebSocket-Key must be 16 bytes in base64."},
    [HANDSHAKE_SUBPROTOCOL] = {"400 Bad Request", "Sec-WebSocket-Protocol must name this server's protocol."},
    [HANDSHAKE_NAME] = {"403 Forbidden", "A host name works here only if the show file lists its origin. Hint: use the "
                                         "address in numbers, or add to \"origins\"."},
    [HANDSHAKE_ORIGIN] = {"403 Forbidden",
                          "This page's origin is not allowed here. The show file lists those that are."},
};
_Static_assert(sizeof answers / sizeof *answers == HANDSHAKE_FAULT_COUNT, "an answer for each fault");

const char *handshake_status(enum handshake_fault fault)
{
    return answers[fault].status;
}

const char *handshake_text(enum handshake_fault fault)
{
    return answers[fault].text;
}

bool handshake_host_valid(const char *host)
{
    static const char allowed[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._:[]";
    return *host != '\0' && host[strspn(host, allowed)] == '\0';
}

bool handshake_host_is_address(const char *host)
{
    char name[INET6_ADDRSTRLEN];
    unsigned char parsed[sizeof(struct in6_addr)];
    bool v6 = *host == '[';
    host += v6;
    size_t len = strcspn(host, v6 ? "]" : ":");
    if (len >= sizeof name)
        return false;
    memcpy(name, host, len);
    name[len] = '\0';
    host += len;
    if (v6 && *host++ != ']')
        return false;
    if (*host == ':')
        host += 1 + strspn(host + 1, "0123456789");
    if (*host != '\0')
        return false;
    return inet_pton(v6 ? AF_INET6 : AF_INET, name, parsed) == 1 || (!v6 && strcasecmp(name, "localhost") == 0);
}

static bool is_base64(char c)
{
    return isalnum((unsigned char)c) || c == '+' || c == '/';
}

/* 22 base64 characters and "==": the last of them carries 2 bits, so its lower 4 bits are zero: A, Q, g or w. */
static bool key_valid(const char *key)
{
    if (strlen(key) != KEY_CHARS || strcmp(key + KEY_CHARS - 2, "==") != 0)
        return false;
    for (int i = 0; i < KEY_CHARS - 2; i++)
        if (!is_base64(key[i]))
            return false;
    return strchr("AQgw", key[KEY_CHARS - 3]) != NULL;
}

/* Is `name` one of the comma-separated tokens of `list`? Subprotocol names are case-sensitive (1.9, 11.3.4). */
static bool lists(const char *list, const char *name)
{
    size_t len = strlen(name);
    while (*list != '\0') {
        list += strspn(list, " \t,");
        size_t token = strcspn(list, " \t,");
        if (token == len && memcmp(list, name, len) == 0)
            return true;
        list += token;
    }
    return false;
}

static bool own_origin(const char *origin, const char *host)
{
    const char *after = strstr(origin, "://");
    bool web = strncasecmp(origin, "http://", 7) == 0 || strncasecmp(origin, "https://", 8) == 0;
    return web && strcasecmp(after + 3, host) == 0;
}

static bool origin_allowed(const struct show_listener *listen, const char *origin, const char *host)
{
    if (listen->origins == 0)
        return own_origin(origin, host);
    for (int i = 0; i < listen->origins; i++)
        if (strcasecmp(listen->origin[i], origin) == 0)
            return true;
    return false;
}

enum handshake_fault handshake_check(const struct handshake_rules *rules, const struct handshake_request *request)
{
    if (!request->get)
        return HANDSHAKE_METHOD;
    if (strcmp(request->path, rules->path) != 0)
        return HANDSHAKE_PATH;
    if (strcmp(request->http, "HTTP/1.1") != 0)
        return HANDSHAKE_HTTP_VERSION;
    if (!handshake_host_valid(request->host))
        return HANDSHAKE_HOST;
    if (strcmp(request->version, "13") != 0)
        return HANDSHAKE_WS_VERSION;
    if (!key_valid(request->key))
        return HANDSHAKE_KEY;
    if (!lists(request->subprotocols, rules->subprotocol))
        return HANDSHAKE_SUBPROTOCOL;
    if (rules->listen->origins == 0 && !handshake_host_is_address(request->host))
        return HANDSHAKE_NAME;
    if (!origin_allowed(rules->listen, request->origin, request->host))
        return HANDSHAKE_ORIGIN;
    return HANDSHAKE_OK;
}
