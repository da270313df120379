/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The drawing of the room: anchors and stage. */
#include <math.h>

#include "gateway/show/check.h"
#include "gateway/show/check_zone.h"
#include "gateway/show/fill.h"
#include "gateway/show/plan.h"

static const double same_point_m = 0.01;

static struct plan_point corner(const struct layout_prism *p, uint32_t i)
{
    return (struct plan_point){p->corner[i][0], p->corner[i][1]};
}

/* The stage and its extensions as one list. */
static const struct layout_prism *stage_part(const struct layout_draft *d, uint32_t i)
{
    return i == 0 ? &d->stage : &d->extension[i - 1];
}

static void stage_place(uint32_t i, char at[PLACE_POINTER])
{
    if (i == 0)
        snprintf(at, PLACE_POINTER, "/room/stage");
    else
        snprintf(at, PLACE_POINTER, "/room/stage_extensions/%u", i - 1);
}

static void stage_heights(const struct layout_draft *d, double *floor_m, double *ceiling_m)
{
    *floor_m = d->stage.floor_m;
    *ceiling_m = d->stage.ceiling_m;
    for (uint32_t i = 0; i < d->extensions; i++) {
        *floor_m = fmin(*floor_m, d->extension[i].floor_m);
        *ceiling_m = fmax(*ceiling_m, d->extension[i].ceiling_m);
    }
}

static void anchor_heights(const struct layout_draft *d, struct faults *faults)
{
    char at[PLACE_POINTER];
    double floor_m, ceiling_m;
    stage_heights(d, &floor_m, &ceiling_m);
    for (uint32_t i = 0; i < d->anchors; i++) {
        snprintf(at, sizeof at, "/rig/anchors_m/%u/2", i);
        double z = d->anchor[i].z;
        if (z <= floor_m)
            faults_error(faults, at,
                         "expected an anchor above the floor of the stage (%g m), found %g m. Hint: z is the height "
                         "above the room's origin, in metres, upwards.",
                         floor_m, z);
        else if (z <= ceiling_m)
            faults_error(faults, at,
                         "expected an anchor above the ceiling of the stage (%g m), found %g m. Hint: lower "
                         "/room/stage/ceiling_m: near the height of an anchor a cord pulls far harder than the camera "
                         "weighs.",
                         ceiling_m, z);
    }
}

static void anchors_twice(const struct layout_draft *d, struct faults *faults)
{
    char at[PLACE_POINTER];
    for (uint32_t i = 1; i < d->anchors; i++) {
        for (uint32_t k = 0; k < i; k++) {
            if (vec_norm(vec_sub(d->anchor[i], d->anchor[k])) >= same_point_m)
                continue;
            snprintf(at, sizeof at, "/rig/anchors_m/%u", i);
            faults_error(faults, at,
                         "expected an anchor of its own, found the point of anchor %u again. Hint: measure it anew, or "
                         "leave it out.",
                         k);
            break;
        }
    }
}

/* Cords only pull: outside the anchors' plan no tension holds the camera. */
static void part_in_hull(const struct layout_prism *part, const char *at, const struct plan_point *hull, int n,
                         struct faults *faults)
{
    char place[PLACE_POINTER];
    for (uint32_t i = 0; i < part->corners; i++) {
        double outside = -plan_depth(hull, n, corner(part, i));
        snprintf(place, sizeof place, "%.200s/footprint_m/%u", at, i);
        if (outside > 1e-9)
            faults_error(faults, place,
                         "expected a corner inside the anchors, seen from above, found it %.3g m outside. Hint: cords "
                         "only pull; draw the stage smaller or move the anchors out.",
                         outside);
    }
}

static void stage_in_hull(const struct layout_draft *d, const bool good[], struct faults *faults)
{
    struct plan_point anchors[VOLUME_MAX_CORDS], hull[VOLUME_MAX_CORDS];
    char at[PLACE_POINTER];
    for (uint32_t i = 0; i < d->anchors; i++)
        anchors[i] = (struct plan_point){d->anchor[i].x, d->anchor[i].y};
    int n = plan_hull(anchors, (int)d->anchors, hull);
    if (n < 3) {
        faults_error(faults, "/rig/anchors_m",
                     "expected anchors that stand around the stage, found all on one line. Hint: seen from above, "
                     "three of them must span a triangle.");
        return;
    }
    for (uint32_t i = 0; i <= d->extensions; i++) {
        stage_place(i, at);
        if (good[i])
            part_in_hull(stage_part(d, i), at, hull, n, faults);
    }
}

