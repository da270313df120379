/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/reach.h"
#include "policy/motion/reach_proof.h"

#define FINE 0.8

/* What a cell holds: one of these, or the place of the first of its eight parts. */
enum { PENDING, REACHABLE, UNREACHABLE, UNSURE, FIRST_PLACE };

enum {
    OPEN = 4,   /* cells with nothing proven are split until they are so many times smaller than the error */
    ROOTS = 64, /* at most, 4 along each axis */
    KEPT_OPEN = ROOTS + 8 * REACH_MAX_LEVELS,
};

/* A cell on the way through the tree. */
struct place {
    uint32_t at;
    int level;
    struct vec3 lo;
    double square; /* of the distance of what is searched from; 0 where nothing is */
};

/* Cells still to be looked at; the last one next. */
struct walk {
    int open;
    struct place place[KEPT_OPEN];
};

static struct vec3 size_of(const struct reach *reach, int level)
{
    return vec_scale(reach->root, 1.0 / (1 << level));
}

static struct shape_box box_of(const struct reach *reach, const struct place *p)
{
    return (struct shape_box){p->lo, vec_add(p->lo, size_of(reach, p->level))};
}

static struct place root_at(const struct reach *reach, int i)
{
    int x = i % reach->roots[0], y = i / reach->roots[0] % reach->roots[1], z = i / reach->roots[0] / reach->roots[1];
    struct vec3 lo = reach->room.lo;
    struct place root = {.at = (uint32_t)i, .lo = {lo.x + x * reach->root.x, lo.y + y * reach->root.y, lo.z}};
    root.lo.z += z * reach->root.z;
    return root;
}

static void begin(const struct reach *reach, struct walk *w)
{
    w->open = 0;
    for (int i = reach->roots[0] * reach->roots[1] * reach->roots[2] - 1; i >= 0; i--)
        w->place[w->open++] = root_at(reach, i);
}

static void enter(const struct reach *reach, struct walk *w, const struct place *p)
{
    struct vec3 half = size_of(reach, p->level + 1);
    for (uint32_t part = 0; part < 8; part++)
        w->place[w->open++] =
            (struct place){.at = reach->cell[p->at] + part,
                           .level = p->level + 1,
                           .lo = {p->lo.x + (part & 1 ? half.x : 0), p->lo.y + (part & 2 ? half.y : 0),
                                  p->lo.z + (part & 4 ? half.z : 0)}};
}

/* ---- Distance ---- */

/* A point or a straight way; near which cells of a kind? */
struct search {
    struct vec3 a, b;
    bool moves;
    struct shape_box around;
    unsigned kinds; /* bit i: cells that hold i */
    double best;    /* square of the least distance so far */
};

static struct search search_from(struct vec3 a, struct vec3 b, unsigned kinds, double best)
{
    return (struct search){a,
                           b,
                           a.x != b.x || a.y != b.y || a.z != b.z,
                           {{lesser(a.x, b.x), lesser(a.y, b.y), lesser(a.z, b.z)},
                            {greater(a.x, b.x), greater(a.y, b.y), greater(a.z, b.z)}},
                           kinds,
                           best * best};
}

static double gap_square(double lo_a, double hi_a, double lo_b, double size_b)
{
    double gap = greater(greater(lo_a - (lo_b + size_b), lo_b - hi_a), 0);
    return gap * gap;
}

static double around_square(const struct reach *reach, const struct search *s, const struct place *p)
{
    struct vec3 size = size_of(reach, p->level);
    return gap_square(s->around.lo.x, s->around.hi.x, p->lo.x, size.x) +
           gap_square(s->around.lo.y, s->around.hi.y, p->lo.y, size.y) +
           gap_square(s->around.lo.z, s->around.hi.z, p->lo.z, size.z);
}

/* A cell of the kind that is asked for. What is around the way may be nearer to it than the way. */
static void meet(const struct reach *reach, struct search *s, const struct place *p, double square)
{
    if (s->moves) {
        struct shape_box box = box_of(reach, p);
        double distance = shape_box_segment_distance(&box, s->a, s->b);
        square = distance * distance;
    }
    s->best = lesser(s->best, square);
}

/* Looks at the parts of a cell. Those that have parts themselves are left for later, the nearest to be the next; none
 * that is as far off as the best so far. The two halves along each axis are as far off for all parts alike. */
