/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* One function a verb of the `steadyhand` executable. Each gets the loaded show (where it takes one) and returns the
 * exit status: 0 done, 1 failed, 2 used wrongly. All processes of one show share a state folder: secret (0600),
 * bus.sock, and the folder itself is 0700. SIGTERM and SIGINT end each of them cleanly. */
#ifndef STEADYHAND_VERBS_H
#define STEADYHAND_VERBS_H

#include "gateway/show/show.h"

struct verb_options {
    const char *show_path;
    const char *state_dir;  /* default .steadyhand/<show file name>; there, and its owner's alone, when a verb starts */
    const char *web_root;   /* default: web/dist beside the executable's build folder, or STEADYHAND_WEB; NULL: none */
    const char *judge_path; /* rig-sim: JSON lines of the true state, 20 a second; NULL: none */
    int edge_index;         /* edge: 0.. */
    bool quiet;
    bool print_passes;       /* run: even where nobody may be looking, such as into a log */
    const char *lan_host;    /* listeners' address instead of the show file's, already put into the show; NULL: none */
    const char *json_ready;  /* run: where to write addresses and passes for scripts; NULL: nowhere */
    const char *role;        /* pass */
    const char *name;        /* pass */
    int hours;               /* pass */
    const char *out_dir;     /* survey: folder to draw into; NULL: the current one */
    const char *record_path; /* swing: a recording, see gateway/survey/swing_record.h */
};

int core_main(const struct show *show, const struct verb_options *opt);
int edge_main(const struct show *show, const struct verb_options *opt);
int rig_sim_main(const struct show *show, const struct verb_options *opt);
int run_main(const struct show *show, const struct verb_options *opt);
int pass_main(const struct show *show, const struct verb_options *opt);
int survey_main(const struct show *show, const struct verb_options *opt);
int swing_main(const struct show *show, const struct verb_options *opt);

#endif
