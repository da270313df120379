/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The steadyhand executable: one verb a role. */
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "gateway/run/args.h"
#include "gateway/run/child.h"
#include "gateway/run/state_dir.h"
#include "gateway/show/show_reach.h"
#include "gateway/show/show_way.h"

static const struct verb {
    const char *name;
    int (*main)(const struct show *show, const struct verb_options *opt); /* NULL: check, which needs no more */
    bool warns; /* a person reads what it says of the show file */
    const char *help;
} verbs[ARGS_VERB_COUNT] = {
    [ARGS_RUN] = {"run", run_main, true, "a whole show on this machine: starts and supervises the others"},
    [ARGS_CHECK] = {"check", NULL, true, "says everything that is wrong with a show file"},
    [ARGS_SURVEY] = {"survey", survey_main, true, "draws room, reach, clearance and failure footprint, for the rigger"},
    [ARGS_SWING] = {"swing", swing_main, true, "how the body swings, from a recording, for the show file"},
    [ARGS_PASS] = {"pass", pass_main, false, "makes a pass for a person"},
    [ARGS_CORE] = {"core", core_main, false, "policy, rig link and desk: the only one that moves the rig"},
    [ARGS_EDGE] = {"edge", edge_main, false, "serves viewers"},
    [ARGS_RIG_SIM] = {"rig-sim", rig_sim_main, false, "a simulated rig"},
};

enum { EXIT_USAGE = 2 };

static int help(void)
{
    printf("steadyhand VERB SHOW.json [OPTION...]\n\n"
           "Lets a remote audience steer a robot camera without putting anyone, anything or the show at risk.\n\n");
    for (int v = 0; v < ARGS_VERB_COUNT; v++)
        printf("  %-9s %s\n", verbs[v].name, verbs[v].help);
    printf("\n"
           "steadyhand VERB --help    the options of a verb\n"
           "steadyhand --version\n\n"
           "Exit status: 0 done, 1 failed (check: the show file has errors), 2 used wrongly or unreadable.\n");
    return 0;
}

static int verb_help(enum args_verb verb)
{
    printf("steadyhand %s SHOW.json [OPTION...]: %s\n\n", verbs[verb].name, verbs[verb].help);
    args_help(verb, stdout);
    return 0;
}

static bool is_dir(const char *path)
{
    return access(path, R_OK | X_OK) == 0;
}

/* STEADYHAND_WEB, or web/dist beside the build folder this executable lies in (BUILD/gateway/steadyhand), or where it
 * is installed. */
static const char *find_web(char path[PATH_MAX + 32])
{
    static const char *const beside[] = {"/../../web/dist", "/../share/steadyhand/web"};
    char self[PATH_MAX];
    const char *named = getenv("STEADYHAND_WEB");
    if (named && *named)
        return named;
    ssize_t n = readlink("/proc/self/exe", self, sizeof self - 1);
    if (n <= 0)
        return NULL;
    self[n] = '\0';
    *strrchr(self, '/') = '\0';
    for (size_t i = 0; i < sizeof beside / sizeof beside[0]; i++) {
        snprintf(path, PATH_MAX + 32, "%s%s", self, beside[i]);
        if (is_dir(path))
            return path;
    }
    return NULL;
}

/* All verbs that do something for a show: load it, make its folder, go. */
static int serve(const struct verb *verb, struct verb_options *opt)
{
    static struct show show; /* large, and constant from here on */
    static char web[PATH_MAX + 32], state[PATH_MAX];
    static struct show_reach reach; /* until the process ends */
    int warnings;
    if (!child_follow_parent())
        return 1;
    int errors = show_check(opt->show_path, &show, stderr, verb->warns ? &warnings : NULL);
    if (errors != 0)
        return errors < 0 ? EXIT_USAGE : 1;
    if (opt->lan_host) {
        snprintf(show.audience.host, sizeof show.audience.host, "%s", opt->lan_host);
        snprintf(show.desk.host, sizeof show.desk.host, "%s", opt->lan_host);
    }
    if (!opt->state_dir && !state_dir_default(opt->show_path, state, sizeof state)) {
        fprintf(stderr, "steadyhand: %s: the name is too long\n", opt->show_path);
        return EXIT_USAGE;
    }
    opt->state_dir = opt->state_dir ? opt->state_dir : state;
    opt->web_root = opt->web_root ? opt->web_root : find_web(web);
    if (!state_dir_make(opt->state_dir))
        return 1;
    if (verb->main == core_main && !show_reach_build(&show, opt->show_path, &reach, stderr))
        return 1;
    return verb->main(&show, opt);
}

