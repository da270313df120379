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
    struct volume_few *few; /* if not NULL: gets all that is below this */
    double below_m;
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

/* What matters is less than this. */
static double enough_of(const struct question *q)
{
    return q->few ? q->below_m : q->least.distance_m;
}

static void ask_edges(struct question *q, int part)
{
    double enough = enough_of(q);
    double distance = volume_meet_edges(q->near, part, swept_by(q, part), enough, &q->least);
    if (q->few && distance < enough)
        q->few->edges |= 1u << part;
}

static double ask_target(struct question *q, int part, int target, struct vec3 *along)
{
    double distance = volume_meet_target(q->near, part, swept_by(q, part), target, enough_of(q), along);
    volume_meet_told(q->near, part, target, distance, &q->least);
    return distance;
}

static void ask_ends(struct question *q)
{
    struct volume_clearance ends = volume_meet_nothing(enough_of(q));
    volume_meet_ends(q->near->vol, q->from, q->to, &ends);
    if (ends.distance_m < q->least.distance_m)
        q->least = ends;
    if (q->few)
        q->few->ends = ends.distance_m < q->below_m;
}

static void keep(struct volume_few *few, int part, int target, struct vec3 along)
{
    few->all = few->all || few->pairs >= VOLUME_FEW;
    if (!few->all)
        few->pair[few->pairs++] = (struct volume_few_pair){part, target, along};
}

static void ask_part(struct question *q, int part)
{
    const struct volume_near *near = q->near;
    double spare = spare_of(q, part);
    q->ready = false;
    if (part < VOLUME_BODY_PARTS && near->edge_m[part] - spare < enough_of(q))
        ask_edges(q, part);
    for (int i = 0; i < near->pairs[part]; i++) {
        const struct volume_pair *pair = &near->pair[part][i];
        if ((double)pair->apart_m - spare >= enough_of(q))
            continue;
        struct vec3 along = {(double)pair->along[0], (double)pair->along[1], (double)pair->along[2]};
        double distance = ask_target(q, part, pair->target, &along);
        if (q->few && distance < q->below_m)
            keep(q->few, part, pair->target, along);
    }
}

/* False if nothing can be said. */
static bool begin(struct question *q, double enough)
{
    const struct volume_near *near = q->near;
    if (!shape_point_valid(q->from) || !shape_point_valid(q->to) || !(near->within_m >= 0)) {
        q->least = volume_meet_nothing(-INFINITY);
        return false;
    }
    q->moved_m = greater(vec_norm(vec_sub(q->from, near->at)), vec_norm(vec_sub(q->to, near->at)));
    q->least = volume_meet_nothing(lesser(enough, near->within_m - q->moved_m - q->turned_m));
    return true;
}

static struct volume_clearance answer(struct question *q, double enough)
{
    const struct volume_near *near = q->near;
    if (!begin(q, enough))
        return q->least;
    for (int part = 0; part < VOLUME_PARTS; part++) {
        if (outline_has(&near->vol->outline, part))
            ask_part(q, part);
    }
    ask_ends(q);
    return q->least;
}

struct volume_clearance volume_narrow(const struct volume_near *near, struct vec3 from, struct vec3 to, double below_m,
                                      struct volume_few *few)
{
    struct question q = {.near = near, .from = from, .to = to, .turn = near->turn, .few = few, .below_m = below_m};
    few->near = near;
    few->all = few->ends = false;
    few->edges = 0;
    few->pairs = 0;
    return answer(&q, below_m);
}

struct volume_clearance volume_few_clearance(struct volume_few *few, struct vec3 from, struct vec3 to, double enough)
{
    const struct volume_near *near = few->near;
    struct question q = {.near = near, .from = from, .to = to, .turn = near->turn};
    if (few->all)
        return volume_path_clearance(near, from, to, enough);
    if (!begin(&q, enough))
        return q.least;
    int i = 0;
    for (int part = 0; part < VOLUME_PARTS; part++) {
        q.ready = false;
        if (few->edges >> part & 1)
            ask_edges(&q, part);
        for (; i < few->pairs && i < VOLUME_FEW && few->pair[i].part == part; i++)
            ask_target(&q, part, few->pair[i].target, &few->pair[i].along);
    }
    if (few->ends)
        ask_ends(&q);
    return q.least;
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
