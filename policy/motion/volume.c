/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume.h"

#include "policy/motion/volume_meet.h"

/* One question: a straight way, as the rig is turned on it. */
struct question {
    const struct volume_near *near;
    struct vec3 from, to;
    struct volume_turn turn;
    double moved_m;  /* nothing on the way is nearer than when it was looked at by more than this */
    double turned_m; /* and limbs by this on top */
    struct outline_swept swept;
    bool ready; /* swept is filled for the part at hand */
    struct volume_clearance least;
};

static const struct outline_swept *swept_by(struct question *q, int part)
{
    if (!q->ready)
        outline_sweep(&q->near->vol->outline, &q->turn, part, q->from, q->to, &q->swept);
    q->ready = true;
    return &q->swept;
}

static double spare_of(const struct question *q, int part)
{
    if (part < OUTLINE_BOOM)
        return q->moved_m + q->turned_m;
    return part == OUTLINE_TETHER ? VOLUME_TETHER_STEEP * q->moved_m : q->moved_m;
}

static void ask_part(struct question *q, int part)
{
    const struct volume_near *near = q->near;
    double spare = spare_of(q, part);
    q->ready = false;
    if (part < VOLUME_BODY_PARTS && near->edge_m[part] - spare < q->least.distance_m)
        volume_meet_edges(near, part, swept_by(q, part), q->least.distance_m, &q->least);
    for (int i = 0; i < near->pairs[part]; i++) {
        const struct volume_pair *pair = &near->pair[part][i];
        if ((double)pair->apart_m - spare >= q->least.distance_m)
            continue;
        struct vec3 along = {(double)pair->along[0], (double)pair->along[1], (double)pair->along[2]};
        double d = volume_meet_target(near, part, swept_by(q, part), pair->target, q->least.distance_m, &along);
        volume_meet_told(near, part, pair->target, d, &q->least);
    }
}

static struct volume_clearance answer(struct question *q, double enough)
{
    const struct volume_near *near = q->near;
    if (!shape_point_valid(q->from) || !shape_point_valid(q->to) || !(near->within_m >= 0))
        return volume_meet_nothing(-INFINITY);
    q->moved_m = greater(vec_norm(vec_sub(q->from, near->at)), vec_norm(vec_sub(q->to, near->at)));
    q->least = volume_meet_nothing(lesser(enough, near->within_m - q->moved_m - q->turned_m));
    for (int part = 0; part < VOLUME_PARTS; part++) {
        if (outline_has(&near->vol->outline, part))
            ask_part(q, part);
    }
    volume_meet_ends(near->vol, q->from, q->to, &q->least);
    return q->least;
}

struct volume_clearance volume_path_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                              double enough)
{
    struct question q = {.near = near, .from = from, .to = to, .turn = near->turn};
    return answer(&q, enough);
}

/* A limb r from the axis stands out of where it was looked at by no more than its middle has moved and its disc has
 * grown, both so and so many times r. */
struct volume_clearance volume_turned_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                                double yaw_rad, double yaw_off_rad, double enough)
{
    struct volume_now now = {.yaw_rad = yaw_rad, .yaw_off_rad = yaw_off_rad};
    struct question q = {.near = near, .from = from, .to = to};
    q.turn = outline_turn(&near->vol->outline, &now);
    double c = q.turn.cos - near->turn.cos, s = q.turn.sin - near->turn.sin;
    double grown = greater(q.turn.spread - near->turn.spread, 0);
    q.turned_m = outline_radius(&near->vol->outline) * (sqrt(c * c + s * s) + grown);
    return answer(&q, enough);
}

struct volume_clearance volume_clearance(const struct volume *vol, const struct volume_now *now, struct vec3 position)
{
    struct volume_near near;
    volume_look(&near, vol, now, position, 0);
    return near.nearest;
}
