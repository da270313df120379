/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/cases.h"
#include "tests/unit/motion/shapes.h"

/* What the header promises. */
#define SHORT_M    1e-6
#define ROUNDING_M 1e-12

static struct hull hull_in(const json_t *from)
{
    struct hull h = {.disc_m = reference_number(from, "disc"),
                     .ball_m = reference_number(from, "ball"),
                     .tall_m = reference_number(from, "tall")};
    size_t i;
    const json_t *point;
    json_array_foreach(json_object_get(from, "points"), i, point)
    {
        cr_assert(h.points < HULL_MAX_POINTS);
        h.point[h.points++] = cases_point(point);
    }
    cr_assert(hull_valid(&h));
    hull_bound(&h);
    return h;
}

/* tests/reference/hulls.json: an active-set solver of SciPy, each answer proven to 1e-9 m when written. */
Test(hull, distance_is_that_of_a_general_solver)
{
    json_t *file = reference_file("hulls.json");
    const json_t *one;
    size_t i;
    int meeting = 0;
    json_array_foreach(json_object_get(file, "cases"), i, one)
    {
        struct hull a = hull_in(reference_input(one, "a")), b = hull_in(reference_input(one, "b"));
        double d = hull_distance(&a, &b, INFINITY), want = reference_number(json_object_get(one, "expect"), "distance");
        cr_assert(d <= want + 1e-9 && d >= want - SHORT_M, "%zu: %.12g, not %.12g", i, d, want);
        cr_assert_eq(d, hull_distance(&b, &a, INFINITY), "%zu: not the same the other way round", i);
        meeting += reference_number(json_object_get(one, "expect"), "apart") <= 0;
    }
    cr_assert(i >= 90 && meeting == 24, "%zu cases, %d meeting", i, meeting);
    json_decref(file);
}

static struct hull segment_in(const json_t *one, const char *from, const char *to)
{
    struct vec3 ends[] = {cases_point(reference_input(one, from)), cases_point(reference_input(one, to))};
    return shapes_hull_of(ends, 2);
}

/* Cases geom-seg-seg and geom-capsule-sphere: computed, cross-checked by constrained minimisation. */
Test(hull, segments_capsules_and_spheres_are_as_published)
{
    char id[32];
    for (int i = 0; i < 5; i++) {
        snprintf(id, sizeof id, "geom-seg-seg-%d", i);
        json_t *one = reference_case("shapes.json", id);
        struct hull a = segment_in(one, "a", "b"), b = segment_in(one, "c", "d");
        double d = hull_distance(&a, &b, INFINITY);
        cr_assert_float_eq(d, cases_number(reference_expect(one, "distance")), 1e-9, "%s: %.12g", id, d);
        json_decref(one);
    }
    for (int i = 0; i < 4; i++) {
        snprintf(id, sizeof id, "geom-capsule-sphere-%d", i);
        json_t *one = reference_case("shapes.json", id);
        struct hull capsule = segment_in(one, "a", "b"), sphere = segment_in(one, "centre", "centre");
        capsule.ball_m = cases_number(reference_input(one, "radius"));
        sphere.ball_m = cases_number(reference_input(one, "R"));
        double d = fmax(0, hull_distance(&capsule, &sphere, INFINITY));
        cr_assert_float_eq(d, cases_number(reference_expect(one, "distance")), 1e-9, "%s: %.12g", id, d);
        json_decref(one);
    }
}

static double brute_edges(struct vec3 a, struct vec3 b, struct vec3 c, struct vec3 d)
{
    struct vec3 u = vec_sub(b, a), v = vec_sub(d, c), w = vec_sub(a, c);
    double uu = vec_dot(u, u), uv = vec_dot(u, v), vv = vec_dot(v, v), uw = vec_dot(u, w), vw = vec_dot(v, w);
    double det = uu * vv - uv * uv, s = (uv * vw - vv * uw) / det, t = (uu * vw - uv * uw) / det;
    return s >= 0 && s <= 1 && t >= 0 && t <= 1 ? vec_norm(vec_sub(vec_along(w, u, s), vec_scale(v, t))) : INFINITY;
}

