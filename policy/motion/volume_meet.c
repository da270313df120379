/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume_meet.h"

#include <stddef.h>

#include "policy/motion/reach.h"
#include "policy/motion/stage.h"
#include "policy/motion/tether.h"

#define TINY_M 1e-9 /* looked for so much further than asked, so that rounding does not make enough too little */

struct volume_clearance volume_meet_nothing(double distance_m)
{
    return (struct volume_clearance){.distance_m = distance_m};
}

static struct volume_clearance of_part(int part)
{
    if (part < OUTLINE_BOOM)
        return (struct volume_clearance){.part = VOLUME_BODY, .limb = part};
    if (part < OUTLINE_CORD)
        return (struct volume_clearance){.part = VOLUME_BOOM};
    if (part < OUTLINE_TETHER)
        return (struct volume_clearance){.part = VOLUME_CORD, .cord = part - OUTLINE_CORD};
    return (struct volume_clearance){.part = VOLUME_TETHER};
}

static void lower(struct volume_clearance *least, int part, enum volume_bound bound, double distance_m)
{
    if (distance_m >= least->distance_m)
        return;
    *least = of_part(part);
    least->bound = bound;
    least->distance_m = distance_m;
}

/* -1 for the subject. */
static int keepout_of(const struct volume_near *near, int target)
{
    if (target < VOLUME_MEET_SUBJECT)
        return near->vol->piece_of[target];
    return target - VOLUME_MEET_HALF_SPACE;
}

void volume_meet_told(const struct volume_near *near, int part, int target, double distance_m,
                      struct volume_clearance *least)
{
    if (distance_m >= least->distance_m)
        return;
    int keepout = keepout_of(near, target);
    lower(least, part, keepout >= 0 ? VOLUME_KEEPOUT : VOLUME_SUBJECT, distance_m);
    least->keepout = keepout >= 0 ? keepout : 0;
}

static double swept_to_hull(const struct outline_swept *swept, const struct hull *solid, double enough,
                            struct vec3 *along)
{
    double distance = hull_distance_along(&swept->hull, solid, enough, along);
    if (swept->twice && distance < enough)
        distance = greater(distance, hull_distance(&swept->other, solid, enough));
    return distance;
}

/* Depth is only told of what has ends of its own: the body and the boom. */
static double depth_of_ends(const struct shape *shape, const struct outline_swept *swept)
{
    double least = INFINITY;
    for (int i = 0; i < 4; i++)
        least = lesser(least, shape_distance(shape, swept->end[i]));
    return least - swept->hull.ball_m;
}

/* How deep the ends are in all that a subject may have walked to: the shortest way out is sideways, or up over it. */
static double depth_in_subject(const struct volume_now *now, const struct outline_swept *swept)
{
    double least = 0;
    for (int i = 0; i < 4; i++) {
        double aside = hypot(swept->end[i].x - now->subject_at.x, swept->end[i].y - now->subject_at.y);
        double out = lesser(now->subject_walk_m - aside, now->subject_height_m - swept->end[i].z);
        least = lesser(least, -out);
    }
    return least - now->subject_radius_m - swept->hull.ball_m;
}

double volume_meet_target(const struct volume_near *near, int part, const struct outline_swept *swept, int target,
                          double enough, struct vec3 *along)
{
    const struct volume *vol = near->vol;
    if (target == VOLUME_MEET_SUBJECT) {
        double apart = swept_to_hull(swept, &near->subject, enough, along);
        bool deep = apart <= -swept->hull.ball_m - near->now.subject_radius_m && part < VOLUME_BODY_PARTS;
        return deep ? lesser(apart, depth_in_subject(&near->now, swept)) : apart;
    }
    const struct volume_keepout *k = &vol->keepout[keepout_of(near, target)];
    if (target >= VOLUME_MEET_HALF_SPACE)
        return hull_above(&swept->hull, &k->shape.as.half_space) - k->padding_m;
    double distance = swept_to_hull(swept, &vol->piece[target], enough + k->padding_m + TINY_M, along);
    if (distance <= -swept->hull.ball_m && part < VOLUME_BODY_PARTS)
        distance = lesser(distance, depth_of_ends(&k->shape, swept));
    return distance - k->padding_m;
}

double volume_meet_edges(const struct volume_near *near, int part, const struct outline_swept *swept, double enough,
                         struct volume_clearance *least)
{
    const struct vec3 *c = swept->end;
    double ball = swept->hull.ball_m;
    double low = lesser(lesser(c[0].z, c[1].z), lesser(c[2].z, c[3].z)) - ball - near->now.floor_m;
    double high = near->now.ceiling_m - greater(greater(c[0].z, c[1].z), greater(c[2].z, c[3].z)) - ball;
    double depth = stage_depth(near->vol, c, swept->hull.disc_m, ball, enough);
    lower(least, part, VOLUME_STAGE, depth);
    lower(least, part, VOLUME_FLOOR, low);
    lower(least, part, VOLUME_CEILING, high);
    return lesser(depth, lesser(low, high));
}

void volume_meet_ends(const struct volume *vol, struct vec3 from, struct vec3 to, struct volume_clearance *least)
{
    const struct volume_outline *o = &vol->outline;
    if (vol->reach != NULL)
        lower(least, OUTLINE_BOOM, VOLUME_REACH, reach_path_distance(vol->reach, from, to, least->distance_m));
    if (o->tether.kind != VOLUME_TETHER_NONE) {
        struct vec3 down = {0, 0, -o->boom_m};
        lower(least, OUTLINE_TETHER, VOLUME_TETHER_END,
              tether_left(&o->tether, vec_add(from, down), vec_add(to, down)));
    }
}
