/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Cords that come near a limit: the wish is slowed, gradually and long before, and slack or overload that lasts is a
 * fault.
 *
 * Two views of what is coming, each as a share of the cords' range max - min (of the least one where they differ):
 *   statics   m0 = the margin at the place at hand, w = how much less of it there is at the end of the way that the
 *             wish needs, braking path included (tension_solve, margin_n)
 *   measured  m0 = how far tension + rate x look is from a limit, w = how much nearer statics say that the way brings
 *             that cord to that limit
 * and for each of them the wish counts by the factor
 *   k = m0 / (w + min(w, band)), within 0 and 1;  1 where w <= 0: what relieves is let through
 * A way that is k as long uses up at most k w, so m0 - k w is never below 0; slowing begins where less than the band
 * is left at the end of the way, and where m0 is nought nothing goes on that makes it worse. k is continuous in all of
 * it, so that noise makes the speed tremble no more than itself.
 *
 * The rate is that of a first-order high-pass with the time constant look, so tension + rate x look is twice the
 * tension less its smoothed value: exact for a steady rate.
 *
 * Faults: a tension below the lower limit (slack) or above the upper one (overload) in every report for longer than
 * trip_s. Slack is not taken up here nor by anyone else here: what to do about it is for people.
 *
 * Pure; callers own all memory. Input may hold anything: the output is finite, the factor within 0 and 1.
 */
#ifndef STEADYHAND_MOTION_ANTICIPATE_H
#define STEADYHAND_MOTION_ANTICIPATE_H

#include "policy/motion/tension.h"

struct anticipate_config {
    struct tension_rig rig;
    double look_s;     /* > 0 */
    double band_share; /* 0 < .. <= 0.5: slowing begins so much of the range before a limit */
    double trip_s;     /* > 0: slack or overload for longer than this is a fault */
    bool measured;     /* the rig measures tensions: not to hear of any is like hearing nothing of it */
};

enum anticipate_fault { ANTICIPATE_SOUND, ANTICIPATE_SLACK, ANTICIPATE_OVERLOAD };

struct anticipate {
    bool heard;                         /* there was a report with tensions */
    double tension_n[VOLUME_MAX_CORDS]; /* the last one's; finite */
    double smooth_n[VOLUME_MAX_CORDS];
    double slack_s[VOLUME_MAX_CORDS]; /* how long it has been beyond the limit without a break */
    double over_s[VOLUME_MAX_CORDS];
    bool was_slack[VOLUME_MAX_CORDS], was_over[VOLUME_MAX_CORDS]; /* in the last report */
};

/* What a wish leads to. */
struct anticipate_input {
    struct vec3 position; /* m */
    struct vec3 wish;     /* m/s */
    double way_m;         /* >= 0: what it runs until it could be at rest, if followed as it is */
};

struct anticipate_output {
    double factor; /* 0..1: so much of the wish may be followed */
    /* What slows it, where the factor is below 1: */
    int cord;
    bool at_max;      /* which limit it comes near */
    double tension_n; /* what is foreseen of it */
    double limit_n;

    bool feasible; /* some tensions within limits hold the platform here */
    double
        margin_n; /* the least distance from a limit, measured if there is a report, else by statics; < 0: beyond it */
    int margin_cord;                   /* whose */
    double wanted_n[VOLUME_MAX_CORDS]; /* the middle of what is feasible here; 0: nothing is */
};

/* Also for each new session with the rig. */
void anticipate_init(struct anticipate *anticipate);

/* A new report with tensions, rig.cords of them, elapsed_s after the one before. One that is not finite is not counted:
 * false. */
bool anticipate_hear(const struct anticipate_config *cfg, struct anticipate *anticipate, double elapsed_s,
                     const double tension_n[VOLUME_MAX_CORDS]);

/* The worst fault there is now, its cord in *cord (not NULL). */
enum anticipate_fault anticipate_fault(const struct anticipate_config *cfg, const struct anticipate *anticipate,
                                       int *cord);

void anticipate_look(const struct anticipate_config *cfg, const struct anticipate *anticipate,
                     const struct anticipate_input *in, struct anticipate_output *out);

bool anticipate_config_valid(const struct anticipate_config *cfg);

#endif
