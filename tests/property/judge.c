/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/property/judge.h"

enum { SEARCH_ROUNDS = 36 };

static double box_distance(const struct shape_box *box, struct vec3 p)
{
    double dx = fmax(0, fabs(p.x - (box->lo.x + box->hi.x) / 2) - (box->hi.x - box->lo.x) / 2);
    double dy = fmax(0, fabs(p.y - (box->lo.y + box->hi.y) / 2) - (box->hi.y - box->lo.y) / 2);
    double dz = fmax(0, fabs(p.z - (box->lo.z + box->hi.z) / 2) - (box->hi.z - box->lo.z) / 2);
    return sqrt(dx * dx + dy * dy + dz * dz);
}

/* Along a segment the distance to a convex solid falls, then rises: golden section. */
static double box_to_segment(const struct shape_box *box, struct vec3 a, struct vec3 b)
{
    const double golden = 0.6180339887498949;
    struct vec3 d = vec_sub(b, a);
    double lo = 0, hi = 1, t1 = 1 - golden, t2 = golden;
    double f1 = box_distance(box, vec_along(a, d, t1)), f2 = box_distance(box, vec_along(a, d, t2));
    double least = fmin(box_distance(box, a), box_distance(box, b));
    for (int i = 0; i < SEARCH_ROUNDS; i++) {
        if (f1 <= f2) {
            hi = t2, t2 = t1, f2 = f1;
            t1 = hi - golden * (hi - lo);
            f1 = box_distance(box, vec_along(a, d, t1));
        } else {
            lo = t1, t1 = t2, f1 = f2;
            t2 = lo + golden * (hi - lo);
            f2 = box_distance(box, vec_along(a, d, t2));
        }
        least = fmin(least, fmin(f1, f2));
    }
    return least;
}

/* Inside if the corners, seen from there, turn a full circle. */
static double stage_depth(const struct shape_prism *stage, struct vec3 p)
{
    double turn = 0, walls = INFINITY;
    for (int i = 0; i < stage->corners; i++) {
        int k = i + 1 < stage->corners ? i + 1 : 0;
        struct vec3 a = {stage->x[i] - p.x, stage->y[i] - p.y, 0}, b = {stage->x[k] - p.x, stage->y[k] - p.y, 0};
        struct vec3 e = vec_sub(b, a);
        double t = fmin(1, fmax(0, -vec_dot(a, e) / vec_dot(e, e)));
        walls = fmin(walls, vec_norm(vec_along(a, e, t)));
        turn += atan2(vec_cross(a, b).z, vec_dot(a, b));
    }
    double level = fmin(p.z - stage->z_lo, stage->z_hi - p.z);
    return fmin(fabs(turn) > 3 ? walls : -walls, level);
}

static double keepout_clearance(const struct volume *vol, int k, struct vec3 platform, struct vec3 body)
{
    const struct volume_outline *o = &vol->outline;
    const struct shape_block *block = &vol->keepout[k].shape.as.block;
    struct shape_box along = {vec_sub(block->centre, block->half), vec_add(block->centre, block->half)}, *box = &along;
    double least =
        fmin(box_distance(box, body) - o->limb[0].radius_m, box_to_segment(box, platform, body) - o->boom_radius_m);
    for (int i = 0; i < o->cords; i++)
        least = fmin(least, box_to_segment(box, o->anchor[i], platform) - o->cord_radius_m);
    return least - vol->keepout[k].padding_m;
}

double judge_clearance(const struct volume *vol, struct vec3 platform, struct vec3 body)
{
    const struct volume_outline *o = &vol->outline;
    double least = stage_depth(&vol->stage[0], body) - o->limb[0].radius_m;
    for (int i = 0; i <= 4; i++) {
        struct vec3 on_boom = vec_along(platform, vec_sub(body, platform), i / 4.0);
        least = fmin(least, stage_depth(&vol->stage[0], on_boom) - o->boom_radius_m);
    }
    for (int k = 0; k < vol->keepouts; k++)
        if (!vol->keepout[k].yields)
            least = fmin(least, keepout_clearance(vol, k, platform, body));
    return least;
}

double judge_yielding(const struct volume *vol, struct vec3 platform, struct vec3 body)
{
    double least = INFINITY;
    for (int k = 0; k < vol->keepouts; k++)
        if (vol->keepout[k].yields)
            least = fmin(least, keepout_clearance(vol, k, platform, body));
    return least;
}

double judge_look(struct judge *judge, const struct volume *vol, struct vec3 platform, struct vec3 body)
{
    double moved = fmax(vec_norm(vec_sub(platform, judge->platform)), vec_norm(vec_sub(body, judge->body)));
    if (judge->left - moved > judge->near)
        return judge->left - moved;
    *judge = (struct judge){judge->near, judge_clearance(vol, platform, body), platform, body};
    return judge->left;
}
