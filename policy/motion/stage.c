/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/stage.h"

#define FURTHEST_M2 (8.0 * SHAPE_FAR_M * SHAPE_FAR_M) /* no two places are further apart in plan, squared */
#define POINT_M2    1e-18                             /* what is shorter than a nanometre is a point, squared */
#define TINY_M      1e-9 /* looked for so much further than asked, so that rounding does not make enough too little */

struct place {
    double x, y;
};

/* The sides of the parallelogram in plan: one where it is only a segment there. */
struct plan {
    int sides;
    struct place from[4], to[4];
    struct place lo, hi; /* around it */
};

static struct place plan_of(struct vec3 p)
{
    return (struct place){p.x, p.y};
}

static void add_side(struct plan *plan, struct vec3 from, struct vec3 to)
{
    plan->from[plan->sides] = plan_of(from);
    plan->to[plan->sides] = plan_of(to);
    plan->sides++;
}

static bool upright(struct vec3 a, struct vec3 b)
{
    return a.x == b.x && a.y == b.y;
}

static struct plan plan_around(const struct vec3 c[4])
{
    struct plan plan = {.sides = 0, .lo = plan_of(c[0]), .hi = plan_of(c[0])};
    bool thin = upright(c[0], c[1]) && upright(c[2], c[3]), still = upright(c[0], c[2]) && upright(c[1], c[3]);
    if (!still || thin)
        add_side(&plan, c[0], c[2]);
    if (!thin)
        add_side(&plan, c[0], c[1]);
    if (!thin && !still) {
        add_side(&plan, c[1], c[3]);
        add_side(&plan, c[2], c[3]);
    }
    for (int i = 1; i < 4; i++) {
        plan.lo = (struct place){lesser(plan.lo.x, c[i].x), lesser(plan.lo.y, c[i].y)};
        plan.hi = (struct place){greater(plan.hi.x, c[i].x), greater(plan.hi.y, c[i].y)};
    }
    return plan;
}

/* ---- Distances in plan, squared ---- */

