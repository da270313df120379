/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The solvers behind the tensions: nothing out of bounds and nothing read that was not written, for any number of
 * cords, any directions, limits, forces and references. That what they make is a number is shown where it is used
 * (statics.c).
 *
 * analyse: policy/motion/wrench.c policy/motion/spread.c
 * options: -eva-precision 0 -eva-initialized-locals -eva-widening-delay 40
 */
#include "policy/motion/spread.h"
#include "tests/proof/rooms.h"

int main(void)
{
    ANY(struct wrench_cords, c);
    ANY(struct vec3, force);
    struct wrench_survey seen;
    struct vec3 normal;
    double least_n, most_n, tension_n[VOLUME_MAX_CORDS], ref_n[VOLUME_MAX_CORDS];
    c.cords = among(1, VOLUME_MAX_CORDS);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        ANY(double, n);
        tension_n[k] = ref_n[k] = n;
    }
    wrench_look(&c, force, &seen);
    must_hold(seen.cord >= 0 && seen.cord < VOLUME_MAX_CORDS);
    must_hold(seen.rank >= 1 && seen.rank <= 3);
    wrench_reserve(&c, force, &normal);
    wrench_reserve(&c, force, NULL);
    wrench_range(&c, (unsigned)among(0, 255), among(0, VOLUME_MAX_CORDS - 1), force, &least_n, &most_n);
    wrench_balances(&c, tension_n, force);
    spread_free(&c, force, ref_n, tension_n);
    spread_within(&c, force, ref_n, tension_n);
}
