/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Solids and outlines as they are drawn: keep-outs, slow zones, view keep-outs, and the stage. */
#include "gateway/show/check_zone.h"

#include <math.h>
#include <string.h>

#include "gateway/show/check.h"
#include "gateway/show/plan.h"

static const double same_point_m = 0.01;

static struct plan_point corner(const struct layout_prism *p, uint32_t i)
{
    const double *c = p->corner[i % p->corners];
    return (struct plan_point){c[0], c[1]};
}

/* Tells the first pair of edges that meet where they should not. True if there is one. */
static bool edges_cross(const struct layout_prism *p, const char *at, struct faults *faults)
{
    char place[PLACE_POINTER];
    uint32_t n = p->corners;
    for (uint32_t i = 0; i < n; i++) {
        for (uint32_t k = i + 1; k < n; k++) {
            bool neighbours = k == i + 1 || (i == 0 && k == n - 1);
            if (neighbours || !plan_meet(corner(p, i), corner(p, i + 1), corner(p, k), corner(p, k + 1)))
                continue;
            snprintf(place, sizeof place, "%.200s/footprint_m", at);
            faults_error(faults, place,
                         "expected an outline that does not cross itself, found the edge from corner %u to %u meeting "
                         "the one from %u to %u. Hint: list the corners in order around it, counted from 0.",
                         i, (i + 1) % n, k, (k + 1) % n);
            return true;
        }
    }
    return false;
}

static bool corners_bad(const struct layout_prism *p, const char *at, struct faults *faults)
{
    char place[PLACE_POINTER];
    bool bad = false;
    for (uint32_t i = 0; i < p->corners; i++) {
        snprintf(place, sizeof place, "%.200s/footprint_m/%u", at, (i + 1) % p->corners);
        struct plan_point a = corner(p, i), b = corner(p, i + 1), c = corner(p, i + 2);
        if (plan_apart(a, b) < same_point_m)
            faults_error(faults, place,
                         "expected a corner of its own, found corner %u again. Hint: leave it out; the "
                         "outline closes by itself.",
                         i);
        else if (plan_folds(a, b, c))
            faults_error(faults, place,
                         "expected an outline that encloses an area, found it folding back on itself here. "
                         "Hint: leave this corner out.");
        else
            continue;
        bad = true;
    }
    return bad;
}

bool check_zone_prism(const struct layout_prism *prism, const char *at, struct faults *faults)
{
    char place[PLACE_POINTER];
    snprintf(place, sizeof place, "%.200s/ceiling_m", at);
    if (prism->ceiling_m <= prism->floor_m)
        faults_error(faults, place,
                     "expected a ceiling above floor_m (%g m), found %g m. Hint: both are heights above the room's "
                     "origin.",
                     prism->floor_m, prism->ceiling_m);
    return prism->corners >= 3 && !corners_bad(prism, at, faults) && !edges_cross(prism, at, faults);
}

static void box(const struct layout_solid *s, const char *at, struct faults *faults)
{
    static const char axis[] = "xyz";
    const double from[] = {s->from.x, s->from.y, s->from.z}, to[] = {s->to.x, s->to.y, s->to.z};
    char place[PLACE_POINTER];
    for (int a = 0; a < 3; a++) {
        snprintf(place, sizeof place, "%.200s/to_m/%d", at, a);
        if (to[a] <= from[a])
            faults_error(faults, place,
                         "expected %c greater than that of from_m (%g m), found %g m. Hint: from_m is the corner with "
                         "the least x, y and z, to_m the one with the greatest.",
                         axis[a], from[a], to[a]);
    }
}

static void half_space(const struct layout_solid *s, const char *at, struct faults *faults)
{
    char place[PLACE_POINTER];
    snprintf(place, sizeof place, "%.200s/normal", at);
    if (vec_norm(s->normal) < 0.01)
        faults_error(faults, place,
                     "expected a direction, found none. Hint: it points out of the solid: [0, 1, 0] for a front wall.");
}

static void solid(const struct layout_solid *s, const char *at, struct faults *faults)
{
    if (s->shape == LAYOUT_BOX)
        box(s, at, faults);
    else if (s->shape == LAYOUT_PRISM)
        check_zone_prism(&s->prism, at, faults);
    else if (s->shape == LAYOUT_HALF_SPACE)
        half_space(s, at, faults);
}

static void name(const struct layout_zone *zone, uint32_t i, const char *list, struct faults *faults)
{
    char place[PLACE_POINTER];
    for (uint32_t k = 0; k < i; k++) {
        if (strcmp(zone[i].name, zone[k].name) != 0)
            continue;
        snprintf(place, sizeof place, "%s/%u/name", list, i);
        faults_error(faults, place,
                     "expected a name of its own, found that of number %u again. Hint: people are told by name what is "
                     "in the way.",
                     k);
        return;
    }
}

static void zones(const struct layout_zone *zone, uint32_t n, const char *list, struct faults *faults)
{
    char at[PLACE_POINTER];
    for (uint32_t i = 0; i < n; i++) {
        snprintf(at, sizeof at, "%s/%u", list, i);
        solid(&zone[i].solid, at, faults);
        name(zone, i, list, faults);
    }
}

static void slow_speed(const struct layout_draft *d, uint32_t i, struct faults *faults)
{
    char at[PLACE_POINTER];
    double fastest = d->operator.speed_mps; /* the audience is never faster */
    snprintf(at, sizeof at, "/room/slow_zones/%u/speed_mps", i);
    if (d->slow[i].speed_mps > fastest)
        faults_error(faults, at,
                     "expected less than the lanes may do anyway (%g m/s), found %g m/s. Hint: a slow zone is there to "
                     "slow them; leave it out, or say how slow.",
                     fastest, d->slow[i].speed_mps);
}

void check_zone(const struct layout_draft *draft, struct faults *faults)
{
    zones(draft->keepout, draft->keepouts, "/room/keep_outs", faults);
    zones(draft->slow, draft->slows, "/room/slow_zones", faults);
    zones(draft->view, draft->views, "/room/view_keep_outs", faults);
    for (uint32_t i = 0; i < draft->slows; i++)
        slow_speed(draft, i, faults);
    if (draft->views > 0 && !draft->head.given)
        faults_error(faults, "/room/view_keep_outs",
                     "expected /rig/head beside them, found none. Hint: what the camera sees depends on its head and "
                     "its lens.");
}
