/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The room as the policy will see it: is the rig clear where it starts, can the camera pass where it seems it could? */
#include <math.h>

#include "gateway/show/check.h"

static const char *part_name(enum volume_part part)
{
    static const char *const names[] = {
        [VOLUME_BODY] = "the camera body", [VOLUME_BOOM] = "the boom", [VOLUME_CORD] = "a cord"};
    return names[part];
}

/* What the guard will keep of a rig at rest that the operator may drive: nearer than that, it would only be let out. */
static double margin_kept(const struct show *show)
{
    const struct guard_input at_rest = {
        .position = show->home,
        .uncertainty_m = show->sim.enabled ? 3 * show->sim.noise_m : 0,
        .accel_mps2 = show->policy.lanes.limits[LANE_OPERATOR].accel_mps2,
    };
    double kept = guard_margin(&show->policy.guard, &at_rest);
    return isfinite(kept) ? kept : show->policy.guard.margin_m; /* a limit that has an error of its own */
}

static void home_is_clear(const struct show *show, double margin, struct faults *faults)
{
    struct volume_clearance c = volume_clearance(&show->policy.guard.volume, show->home);
    if (c.distance_m >= margin)
        return;
    bool keepout = c.bound == VOLUME_KEEPOUT;
    faults_error(faults, "/room/home_m",
                 "expected a place where the whole rig keeps %.3g m of clearance (margin_m, and what latency, lease, "
                 "braking and swing add), found %s %.3g m %s %s%s%s. "
                 "Hint: home_m is where the cords meet; the body hangs %g m below it.",
                 margin, part_name(c.part), fabs(c.distance_m),
                 c.distance_m >= 0 ? "from" : (keepout ? "inside" : "beyond"), keepout ? "\"" : "the edge of the stage",
                 keepout ? show->keepout_name[c.keepout] : "", keepout ? "\"" : "",
                 show->policy.guard.volume.outline.boom_m);
}

static double gap_1d(double a_lo, double a_hi, double b_lo, double b_hi)
{
    return fmax(0, fmax(b_lo - a_hi, a_lo - b_hi));
}

static double box_gap(const struct shape_box *a, const struct shape_box *b)
{
    struct vec3 gap = {gap_1d(a->lo.x, a->hi.x, b->lo.x, b->hi.x), gap_1d(a->lo.y, a->hi.y, b->lo.y, b->hi.y),
                       gap_1d(a->lo.z, a->hi.z, b->lo.z, b->hi.z)};
    return vec_norm(gap);
}

/* What the body needs to pass: its own width, the margin and the padding on each side. */
static double width_needed(const struct volume *volume, double margin, double padding_a, double padding_b)
{
    return 2 * (volume->outline.body_radius_m + margin) + padding_a + padding_b;
}

static void gap_between_keepouts(const struct show *show, double margin, int i, int k, struct faults *faults)
{
    const struct volume *volume = &show->policy.guard.volume;
    double gap = box_gap(&volume->keepout[i], &volume->keepout[k]);
    double need = width_needed(volume, margin, volume->padding_m[i], volume->padding_m[k]);
    char at[PLACE_POINTER];
    snprintf(at, sizeof at, "/room/keep_outs/%d", i);
    if (gap > 0 && gap < need)
        faults_warn(
            faults, at,
            "the gap of %.3g m to \"%s\" looks open but the camera needs %.3g m: viewers will steer into it and "
            "be held. Join the two, or move them apart.",
            gap, show->keepout_name[k], need);
}

/* Nearest edge of the stage, at a height where the stage and the keep-out both are. */
static double gap_to_stage_edge(const struct shape_prism *stage, const struct shape_box *box)
{
    double lo = fmax(stage->z_lo, box->lo.z), hi = fmin(stage->z_hi, box->hi.z), least = INFINITY;
    if (lo >= hi)
        return least;
    for (int i = 0; i < stage->corners; i++) {
        int next = (i + 1) % stage->corners;
        struct vec3 a = {stage->x[i], stage->y[i], (lo + hi) / 2}, b = {stage->x[next], stage->y[next], (lo + hi) / 2};
        least = fmin(least, shape_box_segment_distance(box, a, b));
    }
    return least;
}

static void gap_at_stage_edge(const struct show *show, double margin, int i, struct faults *faults)
{
    const struct volume *volume = &show->policy.guard.volume;
    struct vec3 lo = volume->keepout[i].lo, hi = volume->keepout[i].hi;
    struct vec3 middle = vec_scale(vec_add(lo, hi), 0.5);
    middle.z = (volume->stage.z_lo + volume->stage.z_hi) / 2;
    double gap = gap_to_stage_edge(&volume->stage, &volume->keepout[i]);
    double need = width_needed(volume, margin, volume->padding_m[i], 0);
    char at[PLACE_POINTER];
    snprintf(at, sizeof at, "/room/keep_outs/%d", i);
    if (shape_prism_distance(&volume->stage, middle) < 0 && gap > 0 && gap < need)
        faults_warn(faults, at,
                    "the gap of %.3g m to the edge of the stage looks open but the camera needs %.3g m: viewers will "
                    "steer into it and be held. Let the keep-out reach the edge, or move it away.",
                    gap, need);
}

void check_home(const struct show *show, struct faults *faults)
{
    double margin = margin_kept(show);
    if (!volume_valid(&show->policy.guard.volume) || !vec_finite(show->home) || !isfinite(margin))
        return;
    home_is_clear(show, margin, faults);
    for (int i = 0; i < show->policy.guard.volume.keepouts; i++) {
        gap_at_stage_edge(show, margin, i, faults);
        for (int k = 0; k < i; k++)
            gap_between_keepouts(show, margin, i, k, faults);
    }
}