static void few_cords(const struct layout_draft *d, struct faults *faults)
{
    if (d->anchors == 1 || d->anchors == 2)
        faults_warn(faults, "/rig/anchors_m", "%u cord%s cannot hold the camera still anywhere on a stage, only %s.",
                    d->anchors, d->anchors == 1 ? "" : "s",
                    d->anchors == 1 ? "straight below the anchor" : "in the plane of the two");
}

/* Does the camera find a way from this part of the stage into one before it? That takes a place that is deep enough in
 * both. Halves boxes (branch and bound) until one is found or ruled out: depth is 1-Lipschitz. */
static bool overlaps(const struct shape_prism *a, const struct shape_prism *b, double deep_m)
{
    enum { TRIES = 20000, WAITING = 256 };
    struct {
        double x, y, half;
    } box[WAITING];
    int n = 1;
    double z = (fmax(a->z_lo, b->z_lo) + fmin(a->z_hi, b->z_hi)) / 2;
    box[0].x = a->x[0];
    box[0].y = a->y[0];
    box[0].half = 0;
    for (int i = 0; i < a->corners; i++)
        box[0].half = fmax(box[0].half, fmax(fabs(a->x[i] - box[0].x), fabs(a->y[i] - box[0].y)));
    for (int tries = 0; n > 0 && tries < TRIES; tries++) {
        double x = box[n - 1].x, y = box[n - 1].y, half = box[n - 1].half;
        n--;
        struct vec3 at = {x, y, z};
        double depth = -fmax(shape_prism_distance(a, at), shape_prism_distance(b, at));
        if (depth >= deep_m)
            return true;
        if (depth + half * sqrt(2) < deep_m || half < 0.001 || n + 4 > WAITING)
            continue;
        for (int k = 0; k < 4; k++, n++) {
            box[n].x = x + (k & 1 ? half : -half) / 2;
            box[n].y = y + (k & 2 ? half : -half) / 2;
            box[n].half = half / 2;
        }
    }
    return false;
}

/* Each part but the first joins on to one before it. */
static void parts_join(const struct layout_draft *d, const bool good[], struct faults *faults)
{
    char at[PLACE_POINTER];
    double deep = d->body_radius_m + d->show.policy.guard.margin_m;
    for (uint32_t i = 1; i <= d->extensions && isfinite(deep); i++) {
        struct shape_prism part = fill_prism(stage_part(d, i));
        bool joins = !good[i];
        for (uint32_t k = 0; k < i && !joins; k++) {
            struct shape_prism other = fill_prism(stage_part(d, k));
            joins = !good[k] || overlaps(&part, &other, deep);
        }
        stage_place(i, at);
        if (!joins)
            faults_error(faults, at,
                         "expected a part that overlaps the stage, or an extension before it, by enough for the camera "
                         "to pass: a place %.3g m deep in both (body_radius_m and margin_m), found none. Hint: parts "
                         "that only touch are a wall to the camera; draw them into each other.",
                         deep);
    }
}

/* Centimetres pass for metres where each number by itself is one that a hall may have. */
static void sizes(const struct layout_draft *d, struct faults *faults)
{
    enum { HALL_M = 150 };
    double widest = 0;
    for (uint32_t i = 1; i < d->anchors; i++)
        widest = fmax(widest, vec_norm(vec_sub(d->anchor[i], d->anchor[0])));
    if (widest > HALL_M)
        faults_warn(faults, "/rig/anchors_m",
                    "two anchors are %.4g m apart, which is more than most halls are wide. If these are centimetres, "
                    "divide them by 100.",
                    widest);
}

void check_room(const struct layout_draft *draft, struct faults *faults)
{
    bool good[1 + LAYOUT_MAX_EXTENSIONS];
    char at[PLACE_POINTER];
    anchor_heights(draft, faults);
    anchors_twice(draft, faults);
    few_cords(draft, faults);
    sizes(draft, faults);
    bool any = false;
    for (uint32_t i = 0; i <= draft->extensions; i++) {
        stage_place(i, at);
        good[i] = check_zone_prism(stage_part(draft, i), at, faults);
        any |= good[i];
    }
    if (any && draft->anchors >= 3)
        stage_in_hull(draft, good, faults);
    parts_join(draft, good, faults);
}
