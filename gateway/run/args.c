/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/args.h"

#include <arpa/inet.h>
#include <errno.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

enum option_kind { OPTION_FLAG, OPTION_TEXT, OPTION_NUMBER, OPTION_ADDRESS };

#define BIT(verb) (1u << (verb))
enum {
    SHOWS = BIT(ARGS_RUN) | BIT(ARGS_CORE) | BIT(ARGS_EDGE) | BIT(ARGS_RIG_SIM),
    STATEFUL = SHOWS | BIT(ARGS_PASS),
    SERVERS = BIT(ARGS_RUN) | BIT(ARGS_CORE) | BIT(ARGS_EDGE),
};

#define AT(member) offsetof(struct verb_options, member)
static const struct option {
    const char *name, *value;
    enum option_kind kind;
    unsigned verbs;
    size_t offset;
    int min, max;
    const char *help;
} options[] = {
    {"--state", "DIR", OPTION_TEXT, STATEFUL, AT(state_dir), 0, 0, "the show's own folder (.steadyhand/<show>)"},
    {"--web", "DIR", OPTION_TEXT, SERVERS, AT(web_root), 0, 0, "the built pages (web/dist, or STEADYHAND_WEB)"},
    {"--lan", "ADDRESS", OPTION_ADDRESS, SERVERS | BIT(ARGS_PASS), AT(lan_host), 0, 0,
     "this machine's own IPv4 address on the network that phones are in: listen there"},
    {"--judge", "FILE", OPTION_TEXT, BIT(ARGS_RUN) | BIT(ARGS_RIG_SIM), AT(judge_path), 0, 0,
     "simulated rig: write what truly happens, one JSON line each 50 ms"},
    {"--json-ready", "FILE", OPTION_TEXT, BIT(ARGS_RUN), AT(json_ready), 0, 0,
     "write addresses, passes and process ids for scripts"},
    {"--print-passes", NULL, OPTION_FLAG, BIT(ARGS_RUN), AT(print_passes), 0, 0,
     "print the passes even where the output is no terminal, and may be kept"},
    {"--index", "N", OPTION_NUMBER, BIT(ARGS_EDGE), AT(edge_index), 0, 15, "which of the show's edges this one is"},
    {"--quiet", NULL, OPTION_FLAG, SHOWS, AT(quiet), 0, 0, "say no more than needed"},
    {"--out", "DIR", OPTION_TEXT, BIT(ARGS_SURVEY), AT(out_dir), 0, 0, "an existing folder to draw into (this one)"},
    {"--record", "FILE", OPTION_TEXT, BIT(ARGS_SWING), AT(record_path), 0, 0,
     "tilt of the body swinging freely: lines of t_s,tilt_x_deg,tilt_y_deg"},
    {"--role", "ROLE", OPTION_TEXT, BIT(ARGS_PASS), AT(role), 0, 0, "viewer, moderator, spotter or operator"},
    {"--name", "NAME", OPTION_TEXT, BIT(ARGS_PASS), AT(name), 0, 0, "who it is for: a-z, 0-9 and -"},
    {"--hours", "N", OPTION_NUMBER, BIT(ARGS_PASS), AT(hours), 1, 24 * 31, "how long it is good for (12)"},
};
enum { OPTIONS = sizeof options / sizeof options[0] };

static const struct option *find(enum args_verb verb, const char *word, size_t len)
{
    for (int i = 0; i < OPTIONS; i++)
        if (strlen(options[i].name) == len && strncmp(options[i].name, word, len) == 0 && options[i].verbs & BIT(verb))
            return &options[i];
    return NULL;
}

static bool store_number(const struct option *option, const char *value, void *target)
{
    char *end;
    errno = 0;
    long n = strtol(value, &end, 10);
    if (errno || end == value || *end || n < option->min || n > option->max) {
        fprintf(stderr, "steadyhand: %s: expected a whole number from %d to %d, found \"%s\"\n", option->name,
                option->min, option->max, value);
        return false;
    }
    memcpy(target, &(int){(int)n}, sizeof(int));
    return true;
}

static bool store_address(const struct option *option, const char *value, void *target)
{
    struct in_addr address;
    if (inet_pton(AF_INET, value, &address) != 1 || address.s_addr == 0) {
        fprintf(stderr,
                "steadyhand: %s: expected this machine's own IPv4 address, such as 192.168.0.10, found \"%s\". Hint: "
                "`hostname -I` lists them.\n",
                option->name, value);
        return false;
    }
    memcpy(target, &value, sizeof value);
    return true;
}

static bool store(const struct option *option, const char *value, struct verb_options *opt)
{
    void *target = (char *)opt + option->offset;
    switch (option->kind) {
    case OPTION_FLAG:
        memcpy(target, &(bool){true}, sizeof(bool));
        return true;
    case OPTION_NUMBER:
        return store_number(option, value, target);
    case OPTION_ADDRESS:
        return store_address(option, value, target);
    case OPTION_TEXT:
        break;
    }
    memcpy(target, &value, sizeof value);
    return true;
}

/* One option, its value after = or in the next word. Returns how many words it took, 0 if it was refused. */
static int take(enum args_verb verb, const char *verb_name, int argc, char *const *argv, struct verb_options *opt)
{
    const char *word = argv[0], *equals = strchr(word, '=');
    const struct option *option = find(verb, word, equals ? (size_t)(equals - word) : strlen(word));
    if (!option) {
        fprintf(stderr, "steadyhand: %s does not know the option %s. See: steadyhand %s --help\n", verb_name, word,
                verb_name);
        return 0;
    }
    bool wants = option->kind != OPTION_FLAG;
    const char *value = equals ? equals + 1 : (wants && argc > 1 ? argv[1] : NULL);
    if (wants != (value != NULL) || (value && !*value)) {
        fprintf(stderr, "steadyhand: %s: expected %s%s\n", option->name, wants ? option->value : "no value",
                wants ? " after it" : "");
        return 0;
    }
    if (!store(option, value, opt))
        return 0;
    return wants && !equals ? 2 : 1;
}

bool args_parse(enum args_verb verb, const char *verb_name, int argc, char *const *argv, struct verb_options *opt)
{
    *opt = (struct verb_options){.hours = 12};
    for (int i = 0; i < argc;) {
        if (argv[i][0] == '-') {
            int took = take(verb, verb_name, argc - i, argv + i, opt);
            if (took == 0)
                return false;
            i += took;
            continue;
        }
        if (opt->show_path) {
            fprintf(stderr, "steadyhand: %s takes one show file, found a second: %s\n", verb_name, argv[i]);
            return false;
        }
        opt->show_path = argv[i++];
    }
    if (!opt->show_path)
        fprintf(stderr, "steadyhand: %s: expected a show file, such as deploy/shows/model-railway.json\n", verb_name);
    return opt->show_path != NULL;
}

void args_help(enum args_verb verb, FILE *out)
{
    for (int i = 0; i < OPTIONS; i++) {
        char left[40];
        if (!(options[i].verbs & BIT(verb)))
            continue;
        snprintf(left, sizeof left, "%s %s", options[i].name, options[i].value ? options[i].value : "");
        fprintf(out, "  %-20s %s\n", left, options[i].help);
    }
}
