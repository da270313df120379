/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Do the sources agree with each other, and with where the platform was going?
 *
 * 1. At once: the cost of a full fix, sum r^T W r, is chi-square with rows - 3 degrees of freedom if noise is all there
 *    is (Bar-Shalom, Li, Kirubarajan 2001, chapter 3). What biases within their bounds can add to the residual's length
 * is allowed on top.
 * 2. In the long run: for each term j the score s_j = (dr/dj)^T W r adds up with forgetting. Is j off by b, it grows
 *    as b X_jj; by chance as sqrt(X_jj), where X = D - pull^T spread pull is what least squares leave of it (the
 *    generalised likelihood ratio of Willsky, Jones, IEEE Trans. AC-21, 1976; for one fix alone it is Baarda's
 *    w-test, 1968). The term that explains most is named if nothing else explains nearly as much: more by a likelihood
 *    ratio of a million, which is 2 ln 1e6 = 27.6 in chi-square, and by a fifth. With one surplus reading (four
 * lengths) every cord explains a residual equally well, so none is named.
 * 3. Jump: the fix against the filter's prediction, chi-square with 3 degrees of freedom over the noise of both, with
 *    the manoeuvre and the biases that the two do not share allowed on top. Where the fix is not full, each reading by
 *    itself.
 *
 * False alarms: 1e-9 a report in 1. and 3. (at 100 a second one in 116 days), 6 sigma in 2.
 */
#ifndef STEADYHAND_MOTION_LOCATE_WATCH_H
#define STEADYHAND_MOTION_LOCATE_WATCH_H

#include "policy/motion/locate_filter.h"
#include "policy/motion/locate_solve.h"

struct locate_watch {
    double score[LOCATE_TERMS], variance[LOCATE_TERMS]; /* by noise alone */
    double info[LOCATE_TERMS];                          /* X_jj */
    double allowed[LOCATE_TERMS];                       /* of the score, by biases within bounds */
    struct mat3 pose, wrench;                           /* X of the vectors */
};

struct locate_finding {
    bool found;
    double value, limit;
    enum locate_source source; /* to blame; LOCATE_SOURCES if not known */
    int cord;                  /* to blame, else -1 */
    double shift_m;            /* how far off the filter's position may be because of it */
};

struct locate_finding locate_watch_sudden(const struct locate_fix *fix);

/* Adds a full fix, elapsed_s after the one before. */
void locate_watch_add(const struct locate_config *cfg, const struct locate_fix *fix, double elapsed_s,
                      struct locate_watch *watch);

struct locate_finding locate_watch_lasting(const struct locate_watch *watch, const struct locate_filter *filter);

/* A full fix, or single readings, against `predicted`, the filter at the reading's time. value, limit in metres; no
 * limit is more than gate_m, whatever the prediction allows. */
struct locate_finding locate_watch_jump(const struct locate_config *cfg, const struct locate_fix *fix,
                                        const struct locate_filter *predicted, double gate_m);

#endif