static double cross(struct place o, struct place a, struct place b)
{
    return (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
}

static double point_to_wall(struct place p, struct place a, struct place b)
{
    struct place e = {b.x - a.x, b.y - a.y}, w = {p.x - a.x, p.y - a.y};
    double length2 = e.x * e.x + e.y * e.y;
    double t = length2 > POINT_M2 ? lesser(greater((w.x * e.x + w.y * e.y) / length2, 0), 1) : 0;
    double dx = w.x - t * e.x, dy = w.y - t * e.y;
    return dx * dx + dy * dy;
}

/* Where they only touch, an end of one is on the other. */
static double side_to_wall(struct place a, struct place b, struct place c, struct place d)
{
    if (cross(a, b, c) * cross(a, b, d) < 0 && cross(c, d, a) * cross(c, d, b) < 0)
        return 0;
    return lesser(lesser(point_to_wall(a, c, d), point_to_wall(b, c, d)),
                  lesser(point_to_wall(c, a, b), point_to_wall(d, a, b)));
}

static double wall_gap(const struct plan *plan, struct place a, struct place b)
{
    double x = shape_range_gap(plan->lo.x, plan->hi.x, lesser(a.x, b.x), greater(a.x, b.x));
    double y = shape_range_gap(plan->lo.y, plan->hi.y, lesser(a.y, b.y), greater(a.y, b.y));
    return x * x + y * y;
}

static struct place wall_end(const struct shape_prism *prism, int i)
{
    int k = i < prism->corners ? i : 0;
    return (struct place){prism->x[k], prism->y[k]};
}

static double to_walls(const struct shape_prism *prism, const struct plan *plan, double most)
{
    double least = most * most;
    for (int i = 0; i < prism->corners; i++) {
        struct place a = wall_end(prism, i), b = wall_end(prism, i + 1);
        if (wall_gap(plan, a, b) >= least)
            continue;
        for (int k = 0; k < plan->sides; k++)
            least = lesser(least, side_to_wall(plan->from[k], plan->to[k], a, b));
    }
    return sqrt(least);
}

/* Even-odd rule with half-open walls. Where rounding could decide wrongly, the distance to the wall is about 0. */
static bool inside_walls(const struct shape_prism *prism, struct place p)
{
    bool inside = false;
    for (int i = 0; i < prism->corners; i++) {
        struct place a = wall_end(prism, i), b = wall_end(prism, i + 1);
        if ((a.y > p.y) != (b.y > p.y) && (cross(a, b, p) > 0) == (b.y > a.y)) /* p is to the left of it */
            inside = !inside;
    }
    return inside;
}

static double outside_by(const struct shape_prism *prism, struct place p)
{
    double least = FURTHEST_M2;
    if (inside_walls(prism, p))
        return 0;
    for (int i = 0; i < prism->corners; i++)
        least = lesser(least, point_to_wall(p, wall_end(prism, i), wall_end(prism, i + 1)));
    return sqrt(least);
}

/* ---- One prism ---- */

/* Against the lines that the walls are parts of: what is to the same side of all of them is inside, as the walls go
 * round it once (winding number), and no wall is nearer than its line. *exact where the walls are convex: then the
 * nearest line is met on its wall. 0 where that says nothing. */
static double from_lines(const struct shape_prism *prism, const struct vec3 c[4], bool *exact)
{
    double least = FURTHEST_M2, left = 0;
    *exact = true;
    for (int i = 0; i < prism->corners; i++) {
        struct place a = wall_end(prism, i), b = wall_end(prism, i + 1), e = {b.x - a.x, b.y - a.y};
        struct place next = wall_end(prism, i + 2 < prism->corners ? i + 2 : i + 2 - prism->corners);
        double first = cross(a, b, plan_of(c[0])), side = first > 0 ? 1 : -1, length2 = e.x * e.x + e.y * e.y;
        double off = side * first;
        left = i == 0 ? side : left;
        for (int k = 1; k < 4; k++)
            off = lesser(off, side * cross(a, b, plan_of(c[k])));
        if (!(off > 0) || side != left || !(length2 > POINT_M2))
            return 0;
        least = lesser(least, off * off / length2);
        *exact = *exact && side * cross(a, b, next) >= 0;
    }
    return sqrt(least);
}

/* Least distance to the walls, or minus how far the corners are beyond them. Only what is below `most` > 0 matters. */
static double plan_depth(const struct shape_prism *prism, const struct vec3 c[4], double most)
{
    bool exact;
    double lines = from_lines(prism, c, &exact);
    if (lines >= most || (exact && lines > 0))
        return lines;
    struct plan plan = plan_around(c);
    double walls = to_walls(prism, &plan, most);
    if (walls > 0 && inside_walls(prism, plan_of(c[0])))
        return walls;
    double out = 0;
    for (int i = 0; i < 4; i++)
        out = greater(out, outside_by(prism, plan_of(c[i])));
    return -out;
}

static double prism_depth(const struct shape_prism *prism, const struct vec3 c[4], double disc_m, double ball_m,
                          double enough)
{
    double low = lesser(lesser(c[0].z, c[1].z), lesser(c[2].z, c[3].z));
    double high = greater(greater(c[0].z, c[1].z), greater(c[2].z, c[3].z));
    double level = lesser(low - prism->z_lo, prism->z_hi - high);
    double most = lesser(level, enough + ball_m + TINY_M);
    double across = plan_depth(prism, c, greater(most, 0) + disc_m + TINY_M) - disc_m;
    if (level < 0 && across < 0)
        return -sqrt(level * level + across * across) - ball_m;
    return lesser(level, across) - ball_m;
}

/* ---- The union ---- */

/* A piece of the parallelogram: shares of the way, and from one end of the part to the other. */
struct piece {
    double way_lo, way_hi, up_lo, up_hi;
    double depth; /* of all of it in the prism that it is deepest in: what it is worth at least */
};

static struct vec3 place_at(const struct vec3 c[4], double way, double up)
{
    struct vec3 first = vec_along(c[0], vec_sub(c[1], c[0]), up), second = vec_along(c[2], vec_sub(c[3], c[2]), up);
    return vec_along(first, vec_sub(second, first), way);
}

static void corners_of(const struct vec3 c[4], const struct piece *p, struct vec3 out[4])
{
    out[0] = place_at(c, p->way_lo, p->up_lo);
    out[1] = place_at(c, p->way_lo, p->up_hi);
    out[2] = place_at(c, p->way_hi, p->up_lo);
    out[3] = place_at(c, p->way_hi, p->up_hi);
}

static double deepest(const struct volume *vol, const struct vec3 c[4], double disc_m, double ball_m, double enough)
{
    double most = prism_depth(&vol->stage[0], c, disc_m, ball_m, enough);
    for (int i = 1; i < vol->stages && most < enough; i++)
        most = greater(most, prism_depth(&vol->stage[i], c, disc_m, ball_m, enough));
    return most;
}

enum { PIECES = STAGE_LOOKS + 2 };

/* What is to be found, and how far that has come. */
struct search {
    const struct volume *vol;
    const struct vec3 *corner;
    double disc_m, ball_m;
    double least; /* no more than this: known of some place, or enough */
    int open;
    struct piece piece[PIECES];
};

static void add_piece(struct search *s, struct piece p)
{
    struct vec3 c[4];
    corners_of(s->corner, &p, c);
    p.depth = deepest(s->vol, c, s->disc_m, s->ball_m, s->least);
    if (p.depth >= s->least || s->open >= PIECES)
        return;
    s->piece[s->open++] = p;
    struct vec3 middle = place_at(c, 0.5, 0.5), point[4] = {middle, middle, middle, middle};
    s->least = lesser(s->least, deepest(s->vol, point, s->disc_m, s->ball_m, s->least));
}

/* The shallowest of them. */
static int worst_of(const struct search *s)
{
    int worst = 0;
    for (int i = 1; i < s->open && i < PIECES; i++) {
        if (s->piece[i].depth < s->piece[worst].depth)
            worst = i;
    }
    return worst;
}

/* Along the longer side. */
static void halve(struct search *s, int i)
{
    struct piece p = s->piece[i], rest = p;
    struct vec3 way = vec_sub(s->corner[2], s->corner[0]), up = vec_sub(s->corner[1], s->corner[0]);
    double along = p.way_hi - p.way_lo, across = p.up_hi - p.up_lo;
    if (vec_dot(way, way) * along * along >= vec_dot(up, up) * across * across)
        p.way_hi = rest.way_lo = (p.way_lo + p.way_hi) / 2;
    else
        p.up_hi = rest.up_lo = (p.up_lo + p.up_hi) / 2;
    struct piece last = s->piece[--s->open];
    s->piece[i] = last;
    add_piece(s, p);
    add_piece(s, rest);
}

static bool stands_still(const struct vec3 c[4])
{
    return c[0].x == c[2].x && c[0].y == c[2].y && c[0].z == c[2].z;
}

/* Branch and bound, the shallowest piece first: whenever it ends, that one is worth no more than the answer. */
static double union_depth(const struct volume *vol, const struct vec3 corner[4], double disc_m, double ball_m,
                          double enough)
{
    struct search s = {.vol = vol, .corner = corner, .disc_m = disc_m, .ball_m = ball_m, .least = enough, .open = 0};
    bool still = stands_still(corner);
    add_piece(&s, (struct piece){0, 1, 0, 1, 0});
    for (int looks = 2; s.open > 0 && s.open <= PIECES; looks += 2) {
        int worst = worst_of(&s);
        double depth = s.piece[worst].depth;
        bool touched = s.least <= 0 && !still; /* how deep, on a way, need not be known */
        if (s.least - depth <= STAGE_ERROR_M || touched || looks >= STAGE_LOOKS)
            return lesser(s.least, depth);
        halve(&s, worst);
    }
    return s.least;
}

double stage_depth(const struct volume *vol, const struct vec3 corner[4], double disc_m, double ball_m, double enough)
{
    if (vol->stages == 1)
        return lesser(prism_depth(&vol->stage[0], corner, disc_m, ball_m, enough), enough);
    return union_depth(vol, corner, disc_m, ball_m, enough);
}
