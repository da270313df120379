/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "echo.h"

enum { PLACES = 3, STRANGERS = 4, PAGE_BYTES = 1 << 20 };

static struct echo e; /* each test is a process of its own */

static void start(const char *web_root)
{
    struct serve_config cfg = echo_config(&e, PLACES);
    cfg.strangers = STRANGERS;
    cfg.web_root = web_root;
    echo_start_as(&e, &cfg);
}

static void accept_it(int fd)
{
    echo_say(fd, 0x81, "accept");
    echo_hear(fd, 0x81, "accept");
}

static void expect_alive(int fd)
{
    echo_say(fd, 0x81, "here");
    echo_hear(fd, 0x81, "here");
}

static void open_all(int *fd, int count)
{
    for (int i = 0; i < count; i++)
        fd[i] = echo_open(&e);
}

static void close_all(const int *fd, int count)
{
    for (int i = 0; i < count; i++)
        close(fd[i]);
}

Test(strangers, who_only_sits_there_makes_room)
{
    int idle[STRANGERS];
    start(NULL);
    open_all(idle, STRANGERS);
    int newcomer = echo_open(&e);
    cr_expect(echo_ends(idle[0]), "the oldest goes");
    for (int i = 1; i < STRANGERS; i++)
        expect_alive(idle[i]);
    accept_it(newcomer);
    close_all(idle, STRANGERS);
    close(newcomer);
    echo_finish(&e);
}

Test(strangers, take_no_place_from_who_was_accepted)
{
    int in[PLACES], idle[5 * STRANGERS];
    start(NULL);
    for (int i = 0; i < PLACES; i++) {
        in[i] = echo_open(&e);
        accept_it(in[i]);
        accept_it(in[i]); /* twice is once */
    }
    open_all(idle, 5 * STRANGERS);
    for (int i = 0; i < 4 * STRANGERS; i++)
        cr_expect(echo_ends(idle[i]), "%d", i);
    for (int i = 0; i < PLACES; i++)
        expect_alive(in[i]);
    echo_say(idle[5 * STRANGERS - 1], 0x81, "accept");
    echo_hear(idle[5 * STRANGERS - 1], 0x88,
              "\x0f\xa1"
              "full: try again later"); /* 4001 */
    close(in[0]);
    echo_wait(&e.closed, 4 * STRANGERS + 1);
    accept_it(idle[5 * STRANGERS - 2]);
    close_all(in, PLACES);
    close_all(idle, 5 * STRANGERS);
    echo_finish(&e);
}

Test(strangers, an_address_that_dials_without_end_pushes_out_its_own)
{
    int dials[100];
    start(NULL);
    int other = echo_dial(&e, 2); /* the oldest of all, and slow */
    for (int i = 0; i < 50; i++)
        dials[i] = echo_dial(&e, 3);
    echo_upgrade(&e, other);
    for (int i = 50; i < 100; i++)
        dials[i] = echo_dial(&e, 3);
    accept_it(other);
    for (int i = 0; i < 90; i++)
        cr_expect(echo_ends(dials[i]), "%d", i);
    expect_alive(other);
    close_all(dials, 100);
    close(other);
    echo_finish(&e);
}

static void make_page(char *folder, char *path, size_t size)
{
    cr_assert(mkdtemp(folder));
    snprintf(path, size, "%s/index.html", folder);
    FILE *f = fopen(path, "w");
    cr_assert(f);
    for (int i = 0; i < PAGE_BYTES; i++)
        fputc('.', f);
    fclose(f);
}

static int descriptors(void)
{
    int open = 0;
    for (int fd = 0; fd < 1024; fd++)
        open += fcntl(fd, F_GETFD) >= 0;
    return open;
}

/* Neither a handshake that never comes nor a page that nobody reads holds a place, or a descriptor. */
Test(strangers, half_done_requests_make_room_too)
{
    char folder[] = "/tmp/steadyhand-strangers-XXXXXX", path[64];
    int before, stuck[8 * STRANGERS];
    make_page(folder, path, sizeof path);
    start(folder);
    before = descriptors();
    for (int i = 0; i < 8 * STRANGERS; i++) {
        stuck[i] = echo_dial(&e, 1);
        if (i % 2)
            echo_get(stuck[i], "/");
        usleep(5000);
    }
    int fd = echo_open(&e);
    accept_it(fd);
    for (int i = 0; i < 7 * STRANGERS; i++)
        cr_expect(echo_ends(stuck[i]), "%d", i);
    close_all(stuck, 8 * STRANGERS);
    int now = 0;
    for (int i = 0; i < 3000 && (now = descriptors()) > before + 2; i++)
        usleep(10000);
    cr_expect_eq(now, before + 2, "%d, and %d before", now, before); /* both ends of fd */
    close(fd);
    echo_finish(&e);
    remove(path);
    rmdir(folder);
}

/* Nobody is accepted on the way out, be it by the application's word or for want of room. */
Test(strangers, are_not_accepted_once_they_are_being_closed)
{
    struct serve_config cfg = echo_config(&e, PLACES);
    struct serve_counts counts;
    cfg.strangers = STRANGERS;
    cfg.hear_to_the_end = true;
    echo_start_as(&e, &cfg);
    int fd = echo_open(&e);
    echo_say(fd, 0x81, "quit");
    echo_say(fd, 0x81, "accept");
    echo_wait(&e.late, 1);
    serve_get_counts(e.serve, &counts);
    cr_expect_eq(counts.open_now, 0);
    close(fd);
    echo_finish(&e);
}
