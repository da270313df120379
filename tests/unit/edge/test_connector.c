/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/connector.h"

#include <criterion/criterion.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "gateway/bus/bus.h"

static char folder[64], path[96];

static void set_up(void)
{
    snprintf(folder, sizeof folder, "/tmp/steadyhand-connector-XXXXXX");
    cr_assert(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/bus.sock", folder);
}

static void tear_down(void)
{
    unlink(path);
    rmdir(folder);
}

TestSuite(connector, .init = set_up, .fini = tear_down);

static bool readable(int fd, int ms)
{
    struct pollfd p = {.fd = fd, .events = POLLIN};
    return poll(&p, 1, ms) == 1;
}

static int ask(int connector)
{
    cr_assert(connector_ask(connector));
    cr_assert(readable(connector, 5000));
    return connector_take(connector);
}

Test(connector, brings_a_line_to_core_whenever_core_is_there)
{
    uint8_t frame[BUS_FRAME_MAX];
    int connector = connector_start(path);
    cr_assert_geq(connector, 0);
    cr_expect_eq(connector_take(connector), -EAGAIN, "it was not asked");
    cr_expect_eq(ask(connector), -ENOENT);
    for (int i = 0; i < 3; i++) {
        int core = bus_listen(path), line, end;
        cr_assert_geq(core, 0);
        line = ask(connector);
        end = bus_accept(core);
        cr_assert(line >= 0 && end >= 0, "%d, %d", line, end);
        cr_expect(fcntl(line, F_GETFL) & O_NONBLOCK);
        cr_expect(fcntl(line, F_GETFD) & FD_CLOEXEC);
        cr_assert_eq(bus_send(line, (const uint8_t *)"hello", 5), 0);
        cr_assert(readable(end, 1000));
        cr_expect_eq(bus_receive(end, frame, sizeof frame), 5);
        close(line);
        cr_assert(readable(end, 1000));
        cr_expect_eq(bus_receive(end, frame, sizeof frame), 0, "nobody else has the line");
        close(end);
        close(core);
        cr_expect_eq(ask(connector), -ECONNREFUSED);
        cr_assert_eq(unlink(path), 0);
    }
    close(connector);
}

/* It ends with the edge, and keeps none of the edge's descriptors open: neither a listener's port nor its output. */
Test(connector, keeps_nothing_open_and_ends_with_the_edge)
{
    int output[2], status;
    char byte;
    cr_assert_eq(pipe(output), 0);
    int connector = connector_start(path);
    cr_assert_geq(connector, 0);
    cr_expect_eq(ask(connector), -ENOENT, "it has started");
    close(output[1]);
    cr_expect_eq(read(output[0], &byte, 1), 0, "nobody else has the pipe's end");
    cr_expect_eq(waitpid(-1, &status, WNOHANG), 0);
    close(connector);
    cr_assert_gt(waitpid(-1, &status, 0), 0);
    cr_expect(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    close(output[0]);
}

static pid_t only_child(void)
{
    char pid[32] = "";
    FILE *children = fopen("/proc/thread-self/children", "r");
    cr_assert(children && fgets(pid, sizeof pid, children));
    fclose(children);
    cr_assert_gt(strtol(pid, NULL, 10), 1);
    return (pid_t)strtol(pid, NULL, 10);
}

Test(connector, is_known_to_be_gone)
{
    int status, connector = connector_start(path);
    cr_expect_eq(ask(connector), -ENOENT);
    pid_t pid = only_child();
    kill(pid, SIGKILL);
    cr_assert(readable(connector, 2000));
    cr_expect_eq(connector_take(connector), -EPIPE);
    cr_expect_not(connector_ask(connector));
    cr_assert_eq(waitpid(pid, &status, 0), pid);
    close(connector);
}

/* Ctrl-C and a signal to the whole group are the edge's to act on. */
Test(connector, does_not_end_before_the_edge)
{
    int connector = connector_start(path);
    cr_expect_eq(ask(connector), -ENOENT);
    pid_t pid = only_child();
    kill(pid, SIGINT);
    kill(pid, SIGTERM);
    cr_expect_eq(ask(connector), -ENOENT);
    close(connector);
    waitpid(pid, NULL, 0);
}
