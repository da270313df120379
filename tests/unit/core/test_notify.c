/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The protocol of sd_notify(3), as its manual page and that of unix(7) have it, between two sockets of ours. */
#include "gateway/notify.h"

#include <criterion/criterion.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

Test(notify, an_abstract_address_and_who_it_was)
{
    char address[NOTIFY_ADDRESS], text[NOTIFY_TEXT];
    struct notify notify;
    pid_t from = 0;
    int fd = notify_listen(address);
    cr_assert(fd >= 0 && address[0] == '@');
    cr_assert_not(notify_receive(fd, &from, text), "it does not wait");
    cr_assert_eq(notify_open(&notify, address), 0);
    cr_assert(notify_send(&notify, "READY=1\nSTATUS=here"));
    cr_assert(notify_receive(fd, &from, text));
    cr_assert_str_eq(text, "READY=1\nSTATUS=here");
    cr_assert_eq(from, getpid());
    notify_close(&notify);
    close(fd);
}

/* Made by hand, as a service manager would. */
Test(notify, a_path)
{
    char folder[] = "/tmp/steadyhand-notify-XXXXXX", text[32] = "";
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    struct notify notify;
    cr_assert(mkdtemp(folder));
    snprintf(at.sun_path, sizeof at.sun_path, "%s/n", folder);
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    cr_assert_eq(bind(fd, (struct sockaddr *)&at, sizeof at), 0);
    cr_assert_eq(notify_open(&notify, at.sun_path), 0);
    cr_assert(notify_send(&notify, NOTIFY_BEAT));
    cr_assert_eq(recv(fd, text, sizeof text, MSG_DONTWAIT), 10);
    cr_assert_str_eq(text, "WATCHDOG=1");
    close(fd);
    cr_assert_not(notify_send(&notify, NOTIFY_BEAT), "nobody listens");
    notify_close(&notify);
    unlink(at.sun_path);
    rmdir(folder);
}

/* A manager that does not read holds nobody up. */
Test(notify, never_waits)
{
    char address[NOTIFY_ADDRESS];
    struct notify notify;
    int fd = notify_listen(address), sent = 0;
    cr_assert_eq(notify_open(&notify, address), 0);
    while (sent < 100000 && notify_send(&notify, NOTIFY_BEAT))
        sent++;
    cr_assert(sent > 0 && sent < 100000, "%d", sent);
    notify_close(&notify);
    close(fd);
}

Test(notify, what_is_no_address_is_refused)
{
    char longer[200];
    struct notify notify;
    memset(longer, 'x', sizeof longer - 1);
    longer[0] = '/';
    longer[sizeof longer - 1] = '\0';
    const char *const bad[] = {"relative", "@", "/", longer};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        cr_assert_eq(notify_open(&notify, bad[i]), -EINVAL, "%s", bad[i]);
        cr_assert_eq(notify.fd, -1);
    }
    cr_assert_eq(notify_open(&notify, NULL), 0);
    cr_assert_eq(notify_open(&notify, ""), 0);
    cr_assert_not(notify_send(&notify, NOTIFY_BEAT));
}

Test(notify, lines_count_whole)
{
    cr_assert(notify_says("WATCHDOG=1", NOTIFY_BEAT));
    cr_assert(notify_says("STATUS=x\nWATCHDOG=1\n", NOTIFY_BEAT));
    cr_assert_not(notify_says("WATCHDOG=10", NOTIFY_BEAT));
    cr_assert_not(notify_says("STATUS=WATCHDOG=1", NOTIFY_BEAT));
    cr_assert_not(notify_says("", NOTIFY_BEAT));
}
