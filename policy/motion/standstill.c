/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/standstill.h"

#include "policy/motion/shape.h"

#define WANDER_S 1.0 /* in so long a position may seem to go as far as it is uncertain */

void standstill_init(struct standstill *s)
{
    *s = (struct standstill){.known = false};
}

/* How fast it may seem to be at rest [m/s]; as much as there may be at least where the uncertainty is no number. */
static double threshold(double uncertainty_m)
{
    double more = STANDSTILL_MPS + uncertainty_m / WANDER_S;
    return more >= STANDSTILL_MPS ? lesser(more, STANDSTILL_MOST_MPS) : STANDSTILL_MPS;
}

bool standstill_step(struct standstill *s, const struct standstill_input *in)
{
    if (!in->known || !shape_point_valid(in->position)) {
        standstill_init(s);
        return false;
    }
    if (!s->known || !shape_point_valid(s->smooth) || !shape_point_valid(s->velocity)) {
        *s = (struct standstill){.known = true, .smooth = in->position};
        return false;
    }
    double elapsed_s = in->elapsed_s >= 0 ? lesser(in->elapsed_s, STANDSTILL_S) : 0;
    double share = elapsed_s / STANDSTILL_S;
    struct vec3 rate = vec_scale(vec_sub(in->position, s->smooth), 1 / STANDSTILL_S);
    s->smooth = vec_along(s->smooth, vec_sub(in->position, s->smooth), share);
    s->velocity = vec_along(s->velocity, vec_sub(rate, s->velocity), share);
    bool slow = !in->driven && vec_norm(s->velocity) <= threshold(in->uncertainty_m);
    s->slow_s = slow && s->slow_s >= 0 ? lesser(s->slow_s + elapsed_s, STANDSTILL_HOLD_S) : 0;
    return s->slow_s >= STANDSTILL_HOLD_S;
}
