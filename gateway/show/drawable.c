/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/drawable.h"

#include <math.h>
#include <string.h>

#include "policy/motion/units.h"

/* Corners of a circle. */
enum { RIM_OF_PAGES = 24, RIM_OF_PRINT = 48 };

struct plan_point drawable_seen(enum drawable_view view, struct vec3 p)
{
    return (struct plan_point){view == DRAWABLE_SIDE ? p.y : p.x, view == DRAWABLE_PLAN ? p.y : p.z};
}

double drawable_depth(enum drawable_view view, struct vec3 p)
{
    return view == DRAWABLE_PLAN ? p.z : view == DRAWABLE_FRONT ? p.y : p.x;
}

static void take_hull(const struct plan_point *points, int n, struct drawable *out)
{
    out->corners = plan_hull(points, n, out->corner);
}

static void block(const struct shape_block *b, enum drawable_view view, struct drawable *out)
{
    struct plan_point corner[8];
    for (int i = 0; i < 8; i++) {
        struct vec3 p = vec_along(b->centre, b->axis[0], i & 1 ? b->half.x : -b->half.x);
        p = vec_along(p, b->axis[1], i & 2 ? b->half.y : -b->half.y);
        p = vec_along(p, b->axis[2], i & 4 ? b->half.z : -b->half.z);
        corner[i] = drawable_seen(view, p);
    }
    take_hull(corner, 8, out);
}

/* From above as it was drawn, concave or not; in elevation as wide as it is. */
static void prism(const struct shape_prism *p, enum drawable_view view, struct drawable *out)
{
    struct shape_box around = shape_prism_box(p, 1);
    struct plan_point lo = drawable_seen(view, around.lo), hi = drawable_seen(view, around.hi);
    const struct plan_point box[] = {{lo.x, lo.y}, {hi.x, lo.y}, {hi.x, hi.y}, {lo.x, hi.y}};
    out->corners = view == DRAWABLE_PLAN ? p->corners : 4;
    for (int i = 0; i < out->corners; i++)
        out->corner[i] = view == DRAWABLE_PLAN ? (struct plan_point){p->x[i], p->y[i]} : box[i];
}

/* The polygon around the circle is drawn, not the one in it, so nothing of the solid is left out. */
static void capsule(struct vec3 a, struct vec3 b, double radius, enum drawable_view view, int corners,
                    struct drawable *out)
{
    struct plan_point rim[2 * RIM_OF_PRINT], from = drawable_seen(view, a), to = drawable_seen(view, b);
    double r = radius / cos(UNITS_HALF_TURN / corners);
    for (int i = 0; i < corners; i++) {
        double x = r * cos(UNITS_TURN * i / corners), y = r * sin(UNITS_TURN * i / corners);
        rim[i] = (struct plan_point){from.x + x, from.y + y};
        rim[corners + i] = (struct plan_point){to.x + x, to.y + y};
    }
    take_hull(rim, 2 * corners, out);
}

static void push(struct drawable *out, struct plan_point p)
{
    if (out->corners < DRAWABLE_MAX)
        out->corner[out->corners++] = p;
}

/* Where the solid is in a view, as n . (across, up) <= c. */
struct side {
    struct plan_point n;
    double c;
};

static double beyond(const struct side *s, struct plan_point p)
{
    return s->n.x * p.x + s->n.y * p.y - s->c;
}

static void rectangle(enum drawable_view view, const struct shape_box *room, struct plan_point corner[4])
{
    struct plan_point lo = drawable_seen(view, room->lo), hi = drawable_seen(view, room->hi);
    const struct plan_point all[4] = {{lo.x, lo.y}, {hi.x, lo.y}, {hi.x, hi.y}, {lo.x, hi.y}};
    memcpy(corner, all, sizeof all);
}

/* The room's rectangle cut by a line (Sutherland and Hodgman, 1974). */
static void cut(const struct side *s, const struct plan_point corner[4], struct drawable *out)
{
    for (int i = 0; i < 4; i++) {
        struct plan_point p = corner[i], q = corner[(i + 1) % 4];
        double dp = beyond(s, p), dq = beyond(s, q);
        if (dp <= 0)
            push(out, p);
        if ((dp < 0) != (dq < 0) && dp != 0 && dq != 0)
            push(out, (struct plan_point){p.x + (q.x - p.x) * dp / (dp - dq), p.y + (q.y - p.y) * dp / (dp - dq)});
    }
}

/* Where any of it is behind: the depth at its best. */
static void shadow(const struct shape_half_space *h, enum drawable_view view, const struct shape_box *room,
                   struct drawable *out)
{
    struct plan_point corner[4];
    double deep = drawable_depth(view, h->normal);
    double near = deep * drawable_depth(view, room->lo), far = deep * drawable_depth(view, room->hi);
    const struct side side = {drawable_seen(view, h->normal), h->offset_m - fmin(near, far)};
    int behind = 0;
    rectangle(view, room, corner);
    for (int i = 0; i < 4; i++)
        behind += beyond(&side, corner[i]) <= 0;
    if (behind < 4) /* else it is behind all of the view, as a back wall is from the front */
        cut(&side, corner, out);
}

static void section(const struct shape_half_space *h, enum drawable_view view, const struct shape_box *room,
                    double depth, struct drawable *out)
{
    struct plan_point corner[4];
    const struct side side = {drawable_seen(view, h->normal), h->offset_m - drawable_depth(view, h->normal) * depth};
    rectangle(view, room, corner);
    cut(&side, corner, out);
}

/* All but a half-space. */
static void solid(const struct shape *shape, enum drawable_view view, int rim, struct drawable *out)
{
    const struct shape_sphere *ball = &shape->as.sphere;
    const struct shape_capsule *rod = &shape->as.capsule;
    out->corners = 0;
    switch (shape->kind) {
    case SHAPE_BOX:
        block(&shape->as.block, view, out);
        break;
    case SHAPE_PRISM:
        prism(&shape->as.prism, view, out);
        break;
    case SHAPE_SPHERE:
        capsule(ball->centre, ball->centre, ball->radius_m, view, rim, out);
        break;
    case SHAPE_CAPSULE:
        capsule(rod->a, rod->b, rod->radius_m, view, rim, out);
        break;
    case SHAPE_HALF_SPACE:
    case SHAPE_KINDS:
        break;
    }
}

void drawable_of(const struct shape *shape, enum drawable_view view, const struct shape_box *room, struct drawable *out)
{
    solid(shape, view, RIM_OF_PAGES, out);
    if (shape->kind == SHAPE_HALF_SPACE)
        shadow(&shape->as.half_space, view, room, out);
    if (out->corners < 3)
        out->corners = 0;
}

void drawable_section(const struct shape *shape, enum drawable_view view, const struct shape_box *room, double depth,
                      struct drawable *out)
{
    solid(shape, view, RIM_OF_PRINT, out);
    if (shape->kind == SHAPE_HALF_SPACE)
        section(&shape->as.half_space, view, room, depth, out);
    if (out->corners < 3)
        out->corners = 0;
}
