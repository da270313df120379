/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "staged.h"

/* Whoever starts, or comes back, checks the show anew, and core works out its reach: seconds under sanitizers. */
enum { AGAIN_MS = 20000 };

static struct staged show; /* each test is a process of its own */

static void check_ready_file(void)
{
    struct stat st;
    json_t *ready = json_load_file(show.ready, JSON_REJECT_DUPLICATES, NULL);
    cr_assert_eq(stat(show.ready, &st), 0);
    cr_assert_eq(st.st_mode & 0777, 0600);
    cr_assert_str_eq(json_string_value(json_object_get(ready, "audience")), "http://127.0.0.1:8080");
    cr_assert_str_eq(json_string_value(json_object_get(ready, "desk")), "http://127.0.0.1:8081");
    const char *operator_pass = json_string_value(json_object_get(ready, "operator_pass"));
    const char *spotter_pass = json_string_value(json_object_get(ready, "spotter_pass"));
    cr_assert_eq(strncmp(operator_pass, "sh1.operator.", 13), 0);
    cr_assert_eq(strncmp(spotter_pass, "sh1.spotter.", 12), 0);
    cr_assert(strstr(show.said, operator_pass) && strstr(show.said, spotter_pass), "people get the same passes");
    json_decref(ready);
}

Test(run, starts_in_order_and_ends_core_first)
{
    staged_start(&show, NULL, "--print-passes");
    staged_wait(&show, "the phone is in.", AGAIN_MS);
    const char *rig = strstr(show.said, "rig-sim: ready"), *core = strstr(show.said, "core: ready");
    const char *edge = strstr(show.said, "edge 0: ready"), *all = strstr(show.said, "show: ready");
    cr_assert(rig && rig < core && core < edge && edge < all, "%s", show.said);
    cr_assert(strstr(show.said, "core: a line of core about The branch line"), "lines carry the child's name");
    cr_assert(strstr(show.said, "not an emergency stop device") && strstr(show.said, "/stop#pass=sh1.spotter."));
    check_ready_file();
    struct staged_pids pids = staged_pids(&show);
    cr_assert_eq(staged_end(&show, SIGTERM, 5000), 0, "%s", show.said);
    core = strstr(show.said, "core: ended in order");
    edge = strstr(show.said, "edge 0: ended in order");
    rig = strstr(show.said, "rig-sim: ended in order");
    cr_assert(core && core < edge && core < rig, "%s", show.said);
    cr_assert(staged_gone(pids.core, 100) && staged_gone(pids.edge, 100) && staged_gone(pids.rig_sim, 100));
    cr_assert_neq(access(show.ready, F_OK), 0, "the file for scripts is gone");
    staged_clean(&show);
}

/* Into a log they would outlive the evening; --json-ready has them all the same. */
Test(run, passes_are_printed_to_a_terminal_only)
{
    staged_start(&show, NULL, NULL);
    staged_wait(&show, "the phone is in.", AGAIN_MS);
    cr_assert(!strstr(show.said, "sh1."), "%s", show.said);
    cr_assert(strstr(show.said, "desk       http://127.0.0.1:8081/\n") && strstr(show.said, "--print-passes"));
    cr_assert_eq(staged_end(&show, SIGTERM, 5000), 0, "%s", show.said);
    staged_clean(&show);
    staged_start_in_terminal(&show);
    staged_wait(&show, "the phone is in.", AGAIN_MS);
    cr_assert(strstr(show.said, "/#pass=sh1.operator.") && strstr(show.said, "/stop#pass=sh1.spotter."), "%s",
              show.said);
    cr_assert(!strstr(show.said, "--print-passes"));
    cr_assert_eq(staged_end(&show, SIGTERM, 5000), 0, "%s", show.said);
    staged_clean(&show);
}

Test(run, an_edge_that_dies_is_started_again_alone)
{
    staged_start(&show, NULL, "--quiet");
    staged_wait(&show, "show: ready", AGAIN_MS);
    struct staged_pids before = staged_pids(&show);
    kill(before.edge, SIGKILL);
    staged_wait(&show, "show: edge 0 ended (signal 9, Killed); starting it again in 0.2 s", 2000);
    staged_wait(&show, "show: edge 0 is back", AGAIN_MS);
    struct staged_pids after = staged_pids(&show);
    cr_assert(after.edge != before.edge && after.core == before.core && after.rig_sim == before.rig_sim);
    cr_assert_eq(staged_end(&show, SIGINT, 5000), 0, "%s", show.said);
    staged_clean(&show);
}

