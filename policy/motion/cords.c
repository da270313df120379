/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/cords.h"

void cords_lengths(const struct volume_outline *outline, struct vec3 position, double length_m[VOLUME_MAX_CORDS])
{
    for (int i = 0; i < outline->cords; i++)
        length_m[i] = vec_norm(vec_sub(outline->anchor[i], position));
}

void cords_rates(const struct volume_outline *outline, struct vec3 position, struct vec3 velocity,
                 double rate_mps[VOLUME_MAX_CORDS])
{
    double speed = vec_norm(velocity); /* no cord is faster; said again for where rounding would have it otherwise */
    for (int i = 0; i < outline->cords; i++) {
        struct vec3 to_anchor = vec_sub(outline->anchor[i], position);
        double length = vec_norm(to_anchor);
        double rate = length > 0 ? -vec_dot(to_anchor, velocity) / length : 0;
        rate_mps[i] = greater(lesser(rate, speed), -speed);
    }
}
