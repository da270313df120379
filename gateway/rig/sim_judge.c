/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_judge.h"

#define CRAWL_MPS 0.01
#define SETTLED_S 0.1

/* A point's distance to one boundary of the room. */
struct bound {
    const struct shape_prism *stage; /* or */
    const struct shape_box *box;
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

static double distance(const struct bound *to, struct vec3 p)
{
    return to->stage ? sim_judge_stage_depth(to->stage, p) : sim_judge_box_distance(to->box, p);
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

static double true_clearance(const struct volume *room, const struct sim_truth *truth)
{
    const struct volume_outline *o = &room->outline;
    if (!vec_finite(truth->position) || !vec_finite(truth->body))
        return -INFINITY;
    struct bound stage = {.stage = &room->stage};
    double best = distance(&stage, truth->body) - o->body_radius_m;
    best = lowest_along(&stage, truth->position, truth->body, o->boom_radius_m, best);
    for (int k = 0; k < room->keepouts; k++) {
        struct bound box = {.box = &room->keepout[k]};
        best = fmin(best, distance(&box, truth->body) - o->body_radius_m);
        best = lowest_along(&box, truth->position, truth->body, o->boom_radius_m, best);
        for (int i = 0; i < o->cords; i++)
            best = lowest_along(&box, truth->position, o->anchor[i], o->cord_radius_m, best);
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
