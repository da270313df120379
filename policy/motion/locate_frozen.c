/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/locate_frozen.h"

void locate_frozen_pass(struct locate_frozen *frozen, double elapsed_s, struct vec3 commanded)
{
    frozen->since = vec_along(frozen->since, commanded, elapsed_s);
    frozen->since_s += elapsed_s;
}

static bool cords_same(int cords, const double a[], const double b[])
{
    for (int i = 0; i < cords; i++)
        if (a[i] != b[i]) /* NaN is never the same as anything: it is refused elsewhere */
            return false;
    return true;
}

static bool same(const struct locate_config *cfg, const struct locate_report *a, const struct locate_report *b,
                 unsigned source)
{
    if (!(a->sources & b->sources & locate_bit(source)))
        return false;
    switch (source) {
    case LOCATE_POSE:
        return a->position.x == b->position.x && a->position.y == b->position.y && a->position.z == b->position.z;
    case LOCATE_LENGTH:
        return cords_same(cfg->cords, a->length_m, b->length_m);
    case LOCATE_TENSION:
        return cords_same(cfg->cords, a->tension_n, b->tension_n);
    default:
        return a->range_m == b->range_m;
    }
}

void locate_frozen_hear(const struct locate_config *cfg, struct locate_frozen *frozen,
                        const struct locate_report *report)
{
    for (unsigned s = 0; s < LOCATE_PLACING; s++) {
        bool still = same(cfg, &frozen->last, report, s);
        frozen->way[s] = still ? vec_add(frozen->way[s], frozen->since) : (struct vec3){0, 0, 0};
        frozen->same_s[s] = still ? frozen->same_s[s] + frozen->since_s : 0;
    }
    frozen->since = (struct vec3){0, 0, 0};
    frozen->since_s = 0;
    frozen->last = *report;
}

double locate_frozen_way(const struct locate_frozen *frozen, enum locate_source source)
{
    return source == LOCATE_RANGE ? fabs(frozen->way[LOCATE_RANGE].z) : vec_norm(frozen->way[source]);
}

enum locate_source locate_frozen_source(const struct locate_config *cfg, const struct locate_frozen *frozen)
{
    for (unsigned s = 0; s < LOCATE_PLACING; s++)
        if (frozen->last.sources & locate_bit(s) && frozen->same_s[s] > cfg->frozen_s &&
            locate_frozen_way(frozen, (enum locate_source)s) > cfg->frozen_m)
            return (enum locate_source)s;
    return LOCATE_SOURCES;
}
