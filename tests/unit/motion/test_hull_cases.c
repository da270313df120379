/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Distances between hulls that were found in another way. */
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
Test(hull_cases, distance_is_that_of_a_general_solver)
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
Test(hull_cases, segments_capsules_and_spheres_are_as_published)
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
Test(hull_cases, distance_is_the_least_over_all_corners_edges_and_faces)
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
