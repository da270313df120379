/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Small dense matrices for estimation: symmetric 3x3 ones as information and covariance of a position, 6x6 ones of
 * position and velocity. Inverses are by Cholesky (Golub, Van Loan, Matrix Computations, 4.2) and say when there is
 * none. No function allocates; all cost the same whatever the numbers.
 */
#ifndef STEADYHAND_MOTION_MAT_H
#define STEADYHAND_MOTION_MAT_H

#include "policy/motion/vec.h"

#define MAT_PIVOT_MIN 1e-13 /* a pivot smaller than this part of its diagonal is no pivot: singular to rounding */

/* Row by row. Symmetric wherever a function says so. */
struct mat3 {
    double m[3][3];
};

struct mat6 {
    double m[6][6];
};

static inline struct mat3 mat3_diagonal(double k)
{
    return (struct mat3){{{k, 0, 0}, {0, k, 0}, {0, 0, k}}};
}

/* *a += k u v^T */
static inline void mat3_add_outer(struct mat3 *a, struct vec3 u, struct vec3 v, double k)
{
    const double p[3] = {u.x, u.y, u.z}, q[3] = {v.x, v.y, v.z};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            a->m[i][j] += k * p[i] * q[j];
}

/* *a += k b */
static inline void mat3_add(struct mat3 *a, const struct mat3 *b, double k)
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            a->m[i][j] += k * b->m[i][j];
}

static inline struct vec3 mat3_apply(const struct mat3 *a, struct vec3 v)
{
    return (struct vec3){
        a->m[0][0] * v.x + a->m[0][1] * v.y + a->m[0][2] * v.z,
        a->m[1][0] * v.x + a->m[1][1] * v.y + a->m[1][2] * v.z,
        a->m[2][0] * v.x + a->m[2][1] * v.y + a->m[2][2] * v.z,
    };
}

static inline struct mat3 mat3_product(const struct mat3 *a, const struct mat3 *b)
{
    struct mat3 c;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            c.m[i][j] = a->m[i][0] * b->m[0][j] + a->m[i][1] * b->m[1][j] + a->m[i][2] * b->m[2][j];
    return c;
}

/* u . (A v) */
static inline double mat3_form(const struct mat3 *a, struct vec3 u, struct vec3 v)
{
    return vec_dot(u, mat3_apply(a, v));
}

/* The lower Cholesky factor of the symmetric n x n matrix a (row stride n) into l, of which only the lower half is
 * written. False, l undefined, unless a is positive definite beyond rounding; so also for NaN. */
static inline bool mat_cholesky(const double *a, double *l, int n)
{
    for (int j = 0; j < n; j++) {
        double pivot = a[j * n + j];
        for (int k = 0; k < j; k++)
            pivot -= l[j * n + k] * l[j * n + k];
        if (!(pivot > MAT_PIVOT_MIN * a[j * n + j]) || !isfinite(pivot))
            return false;
        double root = sqrt(pivot), over = 1 / root;
        l[j * n + j] = root;
        for (int i = j + 1; i < n; i++) {
            double sum = a[i * n + j];
            for (int k = 0; k < j; k++)
                sum -= l[i * n + k] * l[j * n + k];
            l[i * n + j] = sum * over;
        }
    }
    return true;
}

/* The inverse from the factor: columns of L^-1 in place, then L^-T L^-1. Symmetric to the last bit. */
static inline void mat_from_cholesky(double *l, double *inverse, int n)
{
    for (int j = 0; j < n; j++) {
        l[j * n + j] = 1 / l[j * n + j];
        for (int i = j + 1; i < n; i++) {
            double sum = 0;
            for (int k = j; k < i; k++)
                sum -= l[i * n + k] * l[k * n + j];
            l[i * n + j] = sum / l[i * n + i];
        }
    }
    for (int i = 0; i < n; i++)
        for (int j = 0; j <= i; j++) {
            double sum = 0;
            for (int k = i; k < n; k++)
                sum += l[k * n + i] * l[k * n + j];
            inverse[i * n + j] = inverse[j * n + i] = sum;
        }
}

/* Inverse of a symmetric positive definite matrix. False, *inverse unchanged, if it is not that beyond rounding. */
static inline bool mat3_invert(const struct mat3 *a, struct mat3 *inverse)
{
    double l[9];
    if (!mat_cholesky(&a->m[0][0], l, 3))
        return false;
    mat_from_cholesky(l, &inverse->m[0][0], 3);
    return true;
}

static inline bool mat6_invert(const struct mat6 *a, struct mat6 *inverse)
{
    double l[36];
    if (!mat_cholesky(&a->m[0][0], l, 6))
        return false;
    mat_from_cholesky(l, &inverse->m[0][0], 6);
    return true;
}

/* a b: rows of b are added up as they lie in memory. */
static inline void mat6_product(const struct mat6 *a, const struct mat6 *b, struct mat6 *c)
{
    for (int i = 0; i < 6; i++) {
        double sum[6] = {0};
        for (int k = 0; k < 6; k++)
            for (int j = 0; j < 6; j++)
                sum[j] += a->m[i][k] * b->m[k][j];
        for (int j = 0; j < 6; j++)
            c->m[i][j] = sum[j];
    }
}

/* a^T b a of a symmetric b: symmetric to the last bit. */
static inline void mat6_congruence(const struct mat6 *a, const struct mat6 *b, struct mat6 *c)
{
    struct mat6 ba, across;
    mat6_product(b, a, &ba);
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < 6; j++)
            across.m[i][j] = ba.m[j][i]; /* a^T b */
    mat6_product(&across, a, c);
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < i; j++)
            c->m[j][i] = c->m[i][j];
}

/* The 3x3 block of a 6x6 matrix at rows 3 r and columns 3 c. */
static inline struct mat3 mat6_block(const struct mat6 *a, int r, int c)
{
    struct mat3 b;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            b.m[i][j] = a->m[3 * r + i][3 * c + j];
    return b;
}

/* The largest eigenvalue of a symmetric 3x3 matrix, from the roots of its cubic by trigonometry (Smith, Communications
 * of the ACM 4, 1961). Exact to about 1e-8 of the largest; NaN stays NaN. */
static inline double mat3_largest_eigenvalue(const struct mat3 *a)
{
    double mean = (a->m[0][0] + a->m[1][1] + a->m[2][2]) / 3;
    double x = a->m[0][0] - mean, y = a->m[1][1] - mean, z = a->m[2][2] - mean;
    double d = a->m[0][1], e = a->m[0][2], f = a->m[1][2];
    double spread = sqrt((x * x + y * y + z * z + 2 * (d * d + e * e + f * f)) / 6);
    if (!(spread > 0))
        return mean + spread;
    x /= spread, y /= spread, z /= spread, d /= spread, e /= spread, f /= spread;
    double half_det = (x * (y * z - f * f) - d * (d * z - f * e) + e * (d * f - y * e)) / 2;
    return mean + 2 * spread * cos(acos(lesser(greater(half_det, -1), 1)) / 3);
}

#endif