static void meet_parts(const struct reach *reach, struct search *s, struct walk *w, const struct place *p)
{
    struct vec3 lo = p->lo, half = size_of(reach, p->level + 1), middle = vec_add(lo, half);
    const struct shape_box *a = &s->around;
    double x[2] = {gap_square(a->lo.x, a->hi.x, lo.x, half.x), gap_square(a->lo.x, a->hi.x, middle.x, half.x)};
    double y[2] = {gap_square(a->lo.y, a->hi.y, lo.y, half.y), gap_square(a->lo.y, a->hi.y, middle.y, half.y)};
    double z[2] = {gap_square(a->lo.z, a->hi.z, lo.z, half.z), gap_square(a->lo.z, a->hi.z, middle.z, half.z)};
    unsigned first = (x[1] < x[0] ? 1u : 0) | (y[1] < y[0] ? 2u : 0) | (z[1] < z[0] ? 4u : 0);
    for (unsigned i = 0; i < 8; i++) {
        unsigned part = first ^ (7 - i);
        double square = x[part & 1] + y[part >> 1 & 1] + z[part >> 2];
        uint32_t at = reach->cell[p->at] + part, holds = reach->cell[at];
        if (square >= s->best || (holds < FIRST_PLACE && !(s->kinds >> holds & 1)))
            continue;
        struct place next = {at,
                             p->level + 1,
                             {part & 1 ? middle.x : lo.x, part & 2 ? middle.y : lo.y, part & 4 ? middle.z : lo.z},
                             square};
        if (holds < FIRST_PLACE)
            meet(reach, s, &next, square);
        else
            w->place[w->open++] = next;
    }
}

/* Branch and bound. */
static double nearest(const struct reach *reach, struct search s)
{
    struct walk w;
    begin(reach, &w);
    while (w.open > 0) {
        struct place p = w.place[--w.open];
        uint32_t holds = reach->cell[p.at];
        if (p.square >= s.best)
            continue;
        if (holds >= FIRST_PLACE)
            meet_parts(reach, &s, &w, &p);
        else if (s.kinds >> holds & 1) /* only a root */
            meet(reach, &s, &p, around_square(reach, &s, &p));
    }
    return sqrt(s.best);
}

double reach_distance(const struct reach *reach, struct vec3 position)
{
    double inside = -shape_box_distance(&reach->room, position);
    if (!vec_finite(position))
        return -INFINITY;
    if (inside > 0)
        inside = nearest(reach, search_from(position, position, 1u << UNREACHABLE | 1u << UNSURE, inside));
    if (inside > 0)
        return inside;
    return -nearest(reach, search_from(position, position, 1u << REACHABLE, SHAPE_FAR_M));
}

double reach_path_distance(const struct reach *reach, struct vec3 from, struct vec3 to, double enough)
{
    if (!vec_finite(from) || !vec_finite(to))
        return -INFINITY;
    double inside = -greater(shape_box_distance(&reach->room, from), shape_box_distance(&reach->room, to));
    inside = lesser(inside, enough);
    if (inside > 0)
        inside = nearest(reach, search_from(from, to, 1u << UNREACHABLE | 1u << UNSURE, inside));
    if (inside > 0)
        return inside;
    return lesser(0, lesser(lesser(reach_distance(reach, from), reach_distance(reach, to)), enough));
}

/* ---- Building ---- */

static double diagonal(const struct reach *reach, int level)
{
    return vec_norm(size_of(reach, level));
}

static void split(struct reach *reach, uint32_t at)
{
    for (uint32_t i = 0; i < 8; i++)
        reach->cell[reach->cells + i] = PENDING;
    reach->cell[at] = reach->cells;
    reach->cells += 8;
}

/* A cell is split while it is larger than the error that is wanted. One that is not, but of which nothing could be
 * proven, some times more. */