/* How much of the stage the cords hold, and where they are nearest to giving out. */
static void tell_reach(const struct show *show)
{
    struct show_reach_survey s;
    if (!show_reach_look(show, &s))
        return;
    printf("reach: the cords hold %.1f of the stage's %.1f m3 with %.3g m/s2 in reserve; tightest at x %.2f y %.2f z "
           "%.2f, where cord %d keeps %.1f N off its %s limit\n",
           s.reachable_m3, s.stage_m3, show->cords.reserve_mps2, s.worst.x, s.worst.y, s.worst.z, s.cord + 1,
           s.margin_n, s.at_max ? "upper" : "lower");
}

/* Keep-outs around home leave it a cell of its own. Returns how many warnings were told. */
static int tell_way(const struct show *show, const char *path)
{
    struct show_way way;
    if (!show_way_look(show, &way) || way.way_m3 > 0.8 * way.clear_m3)
        return 0;
    fprintf(stderr,
            "%s: warning: /room/keep_outs: from home the camera gets to %.1f m3 only, of %.1f m3 where it would be "
            "clear: keep-outs, padding and all, stand between. Gaps below %.2f m may have been missed.\n",
            path, way.way_m3, way.clear_m3, way.cell_m);
    return 1;
}

static int check(const char *path)
{
    static struct show show;
    struct show_reach reach = {.cell = NULL};
    int warnings = 0;
    int errors = show_check(path, &show, stderr, &warnings);
    if (errors < 0)
        return EXIT_USAGE;
    if (errors == 0 && !show_reach_build(&show, path, &reach, stderr))
        errors = 1;
    if (errors == 0) {
        tell_reach(&show);
        warnings += tell_way(&show, path);
    }
    show_reach_free(&show, &reach);
    printf("%s: %d error%s, %d warning%s%s\n", path, errors, errors == 1 ? "" : "s", warnings, warnings == 1 ? "" : "s",
           errors == 0 ? ": good for a show" : "");
    return errors > 0;
}

/* Of a show file alone: starts nothing, and needs no folder of the show's own. */
static int look(const struct verb *verb, const struct verb_options *opt)
{
    static struct show show;
    int warnings;
    int errors = show_check(opt->show_path, &show, stderr, &warnings);
    if (errors != 0)
        return errors < 0 ? EXIT_USAGE : 1;
    return verb->main(&show, opt);
}

static int find_verb(const char *name)
{
    for (int v = 0; v < ARGS_VERB_COUNT; v++)
        if (strcmp(verbs[v].name, name) == 0)
            return v;
    return -1;
}

static bool asks_help(int argc, char *const *argv)
{
    for (int i = 0; i < argc; i++)
        if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0)
            return true;
    return false;
}

int main(int argc, char **argv)
{
    const char *word = argc > 1 ? argv[1] : "";
    if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0)
        return help();
    if (strcmp(word, "--version") == 0) {
        printf("steadyhand " STEADYHAND_VERSION "\n");
        return 0;
    }
    int verb = find_verb(word);
    if (verb < 0) {
        fprintf(stderr, "steadyhand: expected a verb, found %s%s%s. See: steadyhand --help\n", *word ? "\"" : "",
                *word ? word : "nothing", *word ? "\"" : "");
        return EXIT_USAGE;
    }
    struct verb_options opt;
    if (asks_help(argc - 2, argv + 2))
        return verb_help((enum args_verb)verb);
    if (!args_parse((enum args_verb)verb, word, argc - 2, argv + 2, &opt))
        return EXIT_USAGE;
    if (verb == ARGS_CHECK)
        return check(opt.show_path);
    bool looks = verb == ARGS_SURVEY || verb == ARGS_SWING;
    return looks ? look(&verbs[verb], &opt) : serve(&verbs[verb], &opt);
}