static double brute_ends(struct vec3 p, struct vec3 a, struct vec3 b)
{
    struct vec3 u = vec_sub(b, a);
    double t = fmin(fmax(vec_dot(vec_sub(p, a), u) / vec_dot(u, u), 0), 1);
    return vec_norm(vec_sub(p, vec_along(a, u, t)));
}

static double brute_face(struct vec3 p, struct vec3 a, struct vec3 b, struct vec3 c)
{
    struct vec3 n = vec_cross(vec_sub(b, a), vec_sub(c, a));
    double up = vec_dot(n, vec_sub(p, a)) / vec_norm(n);
    struct vec3 on = vec_along(p, n, -up / vec_norm(n));
    bool within = vec_dot(n, vec_cross(vec_sub(b, a), vec_sub(on, a))) >= 0 &&
                  vec_dot(n, vec_cross(vec_sub(c, b), vec_sub(on, b))) >= 0 &&
                  vec_dot(n, vec_cross(vec_sub(a, c), vec_sub(on, c))) >= 0;
    return within ? fabs(up) : INFINITY;
}

/* Every point of a against all triangles of b, and, once, every edge against every edge. */
static double brute_half(const struct hull *a, const struct hull *b, bool edges)
{
    double least = INFINITY;
    for (int i = 0; i < a->points; i++)
        for (int j = 0; j < b->points; j++)
            for (int k = j + 1; k < b->points; k++) {
                least = fmin(least, brute_ends(a->point[i], b->point[j], b->point[k]));
                for (int l = k + 1; l < b->points; l++)
                    least = fmin(least, brute_face(a->point[i], b->point[j], b->point[k], b->point[l]));
                for (int l = i + 1; edges && l < a->points; l++)
                    least = fmin(least, brute_edges(a->point[i], a->point[l], b->point[j], b->point[k]));
            }
    return least;
}

/* Two convex solids that do not meet are nearest between a corner and a face, two edges, or less; so are all pairs of
 * corners, edges and triangles that can be made of their corners, and none of those is nearer. */
Test(hull, distance_is_the_least_over_all_corners_edges_and_faces)
{
    struct random r = {11};
    int apart = 0;
    for (int i = 0; i < 4000; i++) {
        struct hull h[2];
        for (int k = 0; k < 2; k++) {
            struct vec3 middle = shapes_point(&r, 2), points[HULL_MAX_POINTS];
            int n = 2 + random_below(&r, 6);
            for (int p = 0; p < n; p++)
                points[p] = vec_add(middle, random_in_ball(&r, random_chance(&r, 0.3) ? 0.01 : 1.5));
            h[k] = shapes_hull_of(points, n);
        }
        double d = hull_distance(&h[0], &h[1], INFINITY);
        double want = fmin(brute_half(&h[0], &h[1], true), brute_half(&h[1], &h[0], false));
        apart += d > 0;
        cr_assert(d <= want + ROUNDING_M && (d <= 0 || d >= want - SHORT_M), "%d: %.12g, not %.12g", i, d, want);
    }
    cr_assert_gt(apart, 1500);
}

/* Any point of the sum that h stands for. */
static struct vec3 point_of(struct random *r, const struct hull *h)
{
    struct vec3 p = {0, 0, random_between(r, 0, h->tall_m)};
    double weight[HULL_MAX_POINTS], sum = 0, angle = random_between(r, 0, 7), out = h->disc_m * random_between(r, 0, 1);
    for (int i = 0; i < h->points; i++)
        sum += weight[i] = -log(random_between(r, 1e-12, 1)) * (random_chance(r, 0.5) ? 1 : 1e-3);
    for (int i = 0; i < h->points; i++)
        p = vec_along(p, h->point[i], weight[i] / sum);
    p.x += out * cos(angle);
    p.y += out * sin(angle);
    return vec_add(p, random_in_ball(r, h->ball_m));
}

