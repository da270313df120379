/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_judge.h"

#include <stddef.h>

#define CRAWL_MPS 0.01
#define SETTLED_S 0.1

/* What a point's distance is measured to: the stage, if there is no solid. */
struct bound {
    const struct volume *room;
    const struct shape *solid;
};

/* In the plan: is the point inside the polygon (a ray to the right crosses an odd number of edges), and how far is the
 * nearest edge? */
static bool plan_inside(const struct shape_prism *s, struct vec3 p, double *edge_m)
{
    bool inside = false;
    *edge_m = INFINITY;
    for (int i = 0, j = s->corners - 1; i < s->corners; j = i++) {
        double ex = s->x[i] - s->x[j], ey = s->y[i] - s->y[j];
        double px = p.x - s->x[j], py = p.y - s->y[j];
        double along = (px * ex + py * ey) / (ex * ex + ey * ey);
        along = along < 0 ? 0 : along > 1 ? 1 : along;
        *edge_m = fmin(*edge_m, hypot(px - along * ex, py - along * ey));
        bool straddles = (s->y[i] > p.y) != (s->y[j] > p.y);
        if (straddles && p.x < s->x[j] + ex * (p.y - s->y[j]) / ey)
            inside = !inside;
    }
    return inside;
}

double sim_judge_stage_depth(const struct shape_prism *stage, struct vec3 p)
{
    double edge, low = p.z - stage->z_lo, high = stage->z_hi - p.z;
    bool inside = plan_inside(stage, p, &edge);
    double height = fmin(low, high);
    if (inside && height >= 0)
        return fmin(edge, height);
    return -hypot(inside ? 0 : edge, height < 0 ? height : 0);
}

/* Outside, the distance to the point of the box nearest to p; inside, minus the way out through the nearest face. */
double sim_judge_box_distance(const struct shape_box *box, struct vec3 p)
{
    struct vec3 nearest = {fmin(fmax(p.x, box->lo.x), box->hi.x), fmin(fmax(p.y, box->lo.y), box->hi.y),
                           fmin(fmax(p.z, box->lo.z), box->hi.z)};
    double away = vec_norm(vec_sub(p, nearest));
    if (away > 0)
        return away;
    double out = fmin(fmin(p.x - box->lo.x, box->hi.x - p.x), fmin(p.y - box->lo.y, box->hi.y - p.y));
    return -fmin(out, fmin(p.z - box->lo.z, box->hi.z - p.z));
}

/* As a box along its own axes. */
static double block_distance(const struct shape_block *b, struct vec3 p)
{
    struct vec3 off = vec_sub(p, b->centre);
    struct shape_box box = {vec_scale(b->half, -1), b->half};
    return sim_judge_box_distance(
        &box, (struct vec3){vec_dot(off, b->axis[0]), vec_dot(off, b->axis[1]), vec_dot(off, b->axis[2])});
}

static double capsule_distance(const struct shape_capsule *c, struct vec3 p)
{
    struct vec3 rod = vec_sub(c->b, c->a), off = vec_sub(p, c->a);
    double length2 = vec_dot(rod, rod), along = length2 > 0 ? fmin(1, fmax(0, vec_dot(off, rod) / length2)) : 0;
    return vec_norm(vec_sub(off, vec_scale(rod, along))) - c->radius_m;
}

double sim_judge_distance(const struct shape *shape, struct vec3 p)
{
    switch (shape->kind) {
    case SHAPE_BOX:
        return block_distance(&shape->as.block, p);
    case SHAPE_PRISM:
        return -sim_judge_stage_depth(&shape->as.prism, p);
    case SHAPE_SPHERE:
        return vec_norm(vec_sub(p, shape->as.sphere.centre)) - shape->as.sphere.radius_m;
    case SHAPE_CAPSULE:
        return capsule_distance(&shape->as.capsule, p);
    case SHAPE_HALF_SPACE:
        return vec_dot(shape->as.half_space.normal, p) - shape->as.half_space.offset_m;
    case SHAPE_KINDS:
        break;
    }
    return -INFINITY;
}

