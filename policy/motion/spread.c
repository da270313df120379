/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/spread.h"

#define DEPENDENT 1e-9 /* a row shorter than this, once the others are taken out of it, is made of them */

enum { STEPS = 64 }; /* at most so many; 2 N are usual */

/*
 * The three rows of A over the cords that are free, made orthonormal (Gram and Schmidt, the longest first, each twice).
 * row[order[j]] = sum_i along[i][j] base[i], i <= j
 */
struct rows {
    int rank;
    int order[3];
    double base[3][VOLUME_MAX_CORDS];
    double along[3][3];
};

static double component(struct vec3 v, int axis)
{
    return axis == 0 ? v.x : axis == 1 ? v.y : v.z;
}

static double dot(int n, const double a[], const double b[])
{
    double sum = 0;
    for (int k = 0; k < n; k++)
        sum += a[k] * b[k];
    return sum;
}

static void take_out(int n, double row[], const double base[], double *along)
{
    double part = dot(n, row, base);
    for (int k = 0; k < n; k++)
        row[k] -= part * base[k];
    *along += part;
}

static int longest(int n, double row[3][VOLUME_MAX_CORDS], unsigned done)
{
    int best = -1;
    double most = DEPENDENT * DEPENDENT;
    for (int axis = 0; axis < 3; axis++) {
        double square = dot(n, row[axis], row[axis]);
        if (done >> axis & 1 || !(square > most))
            continue;
        most = square;
        best = axis;
    }
    return best;
}

static struct rows rows_of(const struct wrench_cords *c, unsigned held)
{
    struct rows r = {.rank = 0};
    double row[3][VOLUME_MAX_CORDS], left[3][3] = {{0}};
    unsigned done = 0;
    for (int axis = 0; axis < 3; axis++)
        for (int k = 0; k < c->cords; k++)
            row[axis][k] = held >> k & 1 ? 0 : component(c->unit[k], axis);
    for (int j = 0; j < 3; j++) {
        int axis = longest(c->cords, row, done);
        if (axis < 0)
            break;
        for (int i = 0; i < j; i++) /* again: the first time was with longer rows, and left their rounding */
            take_out(c->cords, row[axis], r.base[i], &left[i][axis]);
        double length = sqrt(dot(c->cords, row[axis], row[axis]));
        for (int k = 0; k < c->cords; k++)
            r.base[j][k] = row[axis][k] / length;
        for (int i = 0; i < j; i++)
            r.along[i][j] = left[i][axis];
        r.along[j][j] = length;
        r.order[j] = axis;
        r.rank = j + 1;
        done |= 1u << axis;
        for (int other = 0; other < 3; other++)
            if (!(done >> other & 1))
                take_out(c->cords, row[other], r.base[j], &left[j][other]);
    }
    return r;
}

/* Adds to the free tensions the least change that makes up for `force`. */
static void make_up(const struct rows *r, int n, struct vec3 force, double tension[])
{
    double part[3];
    for (int j = 0; j < r->rank; j++) {
        part[j] = component(force, r->order[j]);
        for (int i = 0; i < j; i++)
            part[j] -= r->along[i][j] * part[i];
        part[j] /= r->along[j][j];
        for (int k = 0; k < n; k++)
            tension[k] += part[j] * r->base[j][k];
    }
}

bool spread_free(const struct wrench_cords *c, struct vec3 force, const double ref_n[VOLUME_MAX_CORDS],
                 double tension_n[VOLUME_MAX_CORDS])
{
    struct rows r = rows_of(c, 0);
    for (int k = 0; k < c->cords; k++)
        tension_n[k] = ref_n[k];
    for (int again = 0; again < 2; again++) /* the second takes off what rounding left */
        make_up(&r, c->cords, wrench_rest(c, tension_n, force), tension_n);
    return wrench_balances(c, tension_n, force);
}

static bool within(const struct wrench_cords *c, const double tension[])
{
    for (int k = 0; k < c->cords; k++)
        if (!(tension[k] >= c->min_n[k] && tension[k] <= c->max_n[k]))
            return false;
    return true;
}

/* As many cords as it takes to make every force that all of them can: three, unless they lie in a plane or a line. The
 * first, the one most across it, the one most out of the plane of both. */
static unsigned basis_of(const struct wrench_cords *c)
{
    int second = 0, third = 0;
    double most = DEPENDENT;
    struct vec3 normal = {0, 0, 0};
    for (int k = 1; k < c->cords; k++) {
        struct vec3 n = vec_cross(c->unit[0], c->unit[k]);
        if (vec_norm(n) <= most)
            continue;
        most = vec_norm(n);
        normal = n;
        second = k;
    }
    most *= DEPENDENT;
    for (int k = 1; k < c->cords; k++) {
        double volume = fabs(vec_dot(normal, c->unit[k]));
        if (k == second || volume <= most)
            continue;
        most = volume;
        third = k;
    }
    return 1u | 1u << second | 1u << third;
}

