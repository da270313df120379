/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume.h"

/* What one moving part sweeps: the hull of up to three points (a point, a segment, a triangle). */
struct swept {
    struct vec3 a, b, c;
    int points;
    double radius_m;
    struct shape_box around; /* of the points alone; flat where they are */
};

static struct swept swept_segment(struct vec3 a, struct vec3 b, double radius_m)
{
    return (struct swept){a,
                          b,
                          b,
                          2,
                          radius_m,
                          {{lesser(a.x, b.x), lesser(a.y, b.y), lesser(a.z, b.z)},
                           {greater(a.x, b.x), greater(a.y, b.y), greater(a.z, b.z)}}};
}

static struct swept swept_cord(struct vec3 anchor, struct vec3 from, struct vec3 to, bool moves, double radius_m)
{
    struct swept s = swept_segment(from, to, radius_m);
    s.c = anchor;
    s.points = moves ? 3 : 2;
    if (!moves)
        s.b = anchor;
    s.around.lo = (struct vec3){lesser(s.around.lo.x, anchor.x), lesser(s.around.lo.y, anchor.y),
                                lesser(s.around.lo.z, anchor.z)};
    s.around.hi = (struct vec3){greater(s.around.hi.x, anchor.x), greater(s.around.hi.y, anchor.y),
                                greater(s.around.hi.z, anchor.z)};
    return s;
}

static double gap(double lo_a, double hi_a, double lo_b, double hi_b)
{
    return greater(greater(lo_a - hi_b, lo_b - hi_a), 0);
}

/* Cheap, and never more than the true distance where that is positive: most pairs are settled by it. */
static double gap_between(const struct swept *s, const struct shape_box *box)
{
    return vec_norm((struct vec3){gap(s->around.lo.x, s->around.hi.x, box->lo.x, box->hi.x),
                                  gap(s->around.lo.y, s->around.hi.y, box->lo.y, box->hi.y),
                                  gap(s->around.lo.z, s->around.hi.z, box->lo.z, box->hi.z)});
}

static double swept_distance(const struct swept *s, const struct shape_box *box)
{
    if (s->points == 3)
        return shape_box_triangle_distance(box, s->a, s->b, s->c);
    return shape_box_segment_distance(box, s->a, s->b);
}

/* One part against one keep-out, if it can be nearer than what was found so far. */
static void meet(struct volume_clearance *least, const struct swept *s, const struct shape_box *box, double padding_m,
                 struct volume_clearance pair)
{
    double kept = s->radius_m + padding_m, apart = gap_between(s, box);
    if (apart > 0 && apart - kept >= least->distance_m)
        return;
    double distance = swept_distance(s, box);
    if (distance <= 0 && pair.part != VOLUME_CORD) /* depth is only told of what has an inside: the body and the boom */
        distance = lesser(0, lesser(shape_box_distance(box, s->a), shape_box_distance(box, s->b)));
    pair.distance_m = distance - kept;
    if (pair.distance_m < least->distance_m)
        *least = pair;
}

static void meet_keepouts(const struct volume *vol, const struct swept *s, struct volume_clearance *least,
                          enum volume_part part, int cord)
{
    for (int k = 0; k < vol->keepouts; k++) {
        struct shape_box box = vol->keepout[k];
        /* The boom is what the platform sweeps, drawn down by its length: a box drawn up by as much meets the same. */
        if (part == VOLUME_BOOM)
            box.hi.z += vol->outline.boom_m;
        meet(least, s, &box, vol->padding_m[k],
             (struct volume_clearance){.part = part, .cord = cord, .bound = VOLUME_KEEPOUT, .keepout = k});
    }
}

/*
 * The boom hangs plumb from the platform to the body, so its two ends decide against the stage: walls treat both alike,
 * floor and ceiling are flat. If the body is inside, there is nothing but the ceiling left for the platform to meet.
 */
static void meet_stage(const struct volume *vol, const struct swept *platform, const struct swept *body,
                       struct volume_clearance *least)
{
    double body_depth = shape_prism_segment_depth(&vol->stage, body->a, body->b);
    double platform_depth = body_depth > 0 ? vol->stage.z_hi - greater(platform->a.z, platform->b.z)
                                           : shape_prism_segment_depth(&vol->stage, platform->a, platform->b);
    double boom_depth = lesser(body_depth, platform_depth);
    if (body_depth - body->radius_m < least->distance_m)
        *least = (struct volume_clearance){
            .distance_m = body_depth - body->radius_m, .part = VOLUME_BODY, .bound = VOLUME_STAGE};
    if (boom_depth - platform->radius_m < least->distance_m)
        *least = (struct volume_clearance){
            .distance_m = boom_depth - platform->radius_m, .part = VOLUME_BOOM, .bound = VOLUME_STAGE};
}

static bool same(struct vec3 a, struct vec3 b)
{
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

struct volume_clearance volume_path_clearance(const struct volume *vol, struct vec3 from, struct vec3 to, double enough)
{
    const struct volume_outline *o = &vol->outline;
    struct vec3 down = {0, 0, -o->boom_m};
    struct volume_clearance least = {.distance_m = enough};
    if (!vec_finite(from) || !vec_finite(to))
        return (struct volume_clearance){.distance_m = -INFINITY};
    struct swept platform = swept_segment(from, to, o->boom_radius_m);
    struct swept body = swept_segment(vec_add(from, down), vec_add(to, down), o->body_radius_m);
    meet_stage(vol, &platform, &body, &least);
    meet_keepouts(vol, &body, &least, VOLUME_BODY, 0);
    meet_keepouts(vol, &platform, &least, VOLUME_BOOM, 0);
    for (int i = 0; i < o->cords; i++) {
        struct swept cord = swept_cord(o->anchor[i], from, to, !same(from, to), o->cord_radius_m);
        meet_keepouts(vol, &cord, &least, VOLUME_CORD, i);
    }
    return least;
}

struct volume_clearance volume_clearance(const struct volume *vol, struct vec3 position)
{
    return volume_path_clearance(vol, position, position, INFINITY);
}

static bool length_valid(double v)
{
    return v >= 0 && v <= SHAPE_FAR_M; /* false for NaN */
}

static bool outline_valid(const struct volume_outline *o)
{
    if (!(o->body_radius_m > 0) || !length_valid(o->body_radius_m) || !length_valid(o->boom_m) ||
        !length_valid(o->boom_radius_m) || !length_valid(o->cord_radius_m))
        return false;
    if (o->cords < 0 || o->cords > VOLUME_MAX_CORDS)
        return false;
    for (int i = 0; i < o->cords; i++) {
        struct vec3 a = o->anchor[i];
        if (!length_valid(fabs(a.x)) || !length_valid(fabs(a.y)) || !length_valid(fabs(a.z)))
            return false;
    }
    return true;
}

bool volume_valid(const struct volume *vol)
{
    if (!shape_prism_valid(&vol->stage) || !outline_valid(&vol->outline))
        return false;
    if (vol->keepouts < 0 || vol->keepouts > VOLUME_MAX_KEEPOUTS)
        return false;
    for (int k = 0; k < vol->keepouts; k++) {
        if (!shape_box_valid(&vol->keepout[k]) || !length_valid(vol->padding_m[k]))
            return false;
    }
    return true;
}
