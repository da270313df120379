/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* One function a verb of the `steadyhand` executable. Each gets the loaded show (where it takes one) and returns the
 * exit status. All processes of one show share a state folder: secret (0600), bus.sock, and the folder itself is 0700.
 * SIGTERM and SIGINT end each of them cleanly. */
#ifndef STEADYHAND_VERBS_H
#define STEADYHAND_VERBS_H

#include "gateway/show/show.h"

struct verb_options {
    const char *show_path;
    const char *state_dir;  /* default .steadyhand/<show file name> */
    const char *web_root;   /* default: web/dist beside the executable's build folder, or STEADYHAND_WEB */
    const char *judge_path; /* rig-sim: JSON lines of the true state, 20 a second; NULL: none */
    int edge_index;         /* edge: 0.. */
    bool quiet;
};

int core_main(const struct show *show, const struct verb_options *opt);
int edge_main(const struct show *show, const struct verb_options *opt);
int rig_sim_main(const struct show *show, const struct verb_options *opt);
int run_main(const struct show *show, const struct verb_options *opt);

#endif