static void judge(struct reach *reach, const struct reach_config *cfg, const struct place *p)
{
    struct shape_box box = box_of(reach, p);
    enum reach_proof proof = reach_proof_of(cfg, &box);
    double diag = diagonal(reach, p->level),
           enough = FINE * (proof == REACH_PROOF_OPEN ? cfg->error_m / OPEN : cfg->error_m);
    if (proof == REACH_PROOF_REACHABLE || proof == REACH_PROOF_UNREACHABLE) {
        reach->cell[p->at] = proof == REACH_PROOF_REACHABLE ? REACHABLE : UNREACHABLE;
    } else if (diag > enough && p->level < REACH_MAX_LEVELS && reach->capacity - reach->cells >= 8) {
        split(reach, p->at);
    } else if (proof == REACH_PROOF_MIXED) {
        reach->cell[p->at] = UNREACHABLE;
        reach->error_m = greater(reach->error_m, diag);
    } else {
        reach->cell[p->at] = UNSURE;
    }
}

/* One level: true if there may be more below. All of a level before any of the next, so that when the memory ends it
 * has been spent evenly. */
static bool judge_level(struct reach *reach, const struct reach_config *cfg, int level)
{
    struct walk w;
    uint32_t before = reach->cells;
    begin(reach, &w);
    while (w.open > 0) {
        struct place p = w.place[--w.open];
        uint32_t holds = reach->cell[p.at];
        if (holds >= FIRST_PLACE && p.level < level)
            enter(reach, &w, &p);
        else if (holds == PENDING)
            judge(reach, cfg, &p);
    }
    return reach->cells > before;
}

/* How far from a cell of which nothing could be proven is the nearest point that is surely unreachable, or outside? */
static double unsure_error(const struct reach *reach, const struct place *p, double known)
{
    double half = diagonal(reach, p->level) / 2;
    struct vec3 centre = vec_add(p->lo, size_of(reach, p->level + 1));
    double out = greater(-shape_box_distance(&reach->room, centre), 0);
    double near = nearest(reach, search_from(centre, centre, 1u << UNREACHABLE, SHAPE_FAR_M)) + known;
    return half + lesser(out, near);
}

static void sum_up(struct reach *reach)
{
    struct walk w;
    double known = reach->error_m;
    begin(reach, &w);
    while (w.open > 0) {
        struct place p = w.place[--w.open];
        uint32_t holds = reach->cell[p.at];
        struct vec3 size = size_of(reach, p.level);
        if (holds >= FIRST_PLACE)
            enter(reach, &w, &p);
        else if (holds == REACHABLE)
            reach->reachable_m3 += size.x * size.y * size.z;
        else if (holds == UNSURE)
            reach->error_m = greater(reach->error_m, unsure_error(reach, &p, known));
    }
}

bool reach_config_valid(const struct reach_config *cfg)
{
    return tension_rig_valid(&cfg->rig) && shape_box_valid(&cfg->room) && cfg->reserve_mps2 > 0 &&
           cfg->reserve_mps2 <= TENSION_MAX_MPS2 && cfg->min_length_m > 0 && cfg->min_length_m <= SHAPE_FAR_M &&
           cfg->error_m > 0 && cfg->error_m <= SHAPE_FAR_M;
}

static int roots_along(double length, double least)
{
    double n = floor(length / least + 0.5);
    return n < 1 ? 1 : n > 4 ? 4 : (int)n;
}

/* Cells as near to cubes as a few cuts along each axis make them. */
static void set_roots(struct reach *reach)
{
    struct vec3 size = vec_sub(reach->room.hi, reach->room.lo);
    double least = lesser(size.x, lesser(size.y, size.z));
    reach->roots[0] = roots_along(size.x, least);
    reach->roots[1] = roots_along(size.y, least);
    reach->roots[2] = roots_along(size.z, least);
    reach->root = (struct vec3){size.x / reach->roots[0], size.y / reach->roots[1], size.z / reach->roots[2]};
}

enum reach_result reach_build(struct reach *reach, const struct reach_config *cfg, uint32_t *cell, size_t capacity)
{
    *reach = (struct reach){.cell = cell};
    if (!reach_config_valid(cfg) || cell == NULL || capacity < ROOTS)
        return REACH_INVALID;
    reach->room = cfg->room;
    reach->capacity = capacity < UINT32_MAX ? (uint32_t)capacity : UINT32_MAX;
    set_roots(reach);
    reach->cells = ROOTS;
    for (uint32_t i = 0; i < ROOTS; i++)
        cell[i] = PENDING;
    for (int level = 0; judge_level(reach, cfg, level); level++) {
    }
    sum_up(reach);
    return reach->error_m <= cfg->error_m ? REACH_BUILT : REACH_COARSE;
}
