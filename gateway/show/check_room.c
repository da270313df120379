/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The drawing of the room: anchors, stage, keep-outs. */
#include <string.h>

#include "gateway/show/check.h"
#include "gateway/show/plan.h"

static const double same_point_m = 0.01;

static struct plan_point corner(const struct layout_draft *d, uint32_t i)
{
    const double *c = d->stage.corner[i % d->stage.corners];
    return (struct plan_point){c[0], c[1]};
}

static void anchor_heights(const struct layout_draft *d, struct faults *faults)
{
    char at[PLACE_POINTER];
    for (uint32_t i = 0; i < d->anchors; i++) {
        snprintf(at, sizeof at, "/rig/anchors_m/%u/2", i);
        double z = d->anchor[i].z;
        if (z <= d->stage.floor_m)
            faults_error(faults, at,
                         "expected an anchor above the floor of the stage (%g m), found %g m. Hint: z is the height "
                         "above the room's origin, in metres, upwards.",
                         d->stage.floor_m, z);
        else if (z <= d->stage.ceiling_m)
            faults_error(faults, at,
                         "expected an anchor above the ceiling of the stage (%g m), found %g m. Hint: lower "
                         "/room/stage/ceiling_m: near the height of an anchor a cord pulls far harder than the camera "
                         "weighs.",
                         d->stage.ceiling_m, z);
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

/* Tells the first pair of edges that meet where they should not. True if there is one. */
static bool edges_cross(const struct layout_draft *d, struct faults *faults)
{
    uint32_t n = d->stage.corners;
    for (uint32_t i = 0; i < n; i++) {
        for (uint32_t k = i + 1; k < n; k++) {
            bool neighbours = k == i + 1 || (i == 0 && k == n - 1);
            if (neighbours || !plan_meet(corner(d, i), corner(d, i + 1), corner(d, k), corner(d, k + 1)))
                continue;
            faults_error(faults, "/room/stage/footprint_m",
                         "expected an outline that does not cross itself, found the edge from corner %u to %u meeting "
                         "the one from %u to %u. Hint: list the corners in order around the stage, counted from 0.",
                         i, (i + 1) % n, k, (k + 1) % n);
            return true;
        }
    }
    return false;
}

static bool corners_bad(const struct layout_draft *d, struct faults *faults)
{
    char at[PLACE_POINTER];
    bool bad = false;
    for (uint32_t i = 0; i < d->stage.corners; i++) {
        snprintf(at, sizeof at, "/room/stage/footprint_m/%u", (i + 1) % d->stage.corners);
        struct plan_point a = corner(d, i), b = corner(d, i + 1), c = corner(d, i + 2);
        if (plan_apart(a, b) < same_point_m)
            faults_error(faults, at,
                         "expected a corner of its own, found corner %u again. Hint: leave it out; the "
                         "outline closes by itself.",
                         i);
        else if (plan_folds(a, b, c))
            faults_error(faults, at,
                         "expected an outline that encloses an area, found it folding back on itself here. "
                         "Hint: leave this corner out.");
        else
            continue;
        bad = true;
    }
    return bad;
}

/* Cords only pull: outside the anchors' plan no tension holds the camera. */
static void stage_in_hull(const struct layout_draft *d, struct faults *faults)
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
    for (uint32_t i = 0; i < d->stage.corners; i++) {
        double outside = -plan_depth(hull, n, corner(d, i));
        snprintf(at, sizeof at, "/room/stage/footprint_m/%u", i);
        if (outside > 1e-9)
            faults_error(faults, at,
                         "expected a corner inside the anchors, seen from above, found it %.3g m outside. Hint: cords "
                         "only pull; draw the stage smaller or move the anchors out.",
                         outside);
    }
}

static void few_cords(const struct layout_draft *d, struct faults *faults)
{
    if (d->anchors == 1 || d->anchors == 2)
        faults_warn(faults, "/rig/anchors_m", "%u cord%s cannot hold the camera still anywhere on a stage, only %s.",
                    d->anchors, d->anchors == 1 ? "" : "s",
                    d->anchors == 1 ? "straight below the anchor" : "in the plane of the two");
}

static void keepout_box(const struct layout_solid *k, uint32_t i, struct faults *faults)
{
    static const char axis[] = "xyz";
    const double from[] = {k->from.x, k->from.y, k->from.z}, to[] = {k->to.x, k->to.y, k->to.z};
    char at[PLACE_POINTER];
    for (int a = 0; a < 3; a++) {
        snprintf(at, sizeof at, "/room/keep_outs/%u/to_m/%d", i, a);
        if (to[a] <= from[a])
            faults_error(faults, at,
                         "expected %c greater than that of from_m (%g m), found %g m. Hint: from_m is the corner with "
                         "the least x, y and z, to_m the one with the greatest.",
                         axis[a], from[a], to[a]);
    }
}

static void keepout_name(const struct layout_draft *d, uint32_t i, struct faults *faults)
{
    char at[PLACE_POINTER];
    for (uint32_t k = 0; k < i; k++) {
        if (strcmp(d->keepout[i].name, d->keepout[k].name) != 0)
            continue;
        snprintf(at, sizeof at, "/room/keep_outs/%u/name", i);
        faults_error(faults, at,
                     "expected a name of its own, found that of keep-out %u again. Hint: people are told by name which "
                     "keep-out stopped the camera.",
                     k);
        return;
    }
}

void check_room(const struct layout_draft *draft, struct faults *faults)
{
    anchor_heights(draft, faults);
    anchors_twice(draft, faults);
    few_cords(draft, faults);
    if (draft->stage.ceiling_m <= draft->stage.floor_m)
        faults_error(faults, "/room/stage/ceiling_m",
                     "expected a ceiling above floor_m (%g m), found %g m. Hint: both are heights above the room's "
                     "origin.",
                     draft->stage.floor_m, draft->stage.ceiling_m);
    if (draft->stage.corners >= 3 && !corners_bad(draft, faults) && !edges_cross(draft, faults) && draft->anchors >= 3)
        stage_in_hull(draft, faults);
    for (uint32_t i = 0; i < draft->keepouts; i++) {
        const struct layout_solid *solid = &draft->keepout[i].solid;
        bool plain = solid->shape == LAYOUT_BOX && solid->yaw_rad == 0 && solid->pitch_rad == 0 && solid->roll_rad == 0;
        if (draft->extensions > 0 || !plain)
            faults_error(faults, "/room",
                         "expected boxes that are not turned, and no extensions. Hint: the rest is still to come.");
        keepout_box(solid, i, faults);
        keepout_name(draft, i, faults);
    }
}
