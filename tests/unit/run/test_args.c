/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/args.h"

#include <criterion/criterion.h>
#include <criterion/redirect.h>
#include <string.h>

enum { WORDS = 12 };

/* Splits at blanks; the words live in static memory: each test is a process of its own. */
static bool parse(enum args_verb verb, const char *line, struct verb_options *opt)
{
    static char text[512];
    char *words[WORDS];
    int n = 0;
    snprintf(text, sizeof text, "%s", line);
    for (char *at = text; *at && n < WORDS;) {
        words[n++] = at;
        at += strcspn(at, " ");
        if (*at)
            *at++ = '\0';
    }
    return args_parse(verb, "verb", n, words, opt);
}

Test(args, defaults_are_null)
{
    struct verb_options opt;
    cr_assert(parse(ARGS_CORE, "a.json", &opt));
    cr_assert_str_eq(opt.show_path, "a.json");
    cr_assert(!opt.state_dir && !opt.web_root && !opt.judge_path && !opt.lan_host && !opt.json_ready && !opt.quiet);
    cr_assert(!opt.print_passes);
    cr_assert_eq(opt.hours, 12);
}

Test(args, values_come_after_a_blank_or_an_equals_sign)
{
    struct verb_options opt;
    cr_assert(parse(
        ARGS_RUN, "--state d --web=w a.json --judge j --json-ready=r --lan 192.168.0.10 --quiet --print-passes", &opt));
    cr_assert_str_eq(opt.show_path, "a.json");
    cr_assert_str_eq(opt.state_dir, "d");
    cr_assert_str_eq(opt.web_root, "w");
    cr_assert_str_eq(opt.judge_path, "j");
    cr_assert_str_eq(opt.json_ready, "r");
    cr_assert_str_eq(opt.lan_host, "192.168.0.10");
    cr_assert(opt.quiet && opt.print_passes);
    cr_assert(parse(ARGS_EDGE, "a.json --index 15", &opt));
    cr_assert_eq(opt.edge_index, 15);
    cr_assert(parse(ARGS_PASS, "a.json --role spotter --name sam --hours 24", &opt));
    cr_assert(strcmp(opt.role, "spotter") == 0 && strcmp(opt.name, "sam") == 0 && opt.hours == 24);
}

/* Every option is refused by the verbs it means nothing to, and with a value that is none. */
Test(args, what_is_not_understood_is_refused, .init = cr_redirect_stderr)
{
    static const struct {
        enum args_verb verb;
        const char *line;
    } rows[] = {
        {ARGS_RUN, ""},
        {ARGS_RUN, "a.json b.json"},
        {ARGS_RUN, "a.json --index 0"},
        {ARGS_RUN, "a.json --role operator"},
        {ARGS_CHECK, "a.json --state d"},
        {ARGS_CORE, "a.json --judge j"},
        {ARGS_CORE, "a.json --json-ready r"},
        {ARGS_RIG_SIM, "a.json --lan 192.168.0.10"},
        {ARGS_RIG_SIM, "a.json --web w"},
        {ARGS_RUN, "a.json --state"},
        {ARGS_RUN, "a.json --state="},
        {ARGS_RUN, "a.json --stat d"},
        {ARGS_RUN, "a.json --statement d"},
        {ARGS_RUN, "a.json -s"},
        {ARGS_RUN, "a.json --quiet=1"},
        {ARGS_CORE, "a.json --print-passes"},
        {ARGS_RUN, "a.json --lan 0.0.0.0"},
        {ARGS_RUN, "a.json --lan ::1"},
        {ARGS_RUN, "a.json --lan 192.168.0"},
        {ARGS_EDGE, "a.json --index 16"},
        {ARGS_EDGE, "a.json --index -1"},
        {ARGS_EDGE, "a.json --index 1x"},
        {ARGS_PASS, "a.json --hours 0"},
        {ARGS_PASS, "a.json --hours 99999999999999999999"},
    };
    struct verb_options opt;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        cr_expect(!parse(rows[i].verb, rows[i].line, &opt), "%s", rows[i].line);
}
