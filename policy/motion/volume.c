/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume.h"

#include "policy/motion/volume_meet.h"

/* One question: a straight way, as the rig is turned on it. */
struct question {
    const struct volume_near *near;
    struct vec3 from, to;
    double spare_m; /* nothing on the way is nearer than when it was looked at by more than that */
    struct outline_swept swept;
    bool ready; /* swept is filled for the part at hand */
    struct volume_clearance least;
};

static const struct outline_swept *swept_by(struct question *q, int part)
{
    if (!q->ready)
        outline_sweep(&q->near->vol->outline, &q->near->turn, part, q->from, q->to, &q->swept);
    q->ready = true;
    return &q->swept;
}

static void ask_part(struct question *q, int part)
{
    const struct volume_near *near = q->near;
    double spare = part == OUTLINE_TETHER ? VOLUME_TETHER_STEEP * q->spare_m : q->spare_m;
    q->ready = false;
    if (part < VOLUME_BODY_PARTS && near->edge_m[part] - spare < q->least.distance_m)
        volume_meet_edges(near, part, swept_by(q, part), q->least.distance_m, &q->least);
    for (int i = 0; i < near->pairs[part]; i++) {
        const struct volume_pair *pair = &near->pair[part][i];
        if ((double)pair->apart_m - spare >= q->least.distance_m)
            continue;
        double d = volume_meet_target(near, part, swept_by(q, part), pair->target, q->least.distance_m);
        volume_meet_told(near, part, pair->target, d, &q->least);
    }
}

struct volume_clearance volume_path_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                              double enough)
{
    struct question q = {.near = near, .from = from, .to = to};
    if (!vec_finite(from) || !vec_finite(to) || !(near->within_m >= 0))
        return volume_meet_nothing(-INFINITY);
    q.spare_m = greater(vec_norm(vec_sub(from, near->at)), vec_norm(vec_sub(to, near->at)));
    q.least = volume_meet_nothing(lesser(enough, near->within_m - q.spare_m));
    for (int part = 0; part < VOLUME_PARTS; part++) {
        if (outline_has(&near->vol->outline, part))
            ask_part(&q, part);
    }
    volume_meet_ends(near->vol, from, to, &q.least);
    return q.least;
}

struct volume_clearance volume_clearance(const struct volume *vol, const struct volume_now *now, struct vec3 position)
{
    struct volume_near near;
    volume_look(&near, vol, now, position, 0);
    return near.nearest;
}
