/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>

#include "locate_bench.h"
#include "policy/motion/mat.h"

static struct mat6 random_definite(uint64_t *state, double stretch)
{
    struct mat6 root, square = {{{0}}};
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < 6; j++)
            root.m[i][j] = bench_normal(state, i < 3 ? 1 : stretch);
    for (int i = 0; i < 6; i++)
        square.m[i][i] = 1;
    struct mat6 out;
    mat6_congruence(&root, &square, &out);
    return out;
}

/* A A^-1 = I, also where positions and velocities differ by orders of magnitude. */
Test(mat, an_inverse_undoes_the_matrix)
{
    uint64_t state = 1;
    for (int n = 0; n < 1000; n++) {
        struct mat6 a = random_definite(&state, n % 2 ? 1 : 1000), inverse, one;
        if (!mat6_invert(&a, &inverse))
            continue;
        mat6_product(&a, &inverse, &one);
        for (int i = 0; i < 6; i++)
            for (int j = 0; j < 6; j++) {
                double scale = sqrt(a.m[i][i] * inverse.m[j][j]) + 1;
                cr_assert_float_eq(one.m[i][j], i == j, 1e-9 * scale * scale, "%d %d %d", n, i, j);
                cr_assert_eq(inverse.m[i][j], inverse.m[j][i]);
            }
    }
}

Test(mat, what_has_no_inverse_is_said)
{
    struct mat3 a = mat3_diagonal(0), inverse = mat3_diagonal(7);
    cr_assert_not(mat3_invert(&a, &inverse));
    mat3_add_outer(&a, (struct vec3){1, 2, 3}, (struct vec3){1, 2, 3}, 1);
    mat3_add_outer(&a, (struct vec3){-1, 0, 2}, (struct vec3){-1, 0, 2}, 1);
    cr_assert_not(mat3_invert(&a, &inverse));
    a = mat3_diagonal(-1);
    cr_assert_not(mat3_invert(&a, &inverse));
    a = mat3_diagonal(NAN);
    cr_assert_not(mat3_invert(&a, &inverse));
    a = mat3_diagonal(INFINITY);
    cr_assert_not(mat3_invert(&a, &inverse));
    cr_assert_eq(inverse.m[1][1], 7);
}

/* Eigenvalues built in: R diag(p, q, r) R^T. */
Test(mat, the_largest_eigenvalue)
{
    static const double built[][3] = {{3, 2, 1}, {5, 5, 1},       {4, -1, -1}, {2, 2, 2},
                                      {0, 0, 0}, {1e-6, 1e-9, 0}, {-1, -2, -3}};
    uint64_t state = 2;
    for (int n = 0; n < 700; n++) {
        const double *e = built[n % 7];
        struct vec3 u = {bench_normal(&state, 1), bench_normal(&state, 1), bench_normal(&state, 1)}, v, w;
        u = vec_scale(u, 1 / vec_norm(u));
        v = vec_cross(u, (struct vec3){0.3, -0.5, 0.8});
        v = vec_scale(v, 1 / vec_norm(v));
        w = vec_cross(u, v);
        struct mat3 a = mat3_diagonal(0);
        mat3_add_outer(&a, u, u, e[0]);
        mat3_add_outer(&a, v, v, e[1]);
        mat3_add_outer(&a, w, w, e[2]);
        double most = fmax(fabs(e[0]), fabs(e[2]));
        cr_assert_float_eq(mat3_largest_eigenvalue(&a), e[0], 2e-8 * most + 1e-300, "%d", n % 7);
    }
}