/* Pulls rounding back inside the limits; what is more than rounding shows in the balance afterwards. */
static void clip(const struct wrench_cords *c, double tension[])
{
    for (int k = 0; k < c->cords; k++)
        tension[k] = greater(c->min_n[k], lesser(c->max_n[k], tension[k]));
}

/* Some tensions within limits: one cord after the other in the middle of what the rest of them leaves it, until only
 * those of a basis are left, whose tensions follow. */
static void somewhere_inside(const struct wrench_cords *c, unsigned basis, struct vec3 force, double tension[])
{
    unsigned among = (1u << c->cords) - 1;
    for (int k = 0; k < c->cords; k++)
        tension[k] = 0;
    for (int k = 0; k < c->cords; k++) {
        if (basis >> k & 1)
            continue;
        double least, most;
        wrench_range(c, among, k, wrench_rest(c, tension, force), &least, &most);
        tension[k] = (least + most) / 2;
        among &= ~(1u << k);
    }
    struct rows r = rows_of(c, ~basis);
    for (int again = 0; again < 2; again++)
        make_up(&r, c->cords, wrench_rest(c, tension, force), tension);
    clip(c, tension);
}

/* The way to the nearest point on the face where the held cords stay as they are. Its longest step. */
static double way_to(const struct rows *r, int n, unsigned held, const double ref[], const double tension[],
                     double way[])
{
    double longest_step = 0, along = 0;
    for (int k = 0; k < n; k++)
        way[k] = held >> k & 1 ? 0 : ref[k] - tension[k];
    for (int j = 0; j < r->rank; j++)
        take_out(n, way, r->base[j], &along);
    for (int k = 0; k < n; k++)
        longest_step = greater(longest_step, fabs(way[k]));
    return longest_step;
}

/* Goes as far as the limits let it; returns the cord that ends it, or -1. */
static int go(const struct wrench_cords *c, unsigned held, const double way[], double tension[])
{
    double part = 1;
    int met = -1;
    for (int k = 0; k < c->cords; k++) {
        if (held >> k & 1 || way[k] == 0)
            continue;
        double room = (way[k] > 0 ? c->max_n[k] : c->min_n[k]) - tension[k];
        if (room / way[k] < part) {
            part = greater(room / way[k], 0);
            met = k;
        }
    }
    for (int k = 0; k < c->cords; k++)
        tension[k] += part * way[k];
    if (met >= 0)
        tension[met] = way[met] > 0 ? c->max_n[met] : c->min_n[met];
    return met;
}

/* The held cord that would rather leave its limit, by the sign of its multiplier; -1 if all want to stay. */
static int wants_off(const struct wrench_cords *c, const struct rows *r, unsigned held, const double ref[],
                     const double tension[], double rounding)
{
    double pull[VOLUME_MAX_CORDS], y[3] = {0, 0, 0}, worst = rounding;
    int best = -1;
    for (int k = 0; k < c->cords; k++)
        pull[k] = held >> k & 1 ? 0 : tension[k] - ref[k];
    for (int j = r->rank - 1; j >= 0; j--) {
        double part = dot(c->cords, pull, r->base[j]);
        for (int i = j + 1; i < r->rank; i++)
            part -= r->along[j][i] * y[r->order[i]];
        y[r->order[j]] = part / r->along[j][j];
    }
    for (int k = 0; k < c->cords; k++) {
        if (!(held >> k & 1))
            continue;
        double multiplier = tension[k] - ref[k] - vec_dot(c->unit[k], (struct vec3){y[0], y[1], y[2]});
        double gain = tension[k] <= c->min_n[k] ? -multiplier : multiplier;
        if (gain > worst) {
            worst = gain;
            best = k;
        }
    }
    return best;
}

static void approach(const struct wrench_cords *c, const double ref[], double tension[])
{
    unsigned held = 0;
    double way[VOLUME_MAX_CORDS], rounding = 0;
    for (int k = 0; k < c->cords; k++)
        rounding = greater(rounding, 1e-12 * (c->max_n[k] + fabs(ref[k])));
    for (int step = 0; step < STEPS; step++) {
        struct rows r = rows_of(c, held);
        if (way_to(&r, c->cords, held, ref, tension, way) > rounding) {
            int met = go(c, held, way, tension);
            held |= met >= 0 ? 1u << met : 0;
            continue;
        }
        int off = wants_off(c, &r, held, ref, tension, rounding);
        if (off < 0)
            return;
        held &= ~(1u << off);
    }
}

bool spread_within(const struct wrench_cords *c, struct vec3 force, const double ref_n[VOLUME_MAX_CORDS],
                   double tension_n[VOLUME_MAX_CORDS])
{
    if (spread_free(c, force, ref_n, tension_n) && within(c, tension_n))
        return true;
    somewhere_inside(c, basis_of(c), force, tension_n);
    if (wrench_balances(c, tension_n, force)) {
        approach(c, ref_n, tension_n);
        clip(c, tension_n);
    }
    if (wrench_balances(c, tension_n, force) && within(c, tension_n))
        return true;
    for (int k = 0; k < c->cords; k++)
        tension_n[k] = 0;
    return false;
}