static struct hull any_hull(struct random *r)
{
    struct hull h = {.points = 1 + random_below(r, HULL_MAX_POINTS)};
    struct vec3 middle = shapes_point(r, 2);
    static const double spreads[] = {1, 0.1, 1e-6, 1e-12, 0};
    double spread = spreads[random_below(r, 5)];
    for (int i = 0; i < h.points; i++)
        h.point[i] = vec_add(middle, shapes_point(r, spread));
    if (random_chance(r, 0.2)) /* a corner far from all others, as that of a swept cord is */
        h.point[h.points - 1] = shapes_point(r, 6);
    h.disc_m = random_chance(r, 0.5) ? random_between(r, 0, 0.5) : 0;
    h.ball_m = random_chance(r, 0.5) ? random_between(r, 0, 0.3) : 0;
    h.tall_m = random_chance(r, 0.5) ? random_between(r, 0, 1) : 0;
    hull_bound(&h);
    return h;
}

Test(hull, no_two_points_are_nearer)
{
    struct random r = {12};
    for (int i = 0; i < 20000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r);
        double d = hull_distance(&a, &b, INFINITY);
        for (int k = 0; k < 20; k++) {
            double sampled = vec_norm(vec_sub(point_of(&r, &a), point_of(&r, &b)));
            cr_assert_leq(d, sampled + ROUNDING_M, "%d: %.12g, but two points are %.12g apart", i, d, sampled);
        }
        double box = fmax(fmax(a.around.lo.x - b.around.hi.x, b.around.lo.x - a.around.hi.x),
                          fmax(a.around.lo.z - b.around.hi.z, b.around.lo.z - a.around.hi.z));
        cr_assert_geq(d, box - SHORT_M, "%d: nearer than the boxes around", i);
        cr_assert_geq(d, -a.ball_m - b.ball_m);
        cr_assert_eq(d, hull_distance(&b, &a, INFINITY));
    }
}

Test(hull, distance_is_1_lipschitz_and_does_not_change_with_both_moved)
{
    struct random r = {13};
    for (int i = 0; i < 50000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r), moved = a, away[2];
        double step = random_chance(&r, 0.5) ? random_between(&r, 0, 0.2) : random_between(&r, 0, 1e-4);
        struct vec3 by = random_in_ball(&r, step), far = shapes_point(&r, 500);
        for (int k = 0; k < a.points; k++)
            moved.point[k] = vec_add(a.point[k], by);
        hull_bound(&moved);
        double d = hull_distance(&a, &b, INFINITY), d2 = hull_distance(&moved, &b, INFINITY);
        cr_assert_leq(fabs(d - d2), vec_norm(by) + SHORT_M, "%d: %g for %g", i, d - d2, vec_norm(by));
        away[0] = a;
        away[1] = b;
        for (int k = 0; k < HULL_MAX_POINTS; k++) {
            away[0].point[k] = vec_add(a.point[k], far);
            away[1].point[k] = vec_add(b.point[k], far);
        }
        hull_bound(&away[0]);
        hull_bound(&away[1]);
        double d3 = hull_distance(&away[0], &away[1], INFINITY);
        cr_assert_float_eq(d, d3, SHORT_M, "%d: %.12g here, %.12g there", i, d, d3);
    }
}

Test(hull, what_is_enough_ends_the_search_and_nothing_else)
{
    struct random r = {14};
    int ended = 0;
    for (int i = 0; i < 20000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r);
        double enough = random_between(&r, -0.2, 2);
        double whole = hull_distance(&a, &b, INFINITY), some = hull_distance(&a, &b, enough);
        if (some < enough)
            cr_assert_eq(some, whole);
        else
            cr_assert(some <= whole && whole >= enough, "%d: %g, said to be at least %g", i, whole, some);
        ended += some >= enough && some < whole;
    }
    cr_assert_gt(ended, 1000);
}

struct flat {
    const char *what;
    int a_points;
    struct vec3 a[4];
    int b_points;
    struct vec3 b[4];
    double distance;
};

