/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/wrench.h"

#include <stddef.h>

#define FLAT     1e-9 /* a sine or cosine below this counts as none */
#define ROUNDING 1e-13

enum { FACES = VOLUME_MAX_CORDS * (VOLUME_MAX_CORDS - 1) / 2 };

/* Unit normals of all faces (one of each opposite two), and the cords that have a say in each. */
struct faces {
    int rank;
    int count;
    struct vec3 normal[FACES];
    unsigned others[FACES];
};

static bool has(unsigned set, int k)
{
    return set >> k & 1;
}

static void add(struct faces *f, struct vec3 normal, unsigned others)
{
    if (f->count >= FACES)
        return;
    f->normal[f->count] = normal;
    f->others[f->count] = others;
    f->count++;
}

/* Every two cords of the set that are not parallel. Returns the normal of those that are so the least. */
static struct vec3 add_pairs(const struct wrench_cords *c, unsigned among, struct faces *f)
{
    struct vec3 widest = {0, 0, 0};
    double most = FLAT;
    for (int i = 0; i < c->cords; i++) {
        for (int j = i + 1; j < c->cords && has(among, i); j++) {
            struct vec3 n = vec_cross(c->unit[i], c->unit[j]);
            double sine = vec_norm(n);
            if (!has(among, j) || !(sine > FLAT))
                continue;
            add(f, vec_scale(n, 1 / sine), among & ~(1u << i | 1u << j));
            if (sine > most) {
                most = sine;
                widest = f->normal[f->count - 1];
            }
        }
    }
    return widest;
}

static bool in_plane(const struct wrench_cords *c, unsigned among, struct vec3 normal)
{
    for (int k = 0; k < c->cords; k++)
        if (has(among, k) && fabs(vec_dot(normal, c->unit[k])) >= FLAT)
            return false;
    return true;
}

/* The faces of a flat solid are its edges, parallel to one cord each; those of a straight one are its ends. */
static void faces_of(const struct wrench_cords *c, unsigned among, struct faces *f)
{
    f->count = 0;
    struct vec3 plane = add_pairs(c, among, f);
    f->rank = f->count == 0 ? 1 : in_plane(c, among, plane) ? 2 : 3;
    if (f->rank < 3)
        f->count = 0;
    for (int k = 0; k < c->cords && f->rank < 3; k++) {
        if (has(among, k) && f->rank == 2)
            add(f, vec_cross(plane, c->unit[k]), among & ~(1u << k));
        else if (has(among, k) && f->count == 0)
            add(f, c->unit[k], among);
    }
}

/* One face and its opposite, against a force. */
struct face {
    double along[VOLUME_MAX_CORDS]; /* n . u_k, 0 for the cords that span it */
    double size;                    /* sum |along| */
    double slack[2];                /* to the face, to the opposite one [N] */
};

/* phi_k of wrench.h */
static double support(const struct wrench_cords *c, int k, double along)
{
    return along * (along > 0 ? c->max_n[k] : c->min_n[k]);
}

/* The cords that span a face have no say in it: exactly none, where rounding would leave a trace. */
static struct face face_against(const struct wrench_cords *c, const struct faces *all, int i, struct vec3 force)
{
    double load = vec_dot(all->normal[i], force);
    struct face f = {.size = 0, .slack = {-load, load}};
    for (int k = 0; k < c->cords; k++) {
        double along = has(all->others[i], k) ? vec_dot(all->normal[i], c->unit[k]) : 0;
        if (fabs(along) < FLAT)
            along = 0;
        f.along[k] = along;
        f.size += fabs(along);
        f.slack[0] += support(c, k, along);
        f.slack[1] += support(c, k, -along);
    }
    return f;
}

static void narrow(const struct wrench_cords *c, int k, double along, double slack, double *least, double *most)
{
    if (along > 0)
        *least = greater(*least, c->max_n[k] - slack / along);
    if (along < 0)
        *most = lesser(*most, c->min_n[k] - slack / along);
}

/* The cord that pulls hardest along the face is the one to name. */
static void name_cord(const struct wrench_cords *c, const struct face *f, double sign, struct wrench_survey *out)
{
    double best = 0;
    for (int k = 0; k < c->cords; k++) {
        if (fabs(f->along[k]) <= best)
            continue;
        best = fabs(f->along[k]);
        out->cord = k;
        out->at_max = sign * f->along[k] > 0;
    }
}

static void take_in(const struct wrench_cords *c, const struct face *f, struct wrench_survey *out)
{
    if (!(f->size > 0))
        return;
    for (int side = 0; side < 2; side++) {
        double sign = side == 0 ? 1 : -1;
        out->reserve_n = lesser(out->reserve_n, f->slack[side]);
        if (f->slack[side] < out->margin_n * f->size) {
            out->margin_n = f->slack[side] / f->size;
            name_cord(c, f, sign, out);
        }
        for (int k = 0; k < c->cords; k++)
            narrow(c, k, sign * f->along[k], f->slack[side], &out->least_n[k], &out->most_n[k]);
    }
}

