/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/serve/door.h"

#include <arpa/inet.h>
#include <criterion/criterion.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include "tests/unit/crowd/random.h"

enum { ADDRESSES = 200, VIEWERS = 100, PER_ADDRESS = 4 };

static const struct show_admission limits = {.max_viewers = VIEWERS, .max_per_address = PER_ADDRESS};

Test(door, sessions_are_capped_in_all)
{
    struct door door;
    cr_assert(door_init(&door, &limits, 0));
    for (uint32_t a = 0; a < VIEWERS; a++) {
        cr_assert(door_enter(&door, a));
        cr_assert(door_begin_session(&door, a));
    }
    cr_assert(door_enter(&door, 5000), "a page still loads");
    cr_expect_not(door_begin_session(&door, 5000));
    door_end_session(&door, 3);
    cr_expect(door_begin_session(&door, 5000));
    door_free(&door);
}

Test(door, one_address_has_its_cap)
{
    struct door door;
    cr_assert(door_init(&door, &limits, 0));
    for (int i = 0; i < PER_ADDRESS; i++) {
        cr_assert(door_enter(&door, 7));
        cr_assert(door_begin_session(&door, 7));
    }
    cr_assert(door_enter(&door, 7));
    cr_expect_not(door_begin_session(&door, 7));
    cr_assert(door_enter(&door, 8));
    cr_expect(door_begin_session(&door, 8), "another address is not affected");
    int more = 0;
    while (more < 1000 && door_enter(&door, 7))
        more++;
    cr_expect_lt(more, 20, "connections from one address are capped too");
    door_free(&door);
}

/* Where strangers have places of their own, they are counted apart, and one address may have them all. */
Test(door, strangers_are_connections_that_are_no_sessions)
{
    struct door door;
    cr_assert(door_init(&door, &limits, 20));
    for (int i = 0; i < PER_ADDRESS; i++) {
        cr_assert(door_enter(&door, 7));
        cr_assert(door_begin_session(&door, 7));
    }
    cr_expect_eq(door_strangers(&door), 0);
    for (int i = 0; i < 20; i++)
        cr_assert(door_enter(&door, 7));
    cr_assert(door_enter(&door, 8));
    cr_expect_eq(door_strangers(&door), 21);
    cr_expect_eq(door_strangers_of(&door, 7), 20);
    cr_expect_eq(door_strangers_of(&door, 8), 1);
    cr_expect_eq(door_strangers_of(&door, 9), 0);
    for (uint32_t a = 100; door_enter(&door, a); a++)
        cr_assert_lt(a, 1000, "all connections are capped");
    cr_expect_eq(door.connections, VIEWERS + 20);
    door_free(&door);
}

Test(door, nobody_begins_without_having_entered)
{
    struct door door;
    cr_assert(door_init(&door, &limits, 0));
    cr_expect_not(door_begin_session(&door, 1));
    door_leave(&door, 1);
    door_end_session(&door, 1);
    cr_expect_eq(door.connections, 0);
    cr_expect_eq(door.sessions, 0);
    door_free(&door);
}

/* Addresses come and go in any order; the table always answers as a plain array would. */
Test(door, random_traffic_counts_exactly)
{
    static struct {
        uint32_t address, connections, sessions;
    } plain[ADDRESSES];
    struct random r = {11};
    struct door door;
    uint32_t connections = 0, sessions = 0, refused = 0;
    cr_assert(door_init(&door, &limits, 0));
    for (int i = 0; i < ADDRESSES; i++)
        plain[i].address = i < ADDRESSES / 2 ? (uint32_t)i : (uint32_t)random_u64(&r);
    for (int step = 0; step < 300000; step++) {
        uint32_t i = random_below(&r, ADDRESSES), act = random_below(&r, 4), a = plain[i].address;
        if (act == 0) {
            bool room = connections < door.max_connections && plain[i].connections < door.address_connections;
            cr_assert_eq(door_enter(&door, a), room, "step %d", step);
            plain[i].connections += room;
            connections += room;
            refused += !room;
        } else if (act == 1 && plain[i].connections > plain[i].sessions) {
            bool room = sessions < VIEWERS && plain[i].sessions < PER_ADDRESS;
            cr_assert_eq(door_begin_session(&door, a), room, "step %d", step);
            plain[i].sessions += room;
            sessions += room;
        } else if (act == 2 && plain[i].sessions > 0) {
            door_end_session(&door, a);
            plain[i].sessions--;
            sessions--;
        } else if (act == 3 && plain[i].connections > plain[i].sessions) {
            door_leave(&door, a);
            plain[i].connections--;
            connections--;
        }
        cr_assert_eq(door.connections, connections, "step %d", step);
        cr_assert_eq(door.sessions, sessions, "step %d", step);
    }
    cr_expect_gt(refused, 100, "the test reaches the limits: %u", refused);
    door_free(&door);
}

static struct sockaddr_in bound_to(int fd)
{
    struct sockaddr_in at;
    socklen_t size = sizeof at;
    cr_assert_eq(getsockname(fd, (struct sockaddr *)&at, &size), 0);
    return at;
}

/* The listener must be where the show says and nowhere else: the desk is bound to one address for a reason. */
Test(door, listens_on_exactly_that_address)
{
    struct show_listener where = {.host = "127.0.0.1"};
    int fd = door_listen(&where, false);
    cr_assert_geq(fd, 0);
    struct sockaddr_in at = bound_to(fd);
    cr_expect_eq(at.sin_family, AF_INET);
    cr_expect_eq(at.sin_addr.s_addr, htonl(INADDR_LOOPBACK));
    int other = socket(AF_INET, SOCK_STREAM, 0);
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK + 1);
    cr_expect_eq(connect(other, (struct sockaddr *)&at, sizeof at), -1, "127.0.0.2 must not answer");
    close(other);
    close(fd);
}

Test(door, a_port_is_shared_only_if_asked)
{
    struct show_listener where = {.host = "127.0.0.1"};
    int first = door_listen(&where, true);
    cr_assert_geq(first, 0);
    where.port = ntohs(bound_to(first).sin_port);
    int second = door_listen(&where, true);
    cr_expect_geq(second, 0);
    cr_expect_eq(door_listen(&where, false), -1);
    close(first);
    close(second);
}

Test(door, refuses_what_is_no_address)
{
    struct show_listener where = {.host = "localhost", .port = 1};
    cr_expect_eq(door_listen(&where, false), -1);
    where = (struct show_listener){.host = "203.0.113.7", .port = 1}; /* RFC 5737: nobody's */
    cr_expect_eq(door_listen(&where, false), -1);
}
