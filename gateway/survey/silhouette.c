/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/silhouette.h"

#include <stdlib.h>
#include <string.h>

#define PI 3.14159265358979323846

enum { ROUND = 48 };

static struct svg_point project(enum pane_view view, struct vec3 p)
{
    return (struct svg_point){pane_across(view, p), pane_up(view, p)};
}

/* ---- Convex hull: Andrew's monotone chain ---- */

static int by_place(const void *a, const void *b)
{
    const struct svg_point *p = a, *q = b;
    if (p->x != q->x)
        return p->x < q->x ? -1 : 1;
    return p->y < q->y ? -1 : p->y > q->y;
}

static double turn(struct svg_point a, struct svg_point b, struct svg_point c)
{
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

static int push(struct svg_point *chain, int n, int keep, struct svg_point p)
{
    while (n > keep && turn(chain[n - 2], chain[n - 1], p) <= 0)
        n--;
    chain[n] = p;
    return n + 1;
}

int silhouette_hull(struct svg_point *point, int points)
{
    struct svg_point chain[2 * SILHOUETTE_MAX_POINTS];
    int n = 0;
    if (points < 3)
        return points;
    qsort(point, (size_t)points, sizeof *point, by_place);
    for (int i = 0; i < points; i++)
        n = push(chain, n, 1, point[i]);
    int lower = n;
    for (int i = points - 2; i >= 0; i--)
        n = push(chain, n, lower, point[i]);
    memcpy(point, chain, (size_t)(n - 1) * sizeof *point);
    return n - 1;
}

/* ---- Each kind ---- */

static int block(const struct shape_block *b, enum pane_view view, struct svg_point *point)
{
    for (int i = 0; i < 8; i++) {
        struct vec3 corner = vec_along(b->centre, b->axis[0], i & 1 ? b->half.x : -b->half.x);
        corner = vec_along(corner, b->axis[1], i & 2 ? b->half.y : -b->half.y);
        corner = vec_along(corner, b->axis[2], i & 4 ? b->half.z : -b->half.z);
        point[i] = project(view, corner);
    }
    return silhouette_hull(point, 8);
}

static int prism(const struct shape_prism *p, enum pane_view view, struct svg_point *point)
{
    for (int i = 0; view == PANE_PLAN && i < p->corners; i++)
        point[i] = (struct svg_point){p->x[i], p->y[i]};
    if (view == PANE_PLAN)
        return p->corners;
    const double *across = view == PANE_FRONT ? p->x : p->y;
    double lo = across[0], hi = across[0];
    for (int i = 1; i < p->corners; i++) {
        lo = fmin(lo, across[i]);
        hi = fmax(hi, across[i]);
    }
    point[0] = (struct svg_point){lo, p->z_lo};
    point[1] = (struct svg_point){hi, p->z_lo};
    point[2] = (struct svg_point){hi, p->z_hi};
    point[3] = (struct svg_point){lo, p->z_hi};
    return 4;
}

/* The polygon around the circle, not in it. */
static void circle(struct svg_point middle, double radius, struct svg_point *point)
{
    double out = radius / cos(PI / ROUND);
    for (int i = 0; i < ROUND; i++)
        point[i] =
            (struct svg_point){middle.x + out * cos(2 * PI * i / ROUND), middle.y + out * sin(2 * PI * i / ROUND)};
}

static int capsule(struct vec3 a, struct vec3 b, double radius, enum pane_view view, struct svg_point *point)
{
    circle(project(view, a), radius, point);
    circle(project(view, b), radius, point + ROUND);
    return silhouette_hull(point, 2 * ROUND);
}

/* The rectangle that is shown, cut by the line (Sutherland and Hodgman, 1974). */
static int half_space(const struct shape_half_space *h, enum pane_view view, const struct shape_box *world,
                      double depth, struct svg_point *point)
{
    struct svg_point lo = project(view, world->lo), hi = project(view, world->hi);
    const struct svg_point corner[4] = {lo, {hi.x, lo.y}, hi, {lo.x, hi.y}};
    int n = 0;
    for (int i = 0; i < 4; i++) {
        struct svg_point p = corner[i], q = corner[(i + 1) % 4];
        double at_p = vec_dot(h->normal, pane_world(view, p.x, p.y, depth)) - h->offset_m;
        double at_q = vec_dot(h->normal, pane_world(view, q.x, q.y, depth)) - h->offset_m;
        if (at_p <= 0)
            point[n++] = p;
        if ((at_p <= 0) != (at_q <= 0)) {
            double share = at_p / (at_p - at_q);
            point[n++] = (struct svg_point){p.x + share * (q.x - p.x), p.y + share * (q.y - p.y)};
        }
    }
    return n;
}

int silhouette_of(const struct shape *shape, enum pane_view view, const struct shape_box *world, double depth,
                  struct svg_point point[SILHOUETTE_MAX_POINTS])
{
    switch (shape->kind) {
    case SHAPE_BOX:
        return block(&shape->as.block, view, point);
    case SHAPE_PRISM:
        return prism(&shape->as.prism, view, point);
    case SHAPE_SPHERE:
        circle(project(view, shape->as.sphere.centre), shape->as.sphere.radius_m, point);
        return ROUND;
    case SHAPE_CAPSULE:
        return capsule(shape->as.capsule.a, shape->as.capsule.b, shape->as.capsule.radius_m, view, point);
    case SHAPE_HALF_SPACE:
        return half_space(&shape->as.half_space, view, world, depth, point);
    case SHAPE_KINDS:
        break;
    }
    return 0;
}

double silhouette_area(const struct svg_point *point, int points)
{
    double twice = 0;
    for (int i = 0; i < points; i++) {
        struct svg_point p = point[i], q = point[(i + 1) % points];
        twice += p.x * q.y - q.x * p.y;
    }
    return twice / 2;
}

struct svg_point silhouette_middle(const struct svg_point *point, int points)
{
    struct svg_point sum = {0, 0};
    for (int i = 0; i < points; i++) {
        sum.x += point[i].x / points;
        sum.y += point[i].y / points;
    }
    return sum;
}
