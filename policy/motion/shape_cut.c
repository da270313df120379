/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A polygon cut into convex ones: into triangles by clipping ears (G. Meisters, "Polygons have ears", 1975), then those
 * put together again wherever the whole stays convex (S. Hertel, K. Mehlhorn, "Fast triangulation of simple polygons",
 * 1983: at most four times as many pieces as need be). Pieces share corners and edges exactly, so nothing of the
 * polygon is between them.
 */
#include "policy/motion/shape_kinds.h"

enum {
    LEAST = 3, /* corners */
};

/* Corners of a prism, by their index, counter-clockwise. */
struct ring {
    int corners;
    int corner[SHAPE_MAX_CORNERS];
};

struct cut {
    const struct shape_prism *prism;
    int pieces;
    struct ring piece[SHAPE_MAX_PIECES];
};

/* > 0: corner c is to the left of the way from a to b. */
static double turn(const struct shape_prism *p, int a, int b, int c)
{
    return (p->x[b] - p->x[a]) * (p->y[c] - p->y[a]) - (p->y[b] - p->y[a]) * (p->x[c] - p->x[a]);
}

static int at(const struct ring *ring, int i)
{
    return ring->corner[(i + ring->corners) % ring->corners];
}

static void take_out(struct ring *ring, int i)
{
    ring->corners--;
    for (int k = i; k < ring->corners; k++)
        ring->corner[k] = ring->corner[k + 1];
}

/* All corners, turned round if they are clockwise. */
static struct ring whole(const struct shape_prism *prism)
{
    struct ring ring = {.corners = prism->corners};
    double area2 = 0;
    for (int i = 1; i + 1 < prism->corners; i++)
        area2 += turn(prism, 0, i, i + 1);
    for (int i = 0; i < prism->corners; i++)
        ring.corner[i] = area2 > 0 ? i : prism->corners - 1 - i;
    return ring;
}

static bool is_ear(const struct shape_prism *prism, const struct ring *ring, int i)
{
    int a = at(ring, i - 1), b = at(ring, i), c = at(ring, i + 1);
    if (turn(prism, a, b, c) < 0)
        return false;
    for (int k = i + 2; k < i + ring->corners - 1; k++) {
        int other = at(ring, k);
        if (turn(prism, a, b, other) >= 0 && turn(prism, b, c, other) >= 0 && turn(prism, c, a, other) >= 0)
            return false;
    }
    return true;
}

/* Squared. */
static double across(const struct shape_prism *prism, int a, int b)
{
    double x = prism->x[b] - prism->x[a], y = prism->y[b] - prism->y[a];
    return x * x + y * y;
}

/* The ear with the shortest cut: long cuts make slivers, which are hard to put together again. -1: there is none. */
static int best_ear(const struct shape_prism *prism, const struct ring *ring)
{
    int best = -1;
    double least = INFINITY;
    for (int i = 0; i < ring->corners; i++) {
        double length = across(prism, at(ring, i - 1), at(ring, i + 1));
        if (length < least && is_ear(prism, ring, i)) {
            least = length;
            best = i;
        }
    }
    return best;
}

/* True if it could be cut up; a simple polygon can. */
static bool clip_ears(struct cut *cut)
{
    struct ring rest = whole(cut->prism);
    while (rest.corners > LEAST) {
        int ear = best_ear(cut->prism, &rest);
        if (ear < 0)
            return false;
        cut->piece[cut->pieces++] = (struct ring){LEAST, {at(&rest, ear - 1), at(&rest, ear), at(&rest, ear + 1)}};
        take_out(&rest, ear);
    }
    cut->piece[cut->pieces++] = rest;
    return true;
}

static bool convex(const struct shape_prism *prism, const struct ring *ring)
{
    for (int i = 0; i < ring->corners; i++) {
        if (turn(prism, at(ring, i - 1), at(ring, i), at(ring, i + 1)) < 0)
            return false;
    }
    return true;
}

/* Both in one, if they share the edge that begins at corner i of a and is convex together. */
static bool join(const struct cut *cut, const struct ring *a, int i, const struct ring *b, struct ring *both)
{
    int k = 0;
    while (k < b->corners && !(at(b, k) == at(a, i + 1) && at(b, k + 1) == at(a, i)))
        k++;
    if (k == b->corners || a->corners + b->corners - 2 > SHAPE_MAX_CORNERS)
        return false;
    both->corners = 0;
    for (int n = 1; n <= a->corners; n++)
        both->corner[both->corners++] = at(a, i + n);
    for (int n = 2; n < b->corners; n++)
        both->corner[both->corners++] = at(b, k + n);
    return convex(cut->prism, both);
}

static bool join_any(struct cut *cut, int a, int b)
{
    struct ring both;
    for (int i = 0; i < cut->piece[a].corners; i++) {
        if (!join(cut, &cut->piece[a], i, &cut->piece[b], &both))
            continue;
        cut->piece[a] = both;
        cut->piece[b] = cut->piece[--cut->pieces];
        return true;
    }
    return false;
}

static void put_together(struct cut *cut)
{
    for (int a = 0; a < cut->pieces; a++) {
        int b = a + 1;
        while (b < cut->pieces)
            b = join_any(cut, a, b) ? a + 1 : b + 1;
    }
}

/* A convex piece may have more corners than a hull takes: it is cut like a fan then, all from its first corner. */
static void share_out(struct cut *cut)
{
    for (int i = 0; i < cut->pieces && cut->pieces < SHAPE_MAX_PIECES; i++) {
        struct ring *ring = &cut->piece[i], *rest = &cut->piece[cut->pieces];
        if (ring->corners <= HULL_MAX_POINTS)
            continue;
        rest->corners = 0;
        rest->corner[rest->corners++] = ring->corner[0];
        for (int k = HULL_MAX_POINTS - 1; k < ring->corners; k++)
            rest->corner[rest->corners++] = ring->corner[k];
        ring->corners = HULL_MAX_POINTS;
        cut->pieces++;
    }
}

static struct hull upright(const struct shape_prism *prism, const struct ring *ring)
{
    struct hull hull = {.points = ring->corners, .tall_m = prism->z_hi - prism->z_lo};
    for (int i = 0; i < ring->corners; i++)
        hull.point[i] = (struct vec3){prism->x[ring->corner[i]], prism->y[ring->corner[i]], prism->z_lo};
    hull_bound(&hull);
    return hull;
}

int shape_cut_prism(const struct shape_prism *prism, struct hull *piece, int room)
{
    struct cut cut = {.prism = prism};
    if (!clip_ears(&cut))
        return -1;
    put_together(&cut);
    share_out(&cut);
    if (cut.pieces > room)
        return -1;
    for (int i = 0; i < cut.pieces; i++) {
        if (cut.piece[i].corners > HULL_MAX_POINTS)
            return -1;
        piece[i] = upright(prism, &cut.piece[i]);
    }
    return cut.pieces;
}
