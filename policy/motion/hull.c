/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/hull.h"

#include <stddef.h>

/* The search ends when the answer is short by no more than this, or when this near to touching [m]. */
#define CLOSE_M 1e-9

enum {
    ROUNDS = 40, /* of the search: 3 to 8 are usual, more where discs are met at their rims */
    CORNERS = 4, /* of a simplex in space */
};

/* What is left of the two in the search: the difference of every point of a and every point of b. They are as far apart
 * as the nearest of these differences is from 0. Balls are left out of it: they shorten every distance alike. */
struct pair {
    const struct hull *a, *b;
    double disc_m;
};

/* Some of those differences, whose hull is known to hold the nearest point found so far. */
struct simplex {
    int corners;
    struct vec3 corner[CORNERS];
};

static struct vec3 lowest_along(const struct hull *h, struct vec3 n)
{
    int lowest = 0;
    double least = vec_dot(n, h->point[0]);
    for (int i = 1; i < h->points; i++) {
        double d = vec_dot(n, h->point[i]);
        if (d < least) {
            least = d;
            lowest = i;
        }
    }
    struct vec3 p = h->point[lowest];
    if (n.z < 0)
        p.z += h->tall_m;
    return p;
}

/* The difference that is least along n: the furthest reach of a towards b and the other way round. */
static struct vec3 support(const struct pair *pair, struct vec3 n)
{
    struct vec3 minus = {-n.x, -n.y, -n.z};
    struct vec3 w = vec_sub(lowest_along(pair->a, n), lowest_along(pair->b, minus));
    double level = sqrt(n.x * n.x + n.y * n.y);
    if (level > 0) {
        w.x -= pair->disc_m * (n.x / level);
        w.y -= pair->disc_m * (n.y / level);
    }
    return w;
}

/* The faces of a simplex that the nearest point to 0 can be on: those with the newest corner w, since without it no
 * point was nearer than the last one. Each is judged by itself, so a flat simplex costs nothing but a face. */
struct nearest {
    struct simplex on;
    struct vec3 v;
    double v2; /* |v|^2 */
};

static void offer(struct nearest *best, struct vec3 v, struct vec3 w, const struct vec3 *p, const struct vec3 *q)
{
    double v2 = vec_dot(v, v);
    if (!(v2 < best->v2))
        return;
    best->v = v;
    best->v2 = v2;
    best->on.corners = 0;
    if (p)
        best->on.corner[best->on.corners++] = *p;
    if (q)
        best->on.corner[best->on.corners++] = *q;
    best->on.corner[best->on.corners++] = w;
}

static void try_edge(struct nearest *best, struct vec3 w, const struct vec3 *p)
{
    struct vec3 e = vec_sub(*p, w);
    double along = -vec_dot(w, e), length2 = vec_dot(e, e);
    if (along > 0 && along < length2)
        offer(best, vec_along(w, e, along / length2), w, p, NULL);
}

static void try_face(struct nearest *best, struct vec3 w, const struct vec3 *p, const struct vec3 *q)
{
    struct vec3 e = vec_sub(*p, w), f = vec_sub(*q, w), n = vec_cross(e, f);
    double n2 = vec_dot(n, n);
    double s = vec_dot(n, vec_cross(f, w)), t = vec_dot(n, vec_cross(w, e)); /* weights of p and q, times n2 */
    if (s > 0 && t > 0 && s + t < n2)
        offer(best, vec_scale(n, vec_dot(n, w) / n2), w, p, q);
}

static bool holds_origin(const struct simplex *s)
{
    struct vec3 w = s->corner[3];
    struct vec3 e = vec_sub(s->corner[0], w), f = vec_sub(s->corner[1], w), g = vec_sub(s->corner[2], w);
    struct vec3 fg = vec_cross(f, g);
    double volume = vec_dot(e, fg);
    double sign = volume < 0 ? -1 : 1;
    double p = -sign * vec_dot(w, fg), q = -sign * vec_dot(w, vec_cross(g, e)), r = -sign * vec_dot(w, vec_cross(e, f));
    return p >= 0 && q >= 0 && r >= 0 && p + q + r <= sign * volume;
}

