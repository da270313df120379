/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/child.h"

#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const uint64_t second = UINT64_C(1000000000);

Test(child, waits_double_up_to_five_seconds)
{
    static const unsigned waits[] = {200, 400, 800, 1600, 3200, 5000, 5000, 5000};
    struct child child;
    child_init(&child, "edge", 3);
    cr_assert_str_eq(child.name, "edge 3");
    for (size_t i = 0; i < sizeof waits / sizeof waits[0]; i++) {
        cr_assert_eq(child_wait(&child, i * second), waits[i]);
        cr_assert_eq(child.again_ns, i * second + waits[i] * UINT64_C(1000000));
    }
    child.failures = 1000000; /* no overflow */
    cr_assert_eq(child_wait(&child, second), 5000);
}

Test(child, a_while_of_good_service_is_forgiven)
{
    struct child child;
    child_init(&child, "core", -1);
    cr_assert_str_eq(child.name, "core");
    child.failures = 5;
    child.ready = true;
    child.ready_ns = 100 * second;
    cr_assert_eq(child_wait(&child, 109 * second), 5000); /* nine seconds: not yet */
    child.ready = true;
    child.ready_ns = 200 * second;
    cr_assert_eq(child_wait(&child, 210 * second), 200);
}

/* Lines come in pieces, without names, too long; each comes out whole, named once, and only its own word counts. */
Test(child, lines_are_named_and_read_for_ready)
{
    int ends[2];
    struct child child;
    char *said, longest[1500];
    size_t size;
    FILE *to = open_memstream(&said, &size);
    child_init(&child, "core", -1);
    cr_assert_eq(pipe(ends), 0);
    child.out = ends[0];
    child.pid = 1;
    memset(longest, 'x', sizeof longest);
    dprintf(ends[1], "core: starts\nhello\nedge 0: ready\ncored: ready\n");
    close(ends[1]);
    cr_assert(!child_read(&child, to));
    cr_assert_eq(child.out, -1);
    cr_assert_eq(pipe(ends), 0);
    child.out = ends[0];
    dprintf(ends[1], "core: rea");
    dprintf(ends[1], "dy desk http://127.0.0.1:1\n%.*s\n", (int)sizeof longest, longest);
    close(ends[1]);
    cr_assert(child_read(&child, to));
    fclose(to);
    static const char begins[] = "core: starts\ncore: hello\ncore: edge 0: ready\ncore: cored: ready\n"
                                 "core: ready desk http://127.0.0.1:1\ncore: xxx";
    cr_assert_eq(strncmp(said, begins, strlen(begins)), 0, "%.200s", said);
    cr_assert_gt(strlen(said), sizeof longest);
    free(said);
}

Test(child, why_it_ended_is_said)
{
    char why[CHILD_WHY];
    child_why(3 << 8, why);
    cr_assert_str_eq(why, "status 3");
    child_why(9, why);
    cr_assert_str_eq(why, "signal 9, Killed");
}