Test(hull, degenerate_and_touching_hulls_have_the_right_distance)
{
    static const struct flat table[] = {
        {"one point", 1, {{1, 2, 3}}, 1, {{1, 2, 3}}, 0},
        {"two points", 1, {{1, 2, 3}}, 1, {{4, 6, 3}}, 5},
        {"all the same", 4, {{1, 1, 1}, {1, 1, 1}, {1, 1, 1}, {1, 1, 1}}, 3, {{2, 1, 1}, {2, 1, 1}, {2, 1, 1}}, 1},
        {"a line of points", 4, {{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}}, 2, {{1.5, 1, -1}, {1.5, 1, 1}}, 1},
        {"parallel segments", 2, {{0, 0, 0}, {9, 0, 0}}, 2, {{4, 1, 0}, {5, 1, 0}}, 1},
        {"segments on a line", 2, {{0, 0, 0}, {1, 0, 0}}, 2, {{1.5, 0, 0}, {9, 0, 0}}, 0.5},
        {"segments on a line that touch", 2, {{0, 0, 0}, {1, 0, 0}}, 2, {{1, 0, 0}, {9, 0, 0}}, 0},
        {"segments that overlap", 2, {{0, 0, 0}, {2, 0, 0}}, 2, {{1, 0, 0}, {9, 0, 0}}, 0},
        {"segments that cross", 2, {{0, 0, 0}, {2, 2, 0}}, 2, {{0, 2, 0}, {2, 0, 0}}, 0},
        {"coplanar triangles", 3, {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, 3, {{3, 0, 0}, {4, 0, 0}, {3, 1, 0}}, 2},
        {"coplanar, overlapping", 3, {{0, 0, 0}, {3, 0, 0}, {0, 3, 0}}, 3, {{1, 1, 0}, {4, 0, 0}, {4, 1, 0}}, 0},
        {"a point on a triangle", 3, {{0, 0, 0}, {3, 0, 0}, {0, 3, 0}}, 1, {{1, 1, 0}}, 0},
        {"a point just off it", 3, {{0, 0, 0}, {3, 0, 0}, {0, 3, 0}}, 1, {{1, 1, 1e-5}}, 1e-5},
        {"a square, doubled",
         4,
         {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}},
         4,
         {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}},
         0},
        {"a segment through a square",
         4,
         {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}},
         2,
         {{0.5, 0.5, -1}, {0.5, 0.5, 1}},
         0},
        {"a tetrahedron around a point", 4, {{0, 0, 0}, {4, 0, 0}, {0, 4, 0}, {0, 0, 4}}, 1, {{0.5, 0.5, 0.5}}, 0},
        {"a needle", 3, {{0, 0, 0}, {30, 1e-9, 0}, {30, 0, 0}}, 1, {{15, 2, 0}}, 2},
    };
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct hull a = shapes_hull_of(table[i].a, table[i].a_points),
                    b = shapes_hull_of(table[i].b, table[i].b_points);
        double d = hull_distance(&a, &b, INFINITY);
        cr_assert(d <= table[i].distance + 1e-9 && d >= table[i].distance - SHORT_M, "%s: %.12g", table[i].what, d);
        cr_assert_eq(d, hull_distance(&b, &a, INFINITY), "%s", table[i].what);
    }
}

/* Discs meet by their rims, uprights side by side, balls in depth. */
Test(hull, sums_are_counted)
{
    struct hull a = {.points = 1, .point = {{0, 0, 0}}, .disc_m = 1, .ball_m = 0.5, .tall_m = 2};
    struct hull b = {.points = 1, .point = {{5, 0, 1.5}}, .disc_m = 2, .ball_m = 0.25, .tall_m = 1};
    hull_bound(&a);
    hull_bound(&b);
    cr_assert_float_eq(hull_distance(&a, &b, INFINITY), 5 - 3 - 0.75, 1e-9);
    b.point[0] = (struct vec3){3 + 3, 4 + 4, 2 + 12}; /* 10 level, 7 of that beyond the rims; 12 above */
    hull_bound(&b);
    cr_assert_float_eq(hull_distance(&a, &b, INFINITY), sqrt(7 * 7 + 12 * 12) - 0.75, 1e-8);
    b.point[0] = (struct vec3){3.1, 0, 1};
    hull_bound(&b);
    cr_assert_float_eq(hull_distance(&a, &b, INFINITY), 0.1 - 0.75, 1e-9, "the depth of the balls");
    b.point[0] = (struct vec3){0.1, 0, 1};
    hull_bound(&b);
    cr_assert_float_eq(hull_distance(&a, &b, INFINITY), -0.75, 1e-9, "no deeper");
    cr_assert_float_eq(a.around.lo.x, -1.5, 1e-15);
    cr_assert_float_eq(a.around.hi.y, 1.5, 1e-15);
    cr_assert_float_eq(a.around.lo.z, -0.5, 1e-15);
    cr_assert_float_eq(a.around.hi.z, 2.5, 1e-15);
}

