/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/cases.h"
#include "tests/unit/motion/shapes.h"

static double area_of(const double *x, const double *y, int n)
{
    double twice = 0;
    for (int i = 0; i < n; i++)
        twice += (x[i] - x[0]) * (y[(i + 1) % n] - y[0]) - (x[(i + 1) % n] - x[0]) * (y[i] - y[0]);
    return twice / 2;
}

/* How often a piece turns right, which a convex one, told counter-clockwise, does not. */
static int right_turns(const struct hull *piece)
{
    int turns = 0;
    for (int i = 0; i < piece->points; i++) {
        const struct vec3 *a = &piece->point[i], *b = &piece->point[(i + 1) % piece->points],
                          *c = &piece->point[(i + 2) % piece->points];
        turns += (b->x - a->x) * (c->y - a->y) - (b->y - a->y) * (c->x - a->x) < 0;
    }
    return turns;
}

/* All pieces are convex, stand as the prism does, and have its area together; so if they are in it, they are it. */
static int cut(const struct shape_prism *prism, struct hull *piece)
{
    struct shape s = {.kind = SHAPE_PRISM, .as.prism = *prism};
    cr_assert(shape_valid(&s));
    int n = shape_pieces(&s, piece, SHAPE_MAX_PIECES);
    double area = 0, whole = fabs(area_of(prism->x, prism->y, prism->corners));
    cr_assert(n >= 1 && n <= SHAPE_MAX_PIECES, "%d pieces", n);
    for (int i = 0; i < n; i++) {
        double x[HULL_MAX_POINTS], y[HULL_MAX_POINTS];
        cr_assert(hull_valid(&piece[i]) && right_turns(&piece[i]) == 0, "piece %d", i);
        for (int k = 0; k < piece[i].points; k++) {
            x[k] = piece[i].point[k].x;
            y[k] = piece[i].point[k].y;
            cr_assert_eq(piece[i].point[k].z, prism->z_lo);
        }
        cr_assert_float_eq(piece[i].tall_m, prism->z_hi - prism->z_lo, 1e-12);
        area += area_of(x, y, piece[i].points);
    }
    cr_assert_float_eq(area, whole, 1e-9 * fmax(1, whole), "%g of %g", area, whole);
    cr_assert_eq(shape_pieces(&s, piece, n - 1), -1, "no room for the last");
    cr_assert_eq(shape_pieces(&s, piece, n), n);
    return n;
}

static double nearest_piece(const struct hull *piece, int n, const struct hull *part)
{
    double least = INFINITY;
    for (int i = 0; i < n; i++)
        least = fmin(least, hull_distance(part, &piece[i], least));
    return least;
}

struct footprint {
    const char *what;
    int at_most; /* pieces */
    struct shape_prism prism;
};

Test(shape_cut, usual_footprints_take_few_pieces)
{
    static const struct footprint table[] = {
        {"a triangle", 1, {3, {0, 1, 0}, {0, 0, 1}, 0, 1}},
        {"a square", 1, {4, {0, 1, 1, 0}, {0, 0, 1, 1}, 0, 1}},
        {"a square, clockwise", 1, {4, {0, 0, 1, 1}, {0, 1, 1, 0}, 0, 1}},
        {"a corner on an edge", 1, {5, {0, 0.3, 1, 1, 0}, {0, 0, 0, 1, 1}, 0, 1}},
        {"every edge has one", 1, {8, {0, 0.5, 1, 1, 1, 0.5, 0, 0}, {0, 0, 0, 0.5, 1, 1, 1, 0.5}, 0, 1}},
        {"an L", 2, {6, {0, 3, 3, 1, 1, 0}, {0, 0, 1, 1, 3, 3}, 0, 1}},
        {"an L, with a corner in line", 2, {7, {0, 1, 3, 3, 1, 1, 0}, {0, 0, 0, 1, 1, 3, 3}, 0, 1}},
        {"a T", 3, {8, {0, 3, 3, 2, 2, 1, 1, 0}, {2, 2, 3, 3, 4, 4, 3, 3}, 0, 1}},
        {"a U", 3, {8, {0, 3, 3, 2, 2, 1, 1, 0}, {0, 0, 3, 3, 1, 1, 3, 3}, 0, 1}},
        {"a plus", 5, {12, {1, 2, 2, 3, 3, 2, 2, 1, 1, 0, 0, 1}, {0, 0, 1, 1, 2, 2, 3, 3, 2, 2, 1, 1}, 0, 1}},
        {"a dart", 2, {4, {0, 2, 1, 2}, {0, -1, 0, 1}, 0, 1}},
        {"a corner on the shortest cut", 4, {8, {0, 1, 2, 6, 6, 1, -4, -4}, {0, -1, 0, 1, 6, 0, 6, 1}, 0, 1}},
        {"a far L", 2, {6, {900000, 900003, 900003, 900001, 900001, 900000}, {0, 0, 1, 1, 3, 3}, 0, 1}},
    };
    struct hull piece[SHAPE_MAX_PIECES];
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        int n = cut(&table[i].prism, piece);
        cr_assert_leq(n, table[i].at_most, "%s: %d pieces", table[i].what, n);
    }
}

