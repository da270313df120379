/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/shape_kinds.h"

/* Two edges that are not neighbours must be further apart than this [m]. */
#define TOUCHING_M  1e-6
#define TOUCHING_M2 (TOUCHING_M * TOUCHING_M)

struct point {
    double x, y;
};

static struct point corner(const struct shape_prism *prism, int i)
{
    int k = i < prism->corners ? i : i - prism->corners;
    return (struct point){prism->x[k], prism->y[k]};
}

static double cross(struct point o, struct point a, struct point b)
{
    return (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
}

static struct point nearest_on_edge(struct point p, struct point a, struct point b)
{
    struct point e = {b.x - a.x, b.y - a.y};
    double length2 = e.x * e.x + e.y * e.y, along = (p.x - a.x) * e.x + (p.y - a.y) * e.y;
    double t = length2 > 0 ? lesser(greater(along / length2, 0), 1) : 0;
    return (struct point){a.x + t * e.x, a.y + t * e.y};
}

static double apart2(struct point p, struct point q)
{
    return (p.x - q.x) * (p.x - q.x) + (p.y - q.y) * (p.y - q.y);
}

/* Squared. */
static double point_to_edge(struct point p, struct point a, struct point b)
{
    return apart2(p, nearest_on_edge(p, a, b));
}

/* Squared. Segments that only touch, or overlap on a line, need no case of their own: an end of one is on the other
 * then. */
static double edge_to_edge(struct point a, struct point b, struct point c, struct point d)
{
    bool crossing = cross(a, b, c) * cross(a, b, d) < 0 && cross(c, d, a) * cross(c, d, b) < 0;
    if (crossing)
        return 0;
    return lesser(lesser(point_to_edge(a, c, d), point_to_edge(b, c, d)),
                  lesser(point_to_edge(c, a, b), point_to_edge(d, a, b)));
}

/* Even-odd rule with half-open edges. Where rounding could decide wrongly, the distance to the edge is about 0. */
static bool inside_footprint(const struct shape_prism *prism, struct point p)
{
    bool inside = false;
    for (int i = 0; i < prism->corners; i++) {
        struct point a = corner(prism, i), b = corner(prism, i + 1);
        if ((a.y > p.y) != (b.y > p.y) && p.x < a.x + (b.x - a.x) * (p.y - a.y) / (b.y - a.y))
            inside = !inside;
    }
    return inside;
}

/* Signed, negative inside. */
static double footprint_distance(const struct shape_prism *prism, struct point p)
{
    double least = INFINITY;
    for (int i = 0; i < prism->corners; i++)
        least = lesser(least, point_to_edge(p, corner(prism, i), corner(prism, i + 1)));
    return inside_footprint(prism, p) ? -sqrt(least) : sqrt(least);
}

double shape_prism_distance(const struct shape_prism *prism, struct vec3 p)
{
    double across = footprint_distance(prism, (struct point){p.x, p.y});
    double up = greater(prism->z_lo - p.z, p.z - prism->z_hi);
    if (across <= 0 || up <= 0)
        return greater(across, up);
    return sqrt(across * across + up * up);
}

static struct point nearest_on_footprint(const struct shape_prism *prism, struct point p)
{
    struct point nearest = corner(prism, 0);
    for (int i = 0; i < prism->corners; i++) {
        struct point on = nearest_on_edge(p, corner(prism, i), corner(prism, i + 1));
        if (apart2(p, on) < apart2(p, nearest))
            nearest = on;
    }
    return nearest;
}

/* A point inside is nearest to a wall, the floor or the ceiling; one outside may be beyond both a wall and one of the
 * others, and is nearest to the edge between them then. */
struct vec3 shape_prism_nearest(const struct shape_prism *prism, struct vec3 p)
{
    struct point flat = {p.x, p.y}, wall = nearest_on_footprint(prism, flat);
    double across = footprint_distance(prism, flat), up = greater(prism->z_lo - p.z, p.z - prism->z_hi);
    double level = p.z - prism->z_lo < prism->z_hi - p.z ? prism->z_lo : prism->z_hi;
    bool to_wall = across > 0 || (up <= 0 && across > up);
    bool to_level = up > 0 || !to_wall;
    return (struct vec3){to_wall ? wall.x : p.x, to_wall ? wall.y : p.y, to_level ? level : p.z};
}

static bool numbers_valid(const struct shape_prism *prism)
{
    if (prism->corners < 3 || prism->corners > SHAPE_MAX_CORNERS)
        return false;
    for (int i = 0; i < prism->corners; i++) {
        if (!(fabs(prism->x[i]) <= SHAPE_FAR_M && fabs(prism->y[i]) <= SHAPE_FAR_M))
            return false;
    }
    return fabs(prism->z_lo) <= SHAPE_FAR_M && fabs(prism->z_hi) <= SHAPE_FAR_M && prism->z_lo < prism->z_hi;
}

/* Edge i against the one after it: they may share their corner and nothing else, so neither may fold back. */
static bool folds_back(const struct shape_prism *prism, int i)
{
    struct point a = corner(prism, i), b = corner(prism, i + 1), c = corner(prism, i + 2);
    return point_to_edge(a, b, c) <= TOUCHING_M2 || point_to_edge(c, a, b) <= TOUCHING_M2;
}

/* A triangle that does not fold back encloses an area; with more corners the edges must keep clear of each other too.
 */
bool shape_prism_valid(const struct shape_prism *prism)
{
    if (!numbers_valid(prism))
        return false;
    for (int i = 0; i < prism->corners; i++) {
        if (folds_back(prism, i))
            return false;
        for (int k = i + 2; k < prism->corners && k - i < prism->corners - 1; k++) {
            if (edge_to_edge(corner(prism, i), corner(prism, i + 1), corner(prism, k), corner(prism, k + 1)) <=
                TOUCHING_M2)
                return false;
        }
    }
    return true;
}