/* Takes w into the simplex and keeps of it what the nearest point to 0 is on. False if that brings it no nearer. */
static bool nearer(struct nearest *best, struct vec3 w)
{
    struct simplex old = best->on;
    double before = best->v2;
    offer(best, w, w, NULL, NULL);
    for (int i = 0; i < old.corners; i++)
        try_edge(best, w, &old.corner[i]);
    for (int i = 0; i + 1 < old.corners; i++) {
        for (int k = i + 1; k < old.corners; k++)
            try_face(best, w, &old.corner[i], &old.corner[k]);
    }
    if (old.corners == CORNERS - 1) {
        old.corner[CORNERS - 1] = w;
        if (holds_origin(&old))
            best->v2 = 0;
    }
    return best->v2 < before;
}

static double gap(double lo_a, double hi_a, double lo_b, double hi_b)
{
    return lo_a > hi_b ? lo_a - hi_b : hi_a < lo_b ? hi_a - lo_b : 0;
}

/* A direction to begin with: across the gap between the boxes around, else from one corner to another. */
static struct vec3 first_guess(const struct hull *a, const struct hull *b)
{
    struct vec3 v = {gap(a->around.lo.x, a->around.hi.x, b->around.lo.x, b->around.hi.x),
                     gap(a->around.lo.y, a->around.hi.y, b->around.lo.y, b->around.hi.y),
                     gap(a->around.lo.z, a->around.hi.z, b->around.lo.z, b->around.hi.z)};
    return vec_dot(v, v) > 0 ? v : vec_sub(a->point[0], b->point[0]);
}

double hull_distance(const struct hull *a, const struct hull *b, double enough)
{
    struct pair pair = {a, b, a->disc_m + b->disc_m};
    struct nearest best = {.v2 = INFINITY};
    double balls = a->ball_m + b->ball_m, proven = 0; /* no distance is less than 0 */
    struct vec3 v = first_guess(a, b);
    for (int i = 0; i < ROUNDS; i++) {
        double length = vec_norm(v);
        if (!(length > CLOSE_M))
            break;
        struct vec3 w = support(&pair, v);
        proven = greater(proven, vec_dot(v, w) / length);
        if (proven - balls >= enough || sqrt(best.v2) - proven <= CLOSE_M || !nearer(&best, w) || best.v2 <= 0)
            break;
        v = best.v;
    }
    return proven - balls;
}

double hull_above(const struct hull *h, const struct shape_half_space *ground)
{
    struct vec3 n = ground->normal;
    double level = sqrt(n.x * n.x + n.y * n.y);
    return vec_dot(n, lowest_along(h, n)) - h->disc_m * level - h->ball_m - ground->offset_m;
}

void hull_bound(struct hull *h)
{
    struct vec3 lo = h->point[0], hi = h->point[0];
    double level = h->disc_m + h->ball_m;
    for (int i = 1; i < h->points; i++) {
        struct vec3 p = h->point[i];
        lo = (struct vec3){lesser(lo.x, p.x), lesser(lo.y, p.y), lesser(lo.z, p.z)};
        hi = (struct vec3){greater(hi.x, p.x), greater(hi.y, p.y), greater(hi.z, p.z)};
    }
    h->around.lo = (struct vec3){lo.x - level, lo.y - level, lo.z - h->ball_m};
    h->around.hi = (struct vec3){hi.x + level, hi.y + level, hi.z + h->ball_m + h->tall_m};
}

static bool coordinate_valid(double v)
{
    return fabs(v) <= SHAPE_FAR_M; /* false for NaN */
}

static bool length_valid(double v)
{
    return v >= 0 && v <= SHAPE_FAR_M;
}

bool hull_valid(const struct hull *h)
{
    if (h->points < 1 || h->points > HULL_MAX_POINTS)
        return false;
    for (int i = 0; i < h->points; i++) {
        struct vec3 p = h->point[i];
        if (!coordinate_valid(p.x) || !coordinate_valid(p.y) || !coordinate_valid(p.z))
            return false;
    }
    return length_valid(h->disc_m) && length_valid(h->ball_m) && length_valid(h->tall_m);
}
