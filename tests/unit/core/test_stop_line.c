/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>

#include "gateway/core/stop_line.h"
#include "model.h"

/* Every sequence of three presses, stopped, parked and in motion. */
static struct model_result all_presses(struct model_case c)
{
    static const char kind[] = "SRGAH";
    struct model_result sum = {0};
    for (int code = 0; code < 125; code++)
        for (int from = 0; from < 3; from++) {
            char presses[] = {kind[code % 5], kind[code / 5 % 5], kind[code / 25], '\0'};
            c.presses = presses;
            c.running = from == 1;
            c.parked = from == 2;
            struct model_result r = model_run(&c);
            sum.paths += r.paths;
            sum.moved += r.moved;
            sum.stuck += r.stuck;
        }
    return sum;
}

static void expect_safe(const struct model_case *c)
{
    struct model_result r = model_run(c);
    cr_log_info("%s: %llu paths\n", c->presses, (unsigned long long)r.paths);
    cr_assert_gt(r.paths, 1000u);
    cr_assert_eq(r.moved, 0u, "%s: %llu of %llu", c->presses, (unsigned long long)r.moved, (unsigned long long)r.paths);
    cr_assert_eq(r.stuck, 0u, "%s: %llu of %llu", c->presses, (unsigned long long)r.stuck, (unsigned long long)r.paths);
}

Test(stop_line, no_interleaving_undoes_a_stop_or_jams_the_rig)
{
    struct model_result r = all_presses((struct model_case){.ticks = 4, .inhibits = 2});
    cr_assert_gt(r.paths, 100000u);
    cr_assert_eq(r.moved, 0u);
    cr_assert_eq(r.stuck, 0u);
    r = all_presses((struct model_case){.ticks = 3, .inhibits = 1, .severe = true});
    cr_assert_eq(r.moved, 0u);
    cr_assert_eq(r.stuck, 0u);
}

/* The presses that are hardest to get right, with more ticks around them. */
Test(stop_line, the_hard_cases_with_more_ticks)
{
    static const char *const presses[] = {"RGS", "GSRG", "SRGS", "RSG", "RRSG", "SSRG", "SRSG", "SRHG", "HGSH"};
    for (size_t i = 0; i < sizeof presses / sizeof presses[0]; i++)
        for (int running = 0; running < 2; running++)
            expect_safe(
                &(struct model_case){.presses = presses[i], .running = running == 1, .ticks = 4, .inhibits = 2});
}

/* The walk has teeth: each shortcut that looks harmless is found out. */
Test(stop_line, a_count_made_of_presses_alone_is_found_out)
{
    struct model_result r = all_presses((struct model_case){.ticks = 4, .inhibits = 2, .no_settle = true});
    cr_assert_gt(r.moved + r.stuck, 0u);
}

Test(stop_line, an_event_from_before_the_stop_is_found_out)
{
    struct model_result r = model_run(&(struct model_case){.presses = "RRGS", .ticks = 5, .no_stamp = true});
    cr_assert_gt(r.moved, 0u);
}

Test(stop_line, reading_the_count_before_raising_is_found_out)
{
    struct model_result r = all_presses((struct model_case){.ticks = 5, .inhibits = 1, .late_raise = true});
    cr_assert_gt(r.moved + r.stuck, 0u);
}

Test(stop_line, a_press_is_above_every_count_so_far)
{
    struct stop_line line;
    struct stop_input in;
    stop_line_init(&line, 1);
    cr_assert_eq(stop_line_press(&line, REASON_STOP_SPOTTER, STOP_CATEGORY_2), 2u);
    cr_assert_eq(stop_line_press(&line, REASON_STOP_OPERATOR, STOP_CATEGORY_2), 3u);
    stop_line_publish(&line, 40);
    cr_assert_eq(stop_line_press(&line, REASON_STOP_OPERATOR, STOP_CATEGORY_2), 41u);
    stop_line_publish(&line, 3); /* never goes back */
    cr_assert_eq(stop_line_press(&line, REASON_STOP_OPERATOR, STOP_CATEGORY_2), 42u);
    stop_line_take(&line, &in);
    cr_assert_eq(in.asked, 41u);
    cr_assert_eq(in.asked_why, REASON_STOP_SPOTTER, "of presses between two ticks the first one's reason counts");
    stop_line_press(&line, REASON_STOP_MODERATOR, STOP_CATEGORY_2);
    stop_line_take(&line, &in);
    cr_assert_eq(in.asked_why, REASON_STOP_MODERATOR);
}

Test(stop_line, the_most_severe_of_the_presses_between_two_ticks_counts)
{
    struct stop_line line;
    struct stop_input in;
    stop_line_init(&line, 1);
    stop_line_press(&line, REASON_STOP_SPOTTER, STOP_CATEGORY_1);
    stop_line_press(&line, REASON_STOP_OPERATOR, STOP_CATEGORY_0);
    stop_line_press(&line, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
    stop_line_take(&line, &in);
    cr_assert(in.asked_category == STOP_CATEGORY_0 && in.asked_why == REASON_STOP_SPOTTER && in.asked == 3);
    stop_line_press(&line, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
    stop_line_take(&line, &in);
    cr_assert_eq(in.asked_category, STOP_CATEGORY_2, "what was taken is over");
    stop_line_press(&line, REASON_STOP_OPERATOR, (enum stop_category)3);
    stop_line_take(&line, &in);
    cr_assert(in.asked_category == STOP_CATEGORY_0 && in.asked_why == REASON_STOP_OPERATOR);
}
