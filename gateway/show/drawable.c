/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/drawable.h"

#include <math.h>
#include <string.h>

enum { RIM = 24 }; /* corners of a circle */

static struct plan_point seen(struct vec3 p, enum drawable_view view)
{
    return (struct plan_point){p.x, view == DRAWABLE_PLAN ? p.y : p.z};
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
        corner[i] = seen(p, view);
    }
    take_hull(corner, 8, out);
}

/* From above as it was drawn, concave or not; from the front as wide as it is. */
static void prism(const struct shape_prism *p, enum drawable_view view, struct drawable *out)
{
    double lo = INFINITY, hi = -INFINITY;
    for (int i = 0; i < p->corners; i++) {
        out->corner[i] = (struct plan_point){p->x[i], p->y[i]};
        lo = fmin(lo, p->x[i]);
        hi = fmax(hi, p->x[i]);
    }
    out->corners = p->corners;
    if (view == DRAWABLE_PLAN)
        return;
    const struct plan_point box[] = {{lo, p->z_lo}, {hi, p->z_lo}, {hi, p->z_hi}, {lo, p->z_hi}};
    memcpy(out->corner, box, sizeof box);
    out->corners = 4;
}

/* The circle that holds its own corners' chords is drawn, so nothing of the solid is left out. */
static void capsule(struct vec3 a, struct vec3 b, double radius, enum drawable_view view, struct drawable *out)
{
    static const double two_pi = 6.283185307179586;
    struct plan_point rim[2 * RIM], from = seen(a, view), to = seen(b, view);
    double r = radius / cos(two_pi / 2 / RIM);
    for (int i = 0; i < RIM; i++) {
        double x = r * cos(two_pi * i / RIM), y = r * sin(two_pi * i / RIM);
        rim[i] = (struct plan_point){from.x + x, from.y + y};
        rim[RIM + i] = (struct plan_point){to.x + x, to.y + y};
    }
    take_hull(rim, 2 * RIM, out);
}

static void push(struct drawable *out, struct plan_point p)
{
    if (out->corners < DRAWABLE_MAX)
        out->corner[out->corners++] = p;
}

/* The part of the room's rectangle where any of the solid is behind it: a x + b y <= c, the third axis at its best
 * (clipping of a polygon by a line, Sutherland and Hodgman 1974). */
static void half_space(const struct shape_half_space *h, enum drawable_view view, const struct shape_box *room,
                       struct drawable *out)
{
    bool plan = view == DRAWABLE_PLAN;
    double a = h->normal.x, b = plan ? h->normal.y : h->normal.z, deep = plan ? h->normal.z : h->normal.y;
    double near = plan ? room->lo.z : room->lo.y, far = plan ? room->hi.z : room->hi.y;
    double c = h->offset_m - fmin(deep * near, deep * far);
    struct plan_point lo = seen(room->lo, view), hi = seen(room->hi, view);
    const struct plan_point corner[] = {{lo.x, lo.y}, {hi.x, lo.y}, {hi.x, hi.y}, {lo.x, hi.y}};
    int behind = 0;
    for (int i = 0; i < 4; i++)
        behind += a * corner[i].x + b * corner[i].y <= c;
    if (behind == 4) /* it is behind all of the view, as a back wall is from the front */
        return;
    for (int i = 0; i < 4; i++) {
        struct plan_point p = corner[i], q = corner[(i + 1) % 4];
        double dp = a * p.x + b * p.y - c, dq = a * q.x + b * q.y - c;
        if (dp <= 0)
            push(out, p);
        if ((dp < 0) != (dq < 0) && dp != dq && dp != 0 && dq != 0)
            push(out, (struct plan_point){p.x + (q.x - p.x) * dp / (dp - dq), p.y + (q.y - p.y) * dp / (dp - dq)});
    }
}

void drawable_of(const struct shape *shape, enum drawable_view view, const struct shape_box *room, struct drawable *out)
{
    out->corners = 0;
    switch (shape->kind) {
    case SHAPE_BOX:
        block(&shape->as.block, view, out);
        break;
    case SHAPE_PRISM:
        prism(&shape->as.prism, view, out);
        break;
    case SHAPE_SPHERE:
        capsule(shape->as.sphere.centre, shape->as.sphere.centre, shape->as.sphere.radius_m, view, out);
        break;
    case SHAPE_CAPSULE:
        capsule(shape->as.capsule.a, shape->as.capsule.b, shape->as.capsule.radius_m, view, out);
        break;
    case SHAPE_HALF_SPACE:
        half_space(&shape->as.half_space, view, room, out);
        break;
    case SHAPE_KINDS:
        break;
    }
    if (out->corners < 3)
        out->corners = 0;
}
