/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/serve/handshake.h"

#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

static const struct show_listener own = {.host = "127.0.0.1", .port = 8080};
static const struct show_listener listed = {.origins = 2,
                                            .origin = {"https://show.example", "http://stage.example:8080"}};

/* The key is the one of RFC 6455, section 1.3. */
static const struct handshake_request good = {.get = true,
                                              .http = "HTTP/1.1",
                                              .path = "/audience",
                                              .host = "192.0.2.10:8080",
                                              .origin = "http://192.0.2.10:8080",
                                              .key = "dGhlIHNhbXBsZSBub25jZQ==",
                                              .version = "13",
                                              .subprotocols = "other.1, steadyhand.audience.1"};

static enum handshake_fault check(const struct show_listener *listen, const struct handshake_request *request)
{
    const struct handshake_rules rules = {
        .path = "/audience", .subprotocol = "steadyhand.audience.1", .listen = listen};
    return handshake_check(&rules, request);
}

static void expect(struct handshake_request request, enum handshake_fault fault)
{
    enum handshake_fault got = check(&own, &request);
    cr_expect_eq(got, fault, "%d, expected %d", got, fault);
}

Test(handshake, a_good_one)
{
    expect(good, HANDSHAKE_OK);
}

Test(handshake, line_and_path)
{
    struct handshake_request r = good;
    r.get = false;
    expect(r, HANDSHAKE_METHOD);
    r = good;
    r.path = "/audience/";
    expect(r, HANDSHAKE_PATH);
    r.path = "";
    expect(r, HANDSHAKE_PATH);
    static const char *const versions[] = {"HTTP/1.0", "HTTP/2.0", "HTTP/1.10", "HTTP/1.1 ", ""};
    for (size_t i = 0; i < sizeof versions / sizeof *versions; i++) {
        r = good;
        r.http = versions[i];
        expect(r, HANDSHAKE_HTTP_VERSION);
    }
}

Test(handshake, host)
{
    static const char *const bad[] = {"", "a,b", "a b", "user@host", "a/b", "a?b", "a#b", "a\r\nb", "host\x80"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct handshake_request r = good;
        r.host = bad[i];
        expect(r, HANDSHAKE_HOST);
    }
    cr_expect(handshake_host_valid("[::1]:8080"));
    cr_expect(handshake_host_valid("127.0.0.1"));
}

Test(handshake, websocket_version)
{
    static const char *const bad[] = {"", "8", "12", "14", "013", "13, 8", "13,13", "x"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct handshake_request r = good;
        r.version = bad[i];
        expect(r, HANDSHAKE_WS_VERSION);
    }
}

Test(handshake, key)
{
    static const char *const bad[] = {"",
                                      "AAAA",
                                      "dGhlIHNhbXBsZSBub25jZQ",
                                      "dGhlIHNhbXBsZSBub25jZQ=A",
                                      "dGhlIHNhbXBsZSBub25jZR==", /* bits beyond the 16th byte */
                                      "dGhlIHNhbXBsZSBub25j-Q==",
                                      "dGhlIHNhbXBsZSBub25jZQ==,dGhlIHNhbXBsZSBub25jZQ=="};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct handshake_request r = good;
        r.key = bad[i];
        expect(r, HANDSHAKE_KEY);
    }
}

Test(handshake, subprotocol)
{
    static const char *const bad[] = {"",
                                      "steadyhand.audience.10",
                                      "steadyhand.audience",
                                      "STEADYHAND.AUDIENCE.1",
                                      "steadyhand.desk.1",
                                      "xsteadyhand.audience.1",
                                      "web"};
    static const char *const fine[] = {"steadyhand.audience.1", "a,steadyhand.audience.1,b", " steadyhand.audience.1 "};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct handshake_request r = good;
        r.subprotocols = bad[i];
        expect(r, HANDSHAKE_SUBPROTOCOL);
    }
    for (size_t i = 0; i < sizeof fine / sizeof *fine; i++) {
        struct handshake_request r = good;
        r.subprotocols = fine[i];
        expect(r, HANDSHAKE_OK);
    }
}

Test(handshake, own_origin)
{
    static const char *const bad[] = {"",
                                      "null",
                                      "http://192.0.2.10",
                                      "http://192.0.2.10:8081",
                                      "http://192.0.2.10:8080.evil.example",
                                      "http://evil.example:8080",
                                      "http://192.0.2.10:8080/",
                                      "file://192.0.2.10:8080",
                                      "192.0.2.10:8080",
                                      "http://http://192.0.2.10:8080"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct handshake_request r = good;
        r.origin = bad[i];
        expect(r, HANDSHAKE_ORIGIN);
    }
    struct handshake_request r = good;
    r.origin = "https://192.0.2.10:8080"; /* a proxy ends TLS */
    expect(r, HANDSHAKE_OK);
}

/* A name can be made to stand for this machine by whoever owns it: then its page would pass for our own. */
Test(handshake, without_a_list_a_name_is_no_host_of_ours)
{
    static const char *const names[] = {"stage.example:8080",
                                        "stage.local",
                                        "localhost.example",
                                        "127.0.0.1.example",
                                        "127.1",
                                        "2130706433",
                                        "0x7f.0.0.1",
                                        "127.0.0.1:80:80",
                                        "127.0.0.1:http",
                                        "[::1",
                                        "::1",
                                        "[stage.example]:8080",
                                        "[127.0.0.1]",
                                        "localhost..",
                                        "1.2.3.4.5",
                                        "[::1]x",
                                        "999.0.0.1",
                                        "127.0.0.1.",
                                        "localhost:80.example"};
    static const char *const addresses[] = {"127.0.0.1",          "192.0.2.10:8080", "[::1]",
                                            "[2001:db8::7]:8081", "localhost",       "LocalHost:80"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char origin[80];
        struct handshake_request r = good;
        snprintf(origin, sizeof origin, "http://%s", names[i]);
        r.host = names[i];
        r.origin = origin;
        expect(r, HANDSHAKE_NAME);
        cr_expect_not(handshake_host_is_address(names[i]), "%s", names[i]);
    }
    for (size_t i = 0; i < sizeof addresses / sizeof *addresses; i++) {
        char origin[80];
        struct handshake_request r = good;
        snprintf(origin, sizeof origin, "http://%s", addresses[i]);
        r.host = addresses[i];
        r.origin = origin;
        expect(r, HANDSHAKE_OK);
    }
}

Test(handshake, listed_origins)
{
    struct handshake_request r = good;
    r.host = "stage.example:8080";
    r.origin = "http://stage.example:8080";
    cr_expect_eq(check(&listed, &r), HANDSHAKE_OK);
    r.host = "behind.proxy";
    r.origin = "https://show.example";
    cr_expect_eq(check(&listed, &r), HANDSHAKE_OK);
    static const char *const bad[] = {"",
                                      "null",
                                      "http://show.example",
                                      "https://show.example:443",
                                      "https://show.example.evil.example",
                                      "http://behind.proxy",
                                      "https://show.exampl"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        r.origin = bad[i];
        cr_expect_eq(check(&listed, &r), HANDSHAKE_ORIGIN, "%s", bad[i]);
    }
}

Test(handshake, each_fault_has_its_answer)
{
    for (int f = 0; f < HANDSHAKE_FAULT_COUNT; f++) {
        const char *status = handshake_status((enum handshake_fault)f);
        cr_expect(strlen(status) > 4 && (status[0] == '4' || status[0] == '5' || f == HANDSHAKE_OK));
        cr_expect(strlen(handshake_text((enum handshake_fault)f)) > 5);
    }
}
