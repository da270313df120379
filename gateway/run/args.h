/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The command line behind a verb: SHOW.json and options, each taken only by the verbs it means something to. */
#ifndef STEADYHAND_RUN_ARGS_H
#define STEADYHAND_RUN_ARGS_H

#include "gateway/verbs.h"

enum args_verb {
    ARGS_RUN,
    ARGS_CHECK,
    ARGS_SURVEY,
    ARGS_SWING,
    ARGS_PASS,
    ARGS_CORE,
    ARGS_EDGE,
    ARGS_RIG_SIM,
    ARGS_VERB_COUNT
};

/* argv[0] is the first word after the verb. Fills *opt with what was given, defaults elsewhere (NULL for paths).
 * False, with a line on stderr that says what was expected, if anything is not understood. */
bool args_parse(enum args_verb verb, const char *verb_name, int argc, char *const *argv, struct verb_options *opt);

/* One line an option of this verb. */
void args_help(enum args_verb verb, FILE *out);

#endif
