/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/figures.h"

#include <inttypes.h>
#include <stdio.h>

static const char *const lane_names[LANE_COUNT] = {"idle", "audience", "operator"};
static const char *const mode_names[LIMITS_MODES] = {"setup", "show", "low"};

void figures_init(struct figures *t)
{
    *t = (struct figures){.unseen_m = INFINITY};
    for (int f = 0; f < FAULT_COUNT; f++)
        t->fault[f].least_m = INFINITY;
}

void figures_tick(struct figures *t, const struct run *run, const struct policy_output *out)
{
    const reason_set walls = reason_bit(REASON_KEEPOUT) | reason_bit(REASON_STAGE_EDGE);
    struct figures_of_fault *f = &t->fault[run->scene.trouble.fault];
    bool motion = out->intent.motion, moving = motion && vec_norm(out->intent.velocity) > 0.01;
    t->ticks++;
    t->running += motion;
    t->moving += moving;
    t->blocked += motion && (out->reasons & walls);
    t->fallback += motion && out->guard.fallback;
    t->inside += motion && out->guard.nearest.distance_m < out->guard.margin_m;
    t->nudging += motion && out->goal_set;
    for (int r = 1; r < REASON_COUNT; r++)
        t->reasons[r] += (out->reasons & reason_bit((enum reason)r)) != 0 || out->stop_reason == (enum reason)r;
    t->lanes[out->lane] += motion;
    t->modes[out->mode] += motion;
    f->ticks++;
    f->moving += moving;
    if (run->account.moved_ns + 15000000 > run->now_ns && !motion && (unsigned)out->stop_reason < REASON_COUNT)
        f->stopped_for[out->stop_reason]++;
}

void figures_run(struct figures *t, const struct run *run)
{
    struct figures_of_fault *f = &t->fault[run->scene.trouble.fault];
    f->runs++;
    f->active += (uint64_t)run->on;
    f->noticed += run->notice.ever;
    f->slowest_s = fmax(f->slowest_s, run->notice.took_s);
    f->least_m = fmin(f->least_m, run->least_m);
    t->unseen_m = fmin(t->unseen_m, run->aim.least_m);
}

/* What the process around the policy finds out from its link to the rig; it has no part in the simulation. */
static bool is_cores(enum reason r)
{
    return r == REASON_RIG_TAKEN || r == REASON_RIG_STOPPED;
}

/* Everything that there is came about. */
static bool met_all(const struct figures *t, const char **what)
{
    for (int r = 1; r < REASON_COUNT; r++) {
        *what = reason_code((enum reason)r);
        if (t->reasons[r] == 0 && !is_cores((enum reason)r))
            return false;
    }
    for (int f = 0; f < FAULT_COUNT; f++) {
        *what = fault_kinds[f].name;
        if (t->fault[f].active == 0 || t->fault[f].moving == 0)
            return false;
    }
    *what = "a mode or a lane";
    for (int m = 0; m < LIMITS_MODES; m++)
        if (t->modes[m] == 0)
            return false;
    for (int l = 0; l < LANE_COUNT; l++)
        if (t->lanes[l] == 0)
            return false;
    return true;
}

bool figures_busy(const struct figures *t, const char **what)
{
    double all = (double)t->ticks;
    const struct {
        bool enough;
        const char *of;
    } asked[] = {
        {(double)t->running > 0.3 * all, "motion permitted"},
        {(double)t->moving > 0.15 * all, "motion"},
        {(double)t->blocked > 0.02 * all, "being slowed by a boundary"},
        {t->fallback > 0 && t->inside > 0 && t->nudging > 0, "fallbacks, places inside the margin, goals"},
    };
    for (unsigned i = 0; i < sizeof asked / sizeof *asked; i++) {
        *what = asked[i].of;
        if (!asked[i].enough)
            return false;
    }
    return met_all(t, what);
}

