/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What is heard of a peer that is being closed. */
#include <criterion/criterion.h>
#include <string.h>
#include <unistd.h>

#include "echo.h"

static struct echo e; /* each test is a process of its own */

static void start(bool hear_to_the_end)
{
    struct serve_config cfg = echo_config(&e, 10);
    cfg.hear_to_the_end = hear_to_the_end;
    echo_start_as(&e, &cfg);
}

/* Says "quit", which closes it, and then that, all in one segment. */
static int quit_and_say(const char *frames, size_t len)
{
    char bytes[512] = "\x81\x84\0\0\0\0quit";
    int fd = echo_open(&e);
    memcpy(bytes + 10, frames, len);
    cr_assert_eq(send(fd, bytes, 10 + len, 0), (ssize_t)(10 + len));
    return fd;
}

static const char two[] = "\x81\x83\0\0\0\0one\x01\x81\0\0\0\0t\x80\x82\0\0\0\0wo";

static int heard_late(bool hear_to_the_end, const char *frames, size_t len)
{
    start(hear_to_the_end);
    int fd = quit_and_say(frames, len);
    echo_hear(fd, 0x88,
              "\x0f\xa3"
              "asked to"); /* 4003, and no answer to what came late */
    echo_say(fd, 0x88, "\x0f\xa3");
    cr_expect(echo_ends(fd));
    close(fd);
    echo_wait(&e.closed, 1);
    int late = atomic_load(&e.late);
    echo_finish(&e);
    return late;
}

Test(ending, whole_messages_are_heard_to_the_end_if_asked_for)
{
    cr_expect_eq(heard_late(true, two, sizeof two - 1), 2);
}

Test(ending, nothing_is_heard_if_not)
{
    cr_expect_eq(heard_late(false, two, sizeof two - 1), 0);
}

/* Neither after a binary message nor after one that is too big. */
Test(ending, who_breaks_the_rules_is_not_heard_any_more)
{
    static const char one[] = "\x81\x83\0\0\0\0one", binary[] = "\x82\x81\0\0\0\0x\x81\x83\0\0\0\0one";
    char big[8 + ECHO_MAX + 1 + 9] = "\x81\xfe\x01\x01"; /* 257 bytes */
    memset(big + 8, 'x', ECHO_MAX + 1);
    memcpy(big + 8 + ECHO_MAX + 1, one, 9);
    cr_expect_eq(heard_late(true, one, 9), 1);
    cr_expect_eq(heard_late(true, binary, 16), 0);
    cr_expect_eq(heard_late(true, big, sizeof big), 0);
}

/* A peer that takes nothing: the Close cannot be sent for all that waits before it, and it is heard all the same. */
Test(ending, a_peer_that_takes_nothing_is_heard)
{
    start(true);
    int fd = quit_and_say(two, sizeof two - 1);
    echo_wait(&e.late, 2);
    echo_wait(&e.closed, 1); /* patience has an end */
    close(fd);
    echo_finish(&e);
}

Test(ending, nobody_talks_for_ever)
{
    static const char more[] = "\x81\x84\0\0\0\0more";
    char flood[1000 * 10];
    for (int i = 0; i < 1000; i++)
        memcpy(flood + 10 * i, more, 10);
    start(true);
    int fd = quit_and_say(more, 10), sent = 0;
    while (sent < 100 && send(fd, flood, sizeof flood, MSG_NOSIGNAL) == (ssize_t)sizeof flood)
        sent++;
    echo_wait(&e.closed, 1);
    int late = atomic_load(&e.late);
    cr_expect(late > 10000 && late <= 65536 / 4 + 1, "%d", late);
    close(fd);
    echo_finish(&e);
}