static double distance(const struct bound *to, struct vec3 p)
{
    double deepest = -INFINITY;
    if (to->solid)
        return sim_judge_distance(to->solid, p);
    for (int i = 0; i < to->room->stages; i++)
        deepest = fmax(deepest, sim_judge_stage_depth(&to->room->stage[i], p));
    return deepest;
}

/*
 * The lower of `best` and the least distance of a rod a-b to the boundary. A distance cannot fall faster than one metre
 * a metre, so from a point that is d away the next d - best metres hold nothing below best and are skipped.
 */
static double lowest_along(const struct bound *to, struct vec3 a, struct vec3 b, double radius, double best)
{
    struct vec3 rod = vec_sub(b, a);
    double length = vec_norm(rod);
    for (double s = 0; s < length;) {
        double d = distance(to, vec_along(a, rod, s / length)) - radius;
        s += fmax(d - best, SIM_JUDGE_STEP_M);
        best = fmin(best, d);
    }
    return fmin(best, distance(to, b) - radius);
}

static struct vec3 on_body(const struct sim_truth *truth, struct vec3 p)
{
    double c = cos(truth->yaw_rad), s = sin(truth->yaw_rad);
    return vec_add(truth->body, (struct vec3){c * p.x - s * p.y, s * p.x + c * p.y, p.z});
}

static double hanging(const struct bound *to, const struct volume_outline *o, const struct sim_truth *truth,
                      double best)
{
    for (int i = 0; i < o->limbs; i++) {
        struct vec3 a = on_body(truth, o->limb[i].a), b = on_body(truth, o->limb[i].b);
        best = lowest_along(to, a, b, o->limb[i].radius_m, best);
    }
    return lowest_along(to, truth->position, truth->body, o->boom_radius_m, best);
}

static double everything(const struct bound *to, const struct volume_outline *o, const struct sim_truth *truth,
                         double best)
{
    best = hanging(to, o, truth, best);
    for (int i = 0; i < o->cords; i++)
        best = lowest_along(to, truth->position, o->anchor[i], o->cord_radius_m, best);
    if (o->tether.kind == VOLUME_TETHER_STRAIGHT)
        best = lowest_along(to, truth->body, o->tether.anchor, o->tether.radius_m, best);
    return best;
}

static double true_clearance(const struct volume *room, const struct sim_truth *truth)
{
    struct bound stage = {room, NULL};
    if (!vec_finite(truth->position) || !vec_finite(truth->body) || !isfinite(truth->yaw_rad))
        return -INFINITY;
    double best = hanging(&stage, &room->outline, truth, INFINITY);
    for (int k = 0; k < room->keepouts; k++) {
        struct bound solid = {room, &room->keepout[k].shape};
        if (!room->keepout[k].yields)
            best = everything(&solid, &room->outline, truth, best);
    }
    return best;
}

void sim_judge_init(struct sim_judge *judge)
{
    *judge = (struct sim_judge){.clearance_m = INFINITY, .min_clearance_m = INFINITY, .moved_at_s = -INFINITY};
}

void sim_judge_observe(const struct volume *room, struct sim_judge *judge, const struct sim_truth *truth)
{
    judge->t_s = truth->t_s;
    judge->position = truth->position;
    judge->body = truth->body;
    judge->speed_mps = vec_norm(truth->velocity);
    if (!(judge->speed_mps < CRAWL_MPS))
        judge->moved_at_s = truth->t_s;
    judge->clearance_m = true_clearance(room, truth);
    judge->min_clearance_m = fmin(judge->min_clearance_m, judge->clearance_m);
    bool touching = !(judge->clearance_m >= 0);
    judge->touched += touching && !judge->touching;
    judge->touching = touching;
    for (int i = 0; i < room->outline.cords; i++) {
        bool slack = !(truth->tension_n[i] > 0);
        judge->slack += slack && !judge->slack_now[i];
        judge->slack_now[i] = slack;
    }
}

bool sim_judge_at_rest(const struct sim_judge *judge)
{
    return judge->t_s - judge->moved_at_s >= SETTLED_S;
}