Test(hull, half_space_distance_is_that_of_the_lowest_point)
{
    struct random r = {15};
    for (int i = 0; i < 5000; i++) {
        struct hull h = any_hull(&r);
        struct shape ground = shapes_of(&r, SHAPE_HALF_SPACE);
        double d = hull_above(&h, &ground.as.half_space), least = INFINITY;
        for (int k = 0; k < 200; k++)
            least = fmin(least, shape_distance(&ground, point_of(&r, &h)));
        cr_assert(d <= least + ROUNDING_M, "%d: %g, but a point is at %g", i, d, least);
        h.ball_m = h.disc_m = h.tall_m = 0; /* then it is a corner */
        least = INFINITY;
        for (int k = 0; k < h.points; k++)
            least = fmin(least, shape_distance(&ground, h.point[k]));
        cr_assert_float_eq(hull_above(&h, &ground.as.half_space), least, ROUNDING_M);
    }
    struct hull round = {.points = 1, .point = {{0, 0, 1}}, .disc_m = 1, .ball_m = 0.25, .tall_m = 9};
    struct shape_half_space slope = {{0.6, 0, 0.8}, 0}, overhead = {{0, 0, -1}, -20}, wall = {{-1, 0, 0}, -3};
    cr_assert_float_eq(hull_above(&round, &slope), 0.8 - 0.6 - 0.25, 1e-12);
    cr_assert_float_eq(hull_above(&round, &overhead), 20 - 10 - 0.25, 1e-12);
    cr_assert_float_eq(hull_above(&round, &wall), 3 - 1 - 0.25, 1e-12);
}

/* Numbers as large as they may be: no NaN, never more than is there. */
Test(hull, far_coordinates_stay_numbers)
{
    struct random r = {16};
    for (int i = 0; i < 20000; i++) {
        struct hull h[2];
        for (int k = 0; k < 2; k++) {
            h[k] = any_hull(&r);
            for (int p = 0; p < h[k].points; p++)
                if (random_chance(&r, 0.5))
                    h[k].point[p] = shapes_point(&r, SHAPE_FAR_M);
            hull_bound(&h[k]);
        }
        double d = hull_distance(&h[0], &h[1], INFINITY);
        double sampled = vec_norm(vec_sub(point_of(&r, &h[0]), point_of(&r, &h[1])));
        cr_assert(isfinite(d) && d <= sampled + 1e-8, "%d: %g, %g apart", i, d, sampled);
    }
}

Test(hull, valid_only_with_numbers_in_range)
{
    struct random r = {17};
    int valid = 0;
    for (int i = 0; i < 20000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r);
        cr_assert(hull_valid(&a));
        double *number[] = {&a.point[0].x, &a.point[a.points - 1].y, &a.point[a.points - 1].z, &a.disc_m, &a.ball_m,
                            &a.tall_m};
        int which = random_below(&r, 6);
        *number[which] = shapes_bad_number(&r);
        bool in_range = fabs(*number[which]) <= SHAPE_FAR_M && (which < 3 || *number[which] >= 0);
        cr_assert_eq(hull_valid(&a), in_range, "%g as number %d", *number[which], which);
        if (!in_range)
            continue;
        hull_bound(&a);
        cr_assert(isfinite(hull_distance(&a, &b, INFINITY)));
        valid++;
    }
    cr_assert_gt(valid, 1000);
    struct hull none = {.points = 0}, many = {.points = HULL_MAX_POINTS + 1};
    cr_assert(!hull_valid(&none) && !hull_valid(&many));
}
