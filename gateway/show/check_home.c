/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The room as the policy will see it: is the rig clear where it starts, can the camera pass where it seems it could? */
#include <math.h>

#include "gateway/show/check.h"
#include "gateway/show/check_sensors.h"
#include "gateway/show/show_reach.h"

static const char *part_name(enum volume_part part)
{
    static const char *const names[] = {[VOLUME_BODY] = "the camera body",
                                        [VOLUME_BOOM] = "the boom",
                                        [VOLUME_CORD] = "a cord",
                                        [VOLUME_TETHER] = "the tether"};
    return names[part];
}

/* What the guard will keep of a rig at rest that the operator may drive: nearer than that, it would only be let out. */
static double margin_kept(const struct show *show)
{
    double uncertainty = check_sensors_uncertainty(show);
    if (show->policy.locates) /* where it is more nothing moves */
        uncertainty = fmin(uncertainty, show->policy.locate.uncertainty_max_m);
    const struct guard_input at_rest = {
        .position = show->home,
        .uncertainty_m = uncertainty,
        .accel_mps2 = show->policy.limits.cell[LANE_OPERATOR][LIMITS_SHOW].accel_mps2,
    };
    double kept = guard_margin(&show->policy.guard, &at_rest);
    return isfinite(kept) ? kept : show->policy.guard.margin_m; /* a limit that has an error of its own */
}

static const char *bound_name(enum volume_bound bound)
{
    static const char *const names[] = {
        [VOLUME_STAGE] = "the edge of the stage",
        [VOLUME_FLOOR] = "the floor of /limits/show",
        [VOLUME_CEILING] = "the ceiling of /limits/show",
        [VOLUME_KEEPOUT] = "the keep-out",
        [VOLUME_SUBJECT] = "the subject",
        [VOLUME_REACH] = "where the cords hold it",
        [VOLUME_TETHER_END] = "the end of the tether",
    };
    return names[bound];
}

static void home_is_clear(const struct show *show, double margin, struct faults *faults)
{
    struct volume_now now = show_reach_now(show);
    struct volume_clearance c = volume_clearance(&show->policy.guard.volume, &now, show->home);
    if (c.distance_m >= margin || c.bound == VOLUME_TETHER_END) /* its length has a check of its own */
        return;
    bool keepout = c.bound == VOLUME_KEEPOUT;
    faults_error(faults, "/room/home_m",
                 "expected a place where the whole rig keeps %.3g m of clearance (margin_m, and what latency, lease, "
                 "braking, swing and the sensors add), found %s %.3g m %s %s%s%s%s. "
                 "Hint: home_m is where the cords meet; the body hangs %g m below it.",
                 margin, part_name(c.part), fabs(c.distance_m),
                 c.distance_m >= 0 ? "from" : (keepout ? "inside" : "beyond"), bound_name(c.bound),
                 keepout ? " \"" : "", keepout ? show->keepout_name[c.keepout] : "", keepout ? "\"" : "",
                 show->policy.guard.volume.outline.boom_m);
}

/* Between two keep-outs, 0 where they meet. Half-spaces have no pieces, so no gap is found to them. */
static double gap_between_solids(const struct volume *volume, int i, int k)
{
    double least = INFINITY;
    for (int a = 0; a < volume->pieces; a++)
        for (int b = 0; b < volume->pieces; b++)
            if (volume->piece_of[a] == i && volume->piece_of[b] == k)
                least = fmin(least, hull_distance(&volume->piece[a], &volume->piece[b], least));
    return fmax(least, 0);
}

/* What the body needs to pass: its own width, the margin and the padding on each side. */
static double width_needed(const struct volume *volume, double margin, double padding_a, double padding_b)
{
    return 2 * (volume->outline.limb[0].radius_m + margin) + padding_a + padding_b;
}

static void gap_between_keepouts(const struct show *show, double margin, int i, int k, struct faults *faults)
{
    const struct volume *volume = &show->policy.guard.volume;
    double gap = gap_between_solids(volume, i, k);
    double need = width_needed(volume, margin, volume->keepout[i].padding_m, volume->keepout[k].padding_m);
    char at[PLACE_POINTER];
    snprintf(at, sizeof at, "/room/keep_outs/%d", i);
    if (gap > 0 && gap < need)
        faults_warn(
            faults, at,
            "the gap of %.3g m to \"%s\" looks open but the camera needs %.3g m: viewers will steer into it and "
            "be held. Join the two, or move them apart.",
            gap, show->keepout_name[k], need);
}

/* One side of the stage as an upright wall. */
static struct hull wall_of(const struct shape_prism *stage, int i)
{
    int next = (i + 1) % stage->corners;
    struct hull wall = {
        .points = 2,
        .point = {{stage->x[i], stage->y[i], stage->z_lo}, {stage->x[next], stage->y[next], stage->z_lo}},
        .tall_m = stage->z_hi - stage->z_lo,
    };
    hull_bound(&wall);
    return wall;
}

/* Nearest edge of the stage, if the stage and the keep-out are anywhere at the same height. */
static double gap_to_stage_edge(const struct volume *volume, int k)
{
    const struct shape_prism *stage = &volume->stage[0];
    double least = INFINITY;
    for (int i = 0; i < stage->corners; i++) {
        struct hull wall = wall_of(stage, i);
        for (int a = 0; a < volume->pieces; a++)
            if (volume->piece_of[a] == k && volume->piece[a].around.lo.z < stage->z_hi &&
                volume->piece[a].around.hi.z > stage->z_lo)
                least = fmin(least, hull_distance(&volume->piece[a], &wall, least));
    }
    return fmax(least, 0);
}

static struct vec3 middle_of(const struct volume *volume, int k)
{
    for (int a = 0; a < volume->pieces; a++)
        if (volume->piece_of[a] == k)
            return vec_scale(vec_add(volume->piece[a].around.lo, volume->piece[a].around.hi), 0.5);
    return (struct vec3){INFINITY, INFINITY, INFINITY};
}

static void gap_at_stage_edge(const struct show *show, double margin, int i, struct faults *faults)
{
    const struct volume *volume = &show->policy.guard.volume;
    struct vec3 middle = middle_of(volume, i);
    middle.z = (volume->stage[0].z_lo + volume->stage[0].z_hi) / 2;
    double gap = gap_to_stage_edge(volume, i);
    double need = width_needed(volume, margin, volume->keepout[i].padding_m, 0);
    char at[PLACE_POINTER];
    snprintf(at, sizeof at, "/room/keep_outs/%d", i);
    if (shape_prism_distance(&volume->stage[0], middle) < 0 && gap > 0 && gap < need)
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
    check_sensors(show, faults);
    for (int i = 0; i < show->policy.guard.volume.keepouts; i++) {
        gap_at_stage_edge(show, margin, i, faults);
        for (int k = 0; k < i; k++)
            gap_between_keepouts(show, margin, i, k, faults);
    }
}
