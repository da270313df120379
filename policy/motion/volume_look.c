/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <stddef.h>

#include "policy/motion/volume_meet.h"

#define NO_WAY_M 1e-9 /* a direction shorter than this is none */

/* One part at rest, against one thing after the other. */
struct glance {
    struct volume_near *near;
    int part;
    double keep_m; /* pairs nearer than this are kept */
    struct outline_swept swept;
    struct slant {
        double n_a, n_b; /* normal across two of the axes, of length 1 */
        double at;       /* where the cord is along it */
    } slant[3];
};

/* A cord crosses the whole room, and what is around it is the whole room: looked at along an axis it is a line, so
 * across that line it has no width (separating axes: Gottschalk, Lin and Manocha, 1996). */
static struct slant slant_of(double a0, double b0, double a1, double b1)
{
    double da = a1 - a0, db = b1 - b0, length = sqrt(da * da + db * db);
    if (!(length > NO_WAY_M))
        return (struct slant){0, 0, 0};
    return (struct slant){-db / length, da / length, (da * b0 - db * a0) / length};
}

static double slant_gap(const struct slant *s, double lo_a, double hi_a, double lo_b, double hi_b)
{
    double middle = s->n_a * (lo_a + hi_a) / 2 + s->n_b * (lo_b + hi_b) / 2;
    double half = fabs(s->n_a) * (hi_a - lo_a) / 2 + fabs(s->n_b) * (hi_b - lo_b) / 2;
    return fabs(s->at - middle) - half;
}

static void set_slants(struct glance *g)
{
    struct vec3 p = g->swept.hull.point[0], q = g->swept.hull.point[1];
    g->slant[0] = slant_of(p.y, p.z, q.y, q.z);
    g->slant[1] = slant_of(p.x, p.z, q.x, q.z);
    g->slant[2] = slant_of(p.x, p.y, q.x, q.y);
}

static double cord_gap(const struct glance *g, const struct shape_box *b)
{
    double x = slant_gap(&g->slant[0], b->lo.y, b->hi.y, b->lo.z, b->hi.z);
    double y = slant_gap(&g->slant[1], b->lo.x, b->hi.x, b->lo.z, b->hi.z);
    double z = slant_gap(&g->slant[2], b->lo.x, b->hi.x, b->lo.y, b->hi.y);
    return greater(greater(x, y), z) - g->swept.hull.ball_m;
}

static bool is_cord(int part)
{
    return part >= OUTLINE_CORD && part < OUTLINE_TETHER;
}

/* Where the gap is 0 they may overlap, however deep. */
static bool surely_beyond(const struct glance *g, const struct shape_box *around, double enough)
{
    double apart = shape_box_gap(&g->swept.hull.around, around);
    if (is_cord(g->part) && apart < enough)
        apart = greater(apart, cord_gap(g, around));
    return apart > 0 && apart >= enough;
}

static void keep(struct glance *g, int target, double distance, struct vec3 along)
{
    struct volume_near *near = g->near;
    if (near->pairs[g->part] >= VOLUME_TARGETS) { /* there are no more than that */
        near->within_m = -INFINITY;
        return;
    }
    struct volume_pair *pair = &near->pair[g->part][near->pairs[g->part]++];
    double length = vec_norm(along);
    along = length > NO_WAY_M ? vec_scale(along, 1 / length) : along;
    pair->target = (uint16_t)target;
    pair->apart_m = (float)(distance - 1e-6 * fabs(distance) - VOLUME_ERROR_M); /* rounded down, and the error of it */
    pair->along[0] = (float)along.x;
    pair->along[1] = (float)along.y;
    pair->along[2] = (float)along.z;
}

static void judge(struct glance *g, int target, const struct shape_box *around, double padding_m)
{
    struct volume_near *near = g->near;
    double enough = greater(near->nearest.distance_m, g->keep_m);
    if (around && surely_beyond(g, around, enough + padding_m))
        return;
    struct vec3 along = {0, 0, 0};
    double distance = volume_meet_target(near, g->part, &g->swept, target, enough, &along);
    volume_meet_told(near, g->part, target, distance, &near->nearest);
    if (distance < g->keep_m)
        keep(g, target, distance, along);
}

static void judge_all(struct glance *g)
{
    const struct volume_near *near = g->near;
    const struct volume *vol = near->vol;
    for (int i = 0; i < vol->pieces; i++) {
        const struct volume_keepout *k = &vol->keepout[vol->piece_of[i]];
        if (!(k->yields && near->now.yielded))
            judge(g, i, &vol->piece[i].around, k->padding_m);
    }
    for (int i = 0; i < vol->keepouts; i++) {
        const struct volume_keepout *k = &vol->keepout[i];
        if (k->shape.kind == SHAPE_HALF_SPACE && !(k->yields && near->now.yielded))
            judge(g, VOLUME_MEET_HALF_SPACE + i, NULL, k->padding_m);
    }
    if (near->now.subject)
        judge(g, VOLUME_MEET_SUBJECT, &near->subject.around, 0);
}

static void look_at_part(struct volume_near *near, int part)
{
    struct glance g = {.near = near, .part = part, .keep_m = near->within_m};
    if (part == OUTLINE_TETHER)
        g.keep_m *= VOLUME_TETHER_STEEP;
    outline_sweep(&near->vol->outline, &near->turn, part, near->at, near->at, &g.swept);
    if (part < VOLUME_BODY_PARTS)
        near->edge_m[part] =
            volume_meet_edges(near, part, &g.swept, greater(near->nearest.distance_m, near->within_m), &near->nearest) -
            VOLUME_ERROR_M;
    if (is_cord(part))
        set_slants(&g);
    judge_all(&g);
}

static bool known(const struct volume_now *now)
{
    bool subject = shape_point_valid(now->subject_at) && shape_length_valid(now->subject_radius_m) &&
                   shape_length_valid(now->subject_height_m) && shape_length_valid(now->subject_walk_m);
    return shape_coordinate_valid(now->floor_m) && shape_coordinate_valid(now->ceiling_m) && (subject || !now->subject);
}

static struct hull subject_of(const struct volume_now *now)
{
    struct vec3 foot = {now->subject_at.x, now->subject_at.y, 0};
    struct hull h = {.points = 1,
                     .point = {foot},
                     .disc_m = now->subject_walk_m,
                     .ball_m = now->subject_radius_m,
                     .tall_m = now->subject_height_m};
    hull_bound(&h);
    return h;
}

void volume_look(struct volume_near *near, const struct volume *vol, const struct volume_now *now, struct vec3 at,
                 double within_m)
{
    near->vol = vol;
    near->now = *now;
    near->at = at;
    near->within_m = within_m;
    for (int part = 0; part < VOLUME_PARTS; part++)
        near->pairs[part] = 0;
    if (!shape_point_valid(at) || !known(now) || !(within_m >= 0)) {
        near->within_m = -INFINITY;
        near->nearest = volume_meet_nothing(-INFINITY);
        return;
    }
    near->nearest = volume_meet_nothing(INFINITY);
    near->turn = outline_turn(&vol->outline, now);
    if (now->subject)
        near->subject = subject_of(now);
    volume_meet_ends(vol, at, at, &near->nearest);
    for (int part = 0; part < VOLUME_PARTS; part++) {
        if (outline_has(&vol->outline, part))
            look_at_part(near, part);
    }
}
