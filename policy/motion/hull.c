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

/* Some of those differences, whose hull is known to hold the nearest point to 0 found so far, and that point. */
struct simplex {
    int corners;
    struct vec3 corner[CORNERS];
    struct vec3 v;
    double v2; /* |v|^2 */
};

static struct vec3 lowest_along(const struct hull *h, struct vec3 n)
{
    int lowest = 0;
    double least = vec_dot(n, h->point[0]);
    for (int i = 1; i < h->points; i++) {
        double d = vec_dot(n, h->point[i]);
        lowest = d < least ? i : lowest;
        least = lesser(d, least);
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
    double level = pair->disc_m > 0 ? sqrt(n.x * n.x + n.y * n.y) : 0;
    if (level > 0) {
        w.x -= pair->disc_m * (n.x / level);
        w.y -= pair->disc_m * (n.y / level);
    }
    return w;
}

/*
 * The simplex, the newest difference w taken in. Without w no point was nearer than the last one, so the nearest is on
 * one of the faces that have w as a corner: itself, an edge, a triangle. Each is judged by itself, so what is flat, or
 * without length, costs nothing but that face.
 */
struct renewal {
    const struct simplex *old;
    struct vec3 w;
    struct vec3 to[CORNERS - 1]; /* from w to each old corner */
    unsigned kept;               /* a bit for each old corner that the nearest point so far hangs on */
    struct vec3 v;               /* that point */
    double v2;
};

/* True if v, on the face of the corners in `kept`, is known to be the nearest: all others are beyond the plane through
 * it. */
static bool offer(struct renewal *r, struct vec3 v, unsigned kept)
{
    double v2 = vec_dot(v, v);
    if (v2 < r->v2) {
        r->v = v;
        r->v2 = v2;
        r->kept = kept;
    }
    for (int i = 0; i < r->old->corners; i++) {
        if ((kept >> i & 1u) == 0 && vec_dot(v, r->to[i]) < 0)
            return false;
    }
    return true;
}

static bool try_edge(struct renewal *r, int i)
{
    double along = -vec_dot(r->w, r->to[i]), length2 = vec_dot(r->to[i], r->to[i]);
    return along > 0 && along < length2 && offer(r, vec_along(r->w, r->to[i], along / length2), 1u << i);
}

static bool try_face(struct renewal *r, int i, int k)
{
    struct vec3 e = r->to[i], f = r->to[k], n = vec_cross(e, f);
    double n2 = vec_dot(n, n);
    double s = vec_dot(n, vec_cross(f, r->w)), t = vec_dot(n, vec_cross(r->w, e)); /* weights of i and k, times n2 */
    return s > 0 && t > 0 && s + t < n2 && offer(r, vec_scale(n, vec_dot(n, r->w) / n2), 1u << i | 1u << k);
}

static bool try_edges_and_faces(struct renewal *r)
{
    for (int i = 0; i < r->old->corners; i++) {
        if (try_edge(r, i))
            return true;
    }
    for (int i = 0; i + 1 < r->old->corners; i++) {
        for (int k = i + 1; k < r->old->corners; k++) {
            if (try_face(r, i, k))
                return true;
        }
    }
    return false;
}

static bool holds_origin(const struct renewal *r)
{
    struct vec3 e = r->to[0], f = r->to[1], g = r->to[2], fg = vec_cross(f, g);
    double volume = vec_dot(e, fg), sign = volume < 0 ? -1 : 1;
    double p = -sign * vec_dot(r->w, fg), q = -sign * vec_dot(r->w, vec_cross(g, e)),
           s = -sign * vec_dot(r->w, vec_cross(e, f));
    return p >= 0 && q >= 0 && s >= 0 && p + q + s <= sign * volume;
}

/* Takes w into the simplex and keeps of it what the nearest point to 0 is on. False if that brings it no nearer. */
static bool nearer(struct simplex *s, struct vec3 w)
{
    struct renewal r = {.old = s, .w = w, .v2 = INFINITY};
    int n = 0;
    for (int i = 0; i < s->corners; i++)
        r.to[i] = vec_sub(s->corner[i], w);
    if (!offer(&r, w, 0) && !try_edges_and_faces(&r) && s->corners == CORNERS - 1 && holds_origin(&r))
        r.v2 = 0;
    if (!(r.v2 < s->v2))
        return false;
    for (int i = 0; i < s->corners; i++) {
        if (r.kept >> i & 1u)
            s->corner[n++] = s->corner[i];
    }
    s->corner[n++] = w;
    s->corners = n;
    s->v = r.v;
    s->v2 = r.v2;
    return true;
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

double hull_distance_along(const struct hull *a, const struct hull *b, double enough, struct vec3 *along)
{
    struct pair pair = {a, b, a->disc_m + b->disc_m};
    struct simplex s = {.corners = 0, .v2 = INFINITY};
    double balls = a->ball_m + b->ball_m, proven = 0;   /* no distance is less than 0 */
    double length = vec_norm(*along), found = INFINITY; /* |v|, and |v| of a point that was found, not guessed */
    struct vec3 v = length > CLOSE_M && isfinite(length) ? *along : first_guess(a, b);
    *along = (struct vec3){0, 0, 0};
    length = vec_norm(v);
    for (int i = 0; i < ROUNDS && length > CLOSE_M; i++) {
        struct vec3 w = support(&pair, v);
        double room = vec_dot(v, w) / length;
        if (room > proven) {
            proven = room;
            *along = v;
        }
        if (proven - balls >= enough || found - proven <= CLOSE_M || !nearer(&s, w))
            break;
        v = s.v;
        length = found = sqrt(s.v2);
    }
    return proven - balls;
}

double hull_distance(const struct hull *a, const struct hull *b, double enough)
{
    struct vec3 along = {0, 0, 0};
    return hull_distance_along(a, b, enough, &along);
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

bool hull_valid(const struct hull *h)
{
    if (h->points < 1 || h->points > HULL_MAX_POINTS)
        return false;
    for (int i = 0; i < h->points; i++) {
        if (!shape_point_valid(h->point[i]))
            return false;
    }
    return shape_length_valid(h->disc_m) && shape_length_valid(h->ball_m) && shape_length_valid(h->tall_m);
}
