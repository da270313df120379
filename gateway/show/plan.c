/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Twice the area of a-b-c, positive where it turns left. */
static double turn(struct plan_point a, struct plan_point b, struct plan_point c)
{
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

double plan_area(const struct plan_point *corner, int n)
{
    double twice = 0;
    for (int i = 0; i < n; i++) {
        struct plan_point p = corner[i], q = corner[(i + 1) % n];
        twice += p.x * q.y - q.x * p.y;
    }
    return twice / 2;
}

double plan_apart(struct plan_point a, struct plan_point b)
{
    return hypot(b.x - a.x, b.y - a.y);
}

static int by_x_then_y(const void *left, const void *right)
{
    const struct plan_point *a = left, *b = right;
    if (a->x < b->x || a->x > b->x)
        return a->x < b->x ? -1 : 1;
    return (a->y > b->y) - (a->y < b->y);
}

/* Adds a point to the chain that starts at hull[from], dropping what does not turn left. */
static int extend(struct plan_point *hull, int n, int from, struct plan_point p)
{
    while (n - from >= 2 && turn(hull[n - 2], hull[n - 1], p) <= 0)
        n--;
    hull[n++] = p;
    return n;
}

int plan_hull(const struct plan_point *points, int n, struct plan_point *hull)
{
    enum { MOST = 96 };
    struct plan_point sorted[MOST], chain[2 * MOST];
    int k = 0;
    if (n < 1 || n > MOST)
        return 0;
    memcpy(sorted, points, (size_t)n * sizeof *points);
    qsort(sorted, (size_t)n, sizeof *sorted, by_x_then_y);
    for (int i = 0; i < n; i++)
        k = extend(chain, k, 0, sorted[i]);
    int upper = k - 1;
    for (int i = n - 2; i >= 0; i--)
        k = extend(chain, k, upper, sorted[i]);
    k = k > 1 ? k - 1 : k; /* the first point came again at the end */
    memcpy(hull, chain, (size_t)(k < n ? k : n) * sizeof *hull);
    return k < n ? k : n;
}

double plan_depth(const struct plan_point *hull, int n, struct plan_point p)
{
    double least = INFINITY;
    for (int i = 0; i < n; i++) {
        struct plan_point a = hull[i], b = hull[(i + 1) % n];
        least = fmin(least, turn(a, b, p) / plan_apart(a, b));
    }
    return least;
}

static int side(struct plan_point a, struct plan_point b, struct plan_point p)
{
    double t = turn(a, b, p);
    return (t > 0) - (t < 0);
}

/* Is p, known to be on the line a-b, between the two? */
static bool between(struct plan_point a, struct plan_point b, struct plan_point p)
{
    return fmin(a.x, b.x) <= p.x && p.x <= fmax(a.x, b.x) && fmin(a.y, b.y) <= p.y && p.y <= fmax(a.y, b.y);
}

bool plan_meet(struct plan_point a, struct plan_point b, struct plan_point c, struct plan_point d)
{
    int abc = side(a, b, c), abd = side(a, b, d), cda = side(c, d, a), cdb = side(c, d, b);
    if (abc * abd < 0 && cda * cdb < 0)
        return true;
    return (abc == 0 && between(a, b, c)) || (abd == 0 && between(a, b, d)) || (cda == 0 && between(c, d, a)) ||
           (cdb == 0 && between(c, d, b));
}

bool plan_folds(struct plan_point a, struct plan_point b, struct plan_point c)
{
    double back = (b.x - a.x) * (c.x - b.x) + (b.y - a.y) * (c.y - b.y);
    return side(a, b, c) == 0 && back < 0;
}
