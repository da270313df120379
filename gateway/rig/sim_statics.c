/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_statics.h"

/* Symmetric 3 x 3. */
struct sym3 {
    double xx, xy, xz, yy, yz, zz;
};

/* Cramer's rule; false where the cords span less than space (all in one plane through the load). */
static bool solve3(const struct sym3 *m, struct vec3 b, struct vec3 *x)
{
    double c00 = m->yy * m->zz - m->yz * m->yz;
    double c01 = m->xz * m->yz - m->xy * m->zz;
    double c02 = m->xy * m->yz - m->xz * m->yy;
    double c11 = m->xx * m->zz - m->xz * m->xz;
    double c12 = m->xy * m->xz - m->xx * m->yz;
    double c22 = m->xx * m->yy - m->xy * m->xy;
    double det = m->xx * c00 + m->xy * c01 + m->xz * c02;
    if (!(fabs(det) > 1e-9))
        return false;
    *x = vec_scale((struct vec3){c00 * b.x + c01 * b.y + c02 * b.z, c01 * b.x + c11 * b.y + c12 * b.z,
                                 c02 * b.x + c12 * b.y + c22 * b.z},
                   1 / det);
    return true;
}

/* The least-squares step over the cords that are not pinned. */
static bool solve_free(int cords, const struct vec3 u[], struct vec3 wrench, const bool pinned[], double floor_n,
                       const double ref_n[], double tension[])
{
    struct sym3 m = {0};
    struct vec3 rest = wrench, y;
    for (int i = 0; i < cords; i++) {
        rest = vec_along(rest, u[i], pinned[i] ? -floor_n : -ref_n[i]);
        if (pinned[i])
            continue;
        m.xx += u[i].x * u[i].x;
        m.xy += u[i].x * u[i].y;
        m.xz += u[i].x * u[i].z;
        m.yy += u[i].y * u[i].y;
        m.yz += u[i].y * u[i].z;
        m.zz += u[i].z * u[i].z;
    }
    if (!solve3(&m, rest, &y))
        return false;
    for (int i = 0; i < cords; i++)
        tension[i] = pinned[i] ? floor_n : ref_n[i] + vec_dot(u[i], y);
    return true;
}

/* Index of the lowest tension below the floor, -1 if there is none. */
static int lowest_below(int cords, const double tension[], double floor_n)
{
    int lowest = -1;
    for (int i = 0; i < cords; i++)
        if (tension[i] < floor_n && (lowest < 0 || tension[i] < tension[lowest]))
            lowest = i;
    return lowest;
}

bool sim_statics_near(int cords, const struct vec3 u[], struct vec3 wrench_n, double floor_n,
                      const double ref_n[VOLUME_MAX_CORDS], double tension[VOLUME_MAX_CORDS])
{
    bool pinned[VOLUME_MAX_CORDS] = {false};
    for (int spare = cords - 3; spare >= 0; spare--) {
        if (!solve_free(cords, u, wrench_n, pinned, floor_n, ref_n, tension))
            break;
        int low = lowest_below(cords, tension, floor_n);
        if (low < 0)
            return true;
        pinned[low] = true;
    }
    for (int i = 0; i < cords; i++)
        tension[i] = floor_n;
    return false;
}

bool sim_statics_solve(int cords, const struct vec3 u[], struct vec3 wrench_n, double floor_n, double ref_n,
                       double tension[VOLUME_MAX_CORDS])
{
    double ref[VOLUME_MAX_CORDS];
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        ref[i] = ref_n;
    return sim_statics_near(cords, u, wrench_n, floor_n, ref, tension);
}