/* Core and the rig come back too; a show file edited meanwhile changes nothing. */
Test(run, core_comes_back_with_the_show_it_had)
{
    staged_start(&show, NULL, "--quiet");
    staged_wait(&show, "show: ready", AGAIN_MS);
    struct staged_pids before = staged_pids(&show);
    FILE *edit = fopen(show.show, "w");
    fputs("{\"show\": \"no longer good\"}", edit);
    fclose(edit);
    kill(before.core, SIGKILL);
    staged_wait(&show, "show: core is back, parked: arm and go at the desk lead on", AGAIN_MS);
    kill(before.rig_sim, SIGKILL);
    staged_wait(&show, "show: rig-sim is back", AGAIN_MS);
    struct staged_pids after = staged_pids(&show);
    cr_assert(after.edge == before.edge && after.core != before.core && after.rig_sim != before.rig_sim);
    cr_assert_eq(staged_end(&show, SIGINT, 5000), 0, "%s", show.said);
    staged_clean(&show);
}

Test(run, a_child_that_keeps_dying_is_waited_for_ever_longer)
{
    staged_start(&show, "edge 0=short-lived", "--quiet");
    staged_wait(&show, "edge 0 ended (status 3); starting it again in 0.2 s", AGAIN_MS);
    staged_wait(&show, "edge 0 ended (status 3); starting it again in 0.4 s", AGAIN_MS);
    staged_wait(&show, "edge 0 ended (status 3); starting it again in 0.8 s", AGAIN_MS);
    cr_assert_eq(staged_end(&show, SIGINT, 5000), 0, "%s", show.said);
    staged_clean(&show);
}

Test(run, a_child_that_cannot_start_ends_the_show)
{
    static const char *const fakes[] = {"core=exit", "edge 0=exit", "rig-sim=exit"};
    for (int i = 0; i < 3; i++) {
        staged_start(&show, fakes[i], NULL);
        cr_assert_eq(staged_end(&show, 0, AGAIN_MS), 1, "%s", show.said);
        cr_assert(strstr(show.said, "cannot be had") && strstr(show.said, "cannot start (status 1)"), "%s", show.said);
        cr_assert(!strstr(show.said, "show: ready"));
        staged_clean(&show);
    }
}

Test(run, a_child_that_does_not_end_is_killed)
{
    staged_start(&show, "edge 0=stubborn", "--quiet");
    staged_wait(&show, "show: ready", AGAIN_MS);
    struct staged_pids pids = staged_pids(&show);
    cr_assert_eq(staged_end(&show, SIGTERM, AGAIN_MS), 1, "%s", show.said);
    cr_assert(strstr(show.said, "edge 0 does not end; killed"), "%s", show.said);
    cr_assert(staged_gone(pids.edge, 100) && staged_gone(pids.core, 100));
    staged_clean(&show);
}

Test(run, nothing_outlives_it)
{
    staged_start(&show, NULL, "--quiet");
    staged_wait(&show, "show: ready", AGAIN_MS);
    struct staged_pids pids = staged_pids(&show);
    cr_assert_eq(staged_end(&show, SIGKILL, 2000), -SIGKILL);
    cr_assert(staged_gone(pids.edge, 3000) && staged_gone(pids.core, 3000) && staged_gone(pids.rig_sim, 3000));
    staged_clean(&show);
}

Test(run, two_shows_do_not_share_a_folder)
{
    static struct staged second;
    staged_start(&show, NULL, "--quiet");
    staged_wait(&show, "show: ready", AGAIN_MS);
    staged_start_again(&show, &second);
    cr_assert_eq(staged_end(&second, 0, 5000), 1);
    cr_assert(strstr(second.said, "already running from this folder"), "%s", second.said);
    cr_assert_eq(staged_end(&show, SIGINT, 5000), 0, "%s", show.said);
    staged_clean(&show);
}

Test(run, lan_moves_both_listeners_and_says_to_trust_the_network)
{
    staged_start(&show, NULL, "--lan=127.0.0.2");
    staged_wait(&show, "show: ready", AGAIN_MS);
    staged_wait(&show, "the phone is in.", 2000); /* still this machine's own */
    cr_assert(strstr(show.said, "core: listens on 127.0.0.2") && strstr(show.said, "http://127.0.0.2:8080/"));
    cr_assert_eq(staged_end(&show, SIGINT, 5000), 0, "%s", show.said);
    staged_clean(&show);
}