void figures_print(const struct figures *t)
{
    printf("# %" PRIu64 " ticks: running %" PRIu64 ", moving %" PRIu64 ", slowed by a boundary %" PRIu64
           ", fallback %" PRIu64 ", inside the margin %" PRIu64 ", with a goal %" PRIu64 "\n",
           t->ticks, t->running, t->moving, t->blocked, t->fallback, t->inside, t->nudging);
    printf("# %-14s %8s %11s %11s %11s %9s %10s\n", "fault", "runs", "ticks", "moving", "active", "slowest",
           "least left");
    for (int f = 0; f < FAULT_COUNT; f++) {
        const struct figures_of_fault *of = &t->fault[f];
        if (of->runs == 0)
            continue;
        printf("# %-14s %8" PRIu64 " %11" PRIu64 " %11" PRIu64 " %11" PRIu64 " %7.3f s %8.5f m\n", fault_kinds[f].name,
               of->runs, of->ticks, of->moving, of->active, of->slowest_s, of->least_m);
    }
    printf("# ticks by reason:");
    for (int r = 1; r < REASON_COUNT; r++)
        printf(" %s %" PRIu64, reason_code((enum reason)r), t->reasons[r]);
    printf("\n# never met:");
    for (int r = 1; r < REASON_COUNT; r++)
        if (t->reasons[r] == 0 && !is_cores((enum reason)r))
            printf(" %s", reason_code((enum reason)r));
    for (int f = 0; f < FAULT_COUNT; f++)
        if (t->fault[f].active == 0)
            printf(" %s", fault_kinds[f].name);
    printf("\n# with motion permitted: lane");
    for (int l = 0; l < LANE_COUNT; l++)
        printf(" %s %" PRIu64, lane_names[l], t->lanes[l]);
    printf("; mode");
    for (int m = 0; m < LIMITS_MODES; m++)
        printf(" %s %" PRIu64, mode_names[m], t->modes[m]);
    printf("\n# least between the picture and what it must not show: %.4f m\n", t->unseen_m);
}

void figures_json(const struct figures *t)
{
    printf("# figures {\"ticks\":%" PRIu64 ",\"running\":%" PRIu64 ",\"moving\":%" PRIu64 ",\"blocked\":%" PRIu64
           ",\"fallback\":%" PRIu64 ",\"inside\":%" PRIu64 ",\"nudging\":%" PRIu64 ",\"reasons\":{",
           t->ticks, t->running, t->moving, t->blocked, t->fallback, t->inside, t->nudging);
    for (int r = 1; r < REASON_COUNT; r++)
        printf("%s\"%s\":%" PRIu64, r > 1 ? "," : "", reason_code((enum reason)r), t->reasons[r]);
    printf("},\"lanes\":{");
    for (int l = 0; l < LANE_COUNT; l++)
        printf("%s\"%s\":%" PRIu64, l > 0 ? "," : "", lane_names[l], t->lanes[l]);
    printf("},\"modes\":{");
    for (int m = 0; m < LIMITS_MODES; m++)
        printf("%s\"%s\":%" PRIu64, m > 0 ? "," : "", mode_names[m], t->modes[m]);
    printf("},\"unseen\":{\"least_m\":%.5f},\"faults\":{", fmin(t->unseen_m, 1e3));
    for (int f = 0; f < FAULT_COUNT; f++) {
        const struct figures_of_fault *of = &t->fault[f];
        printf("%s\"%s\":{\"runs\":%" PRIu64 ",\"ticks\":%" PRIu64 ",\"moving\":%" PRIu64 ",\"active\":%" PRIu64
               ",\"noticed\":%" PRIu64 ",\"slowest_s\":%.4f,\"least_m\":%.5f,\"stops\":{",
               f > 0 ? "," : "", fault_kinds[f].name, of->runs, of->ticks, of->moving, of->active, of->noticed,
               of->slowest_s, fmin(of->least_m, 1e3));
        const char *comma = "";
        for (int r = 1; r < REASON_COUNT; r++) {
            if (of->stopped_for[r] > 0)
                printf("%s\"%s\":%" PRIu64, comma, reason_code((enum reason)r), of->stopped_for[r]);
            comma = of->stopped_for[r] > 0 ? "," : comma;
        }
        printf("}}");
    }
    printf("}}\n");
}