/* As many as a hull can take: a disc of n corners needs one piece up to HULL_MAX_POINTS, then more. */
Test(shape_cut, many_corners_are_shared_out)
{
    struct hull piece[SHAPE_MAX_PIECES];
    for (int n = 3; n <= SHAPE_MAX_CORNERS; n++) {
        struct shape_prism prism = {.corners = n, .z_lo = 0, .z_hi = 1};
        for (int i = 0; i < n; i++) {
            prism.x[i] = cos(6.283185307179586 * i / n);
            prism.y[i] = sin(6.283185307179586 * i / n);
        }
        int pieces = cut(&prism, piece);
        cr_assert(n > HULL_MAX_POINTS ? pieces <= 4 : pieces == 1, "%d corners: %d pieces", n, pieces);
    }
}

/* A comb and a spiral: no ear but a few, long thin pieces. */
Test(shape_cut, winding_footprints_are_cut)
{
    struct shape_prism comb = {.corners = SHAPE_MAX_CORNERS, .z_lo = 0, .z_hi = 1}, spiral = comb;
    struct hull piece[SHAPE_MAX_PIECES];
    for (int i = 0; i < SHAPE_MAX_CORNERS - 2; i++) {
        comb.x[i] = i;
        comb.y[i] = i % 2 ? 5 : 0.1;
    }
    comb.x[30] = 29;
    comb.y[30] = -1;
    comb.x[31] = 0;
    comb.y[31] = -1;
    for (int i = 0; i < SHAPE_MAX_CORNERS; i++) {
        int step = i < 16 ? i : 31 - i;
        double out = 1 + 0.3 * step + (i < 16 ? 0 : 0.5);
        spiral.x[i] = out * cos(0.9 * step);
        spiral.y[i] = out * sin(0.9 * step);
    }
    int n = cut(&comb, piece);
    cr_assert_leq(n, 17, "%d pieces for 15 teeth", n);
    cut(&spiral, piece);
}

Test(shape_cut, pieces_are_the_prism)
{
    struct random r = {31};
    struct hull piece[SHAPE_MAX_PIECES];
    int cut_up = 0, tried = 0;
    while (tried < 1000) {
        struct shape_prism prism = shapes_prism(&r);
        if (!shape_prism_valid(&prism))
            continue;
        int n = cut(&prism, piece);
        tried++;
        cut_up += n > 1;
        for (int i = 0; i < 40; i++) {
            struct vec3 p = shapes_point(&r, 3);
            struct hull point = shapes_hull_of(&p, 1);
            double d = shape_prism_distance(&prism, p), nearest = nearest_piece(piece, n, &point);
            cr_assert_float_eq(nearest, fmax(0, d), 1e-8, "%g, by pieces %g", d, nearest);
        }
    }
    cr_assert_gt(cut_up, 500);
}

/* Cases geom-pt-prism and geom-seg-prism: computed, cross-checked by constrained minimisation. */
Test(shape_cut, distances_by_pieces_are_as_published)
{
    char id[32];
    for (int i = 0; i < 10; i++) {
        snprintf(id, sizeof id, i < 6 ? "geom-pt-prism-%d" : "geom-seg-prism-%d", i < 6 ? i : i - 6);
        json_t *one = reference_case("motion.json", id), *corner;
        struct shape_prism prism = {.z_lo = cases_number(reference_input(one, "z0")),
                                    .z_hi = cases_number(reference_input(one, "z1"))};
        size_t k;
        json_array_foreach(reference_input(one, "polygon"), k, corner)
        {
            prism.x[k] = cases_number(json_array_get(corner, 0));
            prism.y[k] = cases_number(json_array_get(corner, 1));
            prism.corners++;
        }
        struct vec3 ends[2];
        ends[0] = cases_point(reference_input(one, i < 6 ? "point" : "a"));
        ends[1] = cases_point(reference_input(one, i < 6 ? "point" : "b"));
        struct hull piece[SHAPE_MAX_PIECES], part = shapes_hull_of(ends, 2);
        double d = nearest_piece(piece, cut(&prism, piece), &part);
        cr_assert_float_eq(d, fmax(0, cases_number(reference_expect(one, "distance"))), 1e-6, "%s: %.12g", id, d);
        json_decref(one);
    }
}