/* Limits can only be drawn in until the first cord has none left. */
static void begin(const struct wrench_cords *c, struct wrench_survey *out)
{
    *out = (struct wrench_survey){.rank = 1, .reserve_n = INFINITY, .margin_n = INFINITY};
    for (int k = 0; k < c->cords; k++) {
        double half = (c->max_n[k] - c->min_n[k]) / 2;
        if (half < out->margin_n) {
            out->margin_n = half;
            out->cord = k;
        }
        out->least_n[k] = c->min_n[k];
        out->most_n[k] = c->max_n[k];
    }
}

/* What of the force no tensions of flat cords can make, however large: what is square to all of them. */
static double square_to(const struct wrench_cords *c, int rank, struct vec3 force)
{
    struct vec3 normal = vec_cross(c->unit[0], force);
    if (rank == 1)
        return vec_norm(normal);
    for (int k = 1; k < c->cords; k++) {
        struct vec3 n = vec_cross(c->unit[0], c->unit[k]);
        if (vec_norm(n) > vec_norm(normal) || k == 1)
            normal = n;
    }
    return fabs(vec_dot(normal, force)) / vec_norm(normal);
}

static void finish(const struct wrench_cords *c, struct wrench_survey *out)
{
    out->feasible = out->margin_n >= 0;
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        if (!out->feasible || k >= c->cords)
            out->least_n[k] = out->most_n[k] = 0;
        else if (out->least_n[k] > out->most_n[k]) /* one value, seen from two sides */
            out->least_n[k] = out->most_n[k] = (out->least_n[k] + out->most_n[k]) / 2;
    }
}

static unsigned all_of(const struct wrench_cords *c)
{
    return (1u << c->cords) - 1;
}

void wrench_look(const struct wrench_cords *c, struct vec3 force, struct wrench_survey *out)
{
    struct faces all;
    faces_of(c, all_of(c), &all);
    begin(c, out);
    out->rank = all.rank;
    for (int i = 0; i < all.count; i++) {
        struct face f = face_against(c, &all, i, force);
        take_in(c, &f, out);
    }
    if (all.rank < 3) {
        double rest = square_to(c, all.rank, force);
        bool carried = rest <= WRENCH_BALANCE * vec_norm(force);
        out->reserve_n = lesser(out->reserve_n, carried ? 0 : -rest);
        out->margin_n = lesser(out->margin_n, carried ? INFINITY : -rest);
    }
    finish(c, out);
}

double wrench_reserve(const struct wrench_cords *c, struct vec3 force, struct vec3 *normal)
{
    struct faces all;
    double least = INFINITY;
    struct vec3 decides = {0, 0, 0};
    faces_of(c, all_of(c), &all);
    for (int i = 0; i < all.count; i++) {
        struct face f = face_against(c, &all, i, force);
        double slack = lesser(f.slack[0], f.slack[1]);
        if (slack >= least)
            continue;
        least = slack;
        decides = vec_scale(all.normal[i], f.slack[0] <= f.slack[1] ? 1 : -1);
    }
    if (normal != NULL)
        *normal = decides;
    return all.rank == 3 ? least : lesser(least, 0);
}

void wrench_range(const struct wrench_cords *c, unsigned among, int cord, struct vec3 force, double *least_n,
                  double *most_n)
{
    struct faces rest;
    *least_n = c->min_n[cord];
    *most_n = c->max_n[cord];
    faces_of(c, among & ~(1u << cord), &rest);
    for (int i = 0; i < rest.count; i++) {
        rest.others[i] |= 1u << cord;
        struct face f = face_against(c, &rest, i, force);
        narrow(c, cord, f.along[cord], f.slack[0], least_n, most_n);
        narrow(c, cord, -f.along[cord], f.slack[1], least_n, most_n);
    }
    if (*least_n > *most_n) /* one value, seen from two sides */
        *least_n = *most_n = (*least_n + *most_n) / 2;
}

struct vec3 wrench_rest(const struct wrench_cords *c, const double tension_n[VOLUME_MAX_CORDS], struct vec3 force)
{
    for (int k = 0; k < c->cords; k++)
        force = vec_along(force, c->unit[k], -tension_n[k]);
    return force;
}

bool wrench_balances(const struct wrench_cords *c, const double tension_n[VOLUME_MAX_CORDS], struct vec3 force)
{
    double pull = 0;
    for (int k = 0; k < c->cords; k++)
        pull += fabs(tension_n[k]);
    return vec_norm(wrench_rest(c, tension_n, force)) <= WRENCH_BALANCE * vec_norm(force) + ROUNDING * pull;
}
