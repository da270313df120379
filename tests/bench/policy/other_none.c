/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <stddef.h>

#include "tests/bench/policy/other.h"

const char *other_name(void)
{
    return NULL;
}

struct other_solid *other_shape_new(const struct shape *shape, const struct hull *piece)
{
    (void)shape;
    (void)piece;
    return NULL;
}

struct other_solid *other_moving_new(const struct hull *moving)
{
    (void)moving;
    return NULL;
}

void other_solid_free(struct other_solid *solid)
{
    (void)solid;
}

double other_distance(const struct other_solid *a, const struct other_solid *b)
{
    (void)a;
    (void)b;
    return 0;
}

struct other_room *other_room_new(const struct volume *vol)
{
    (void)vol;
    return NULL;
}

void other_room_free(struct other_room *room)
{
    (void)room;
}

double other_room_clearance(struct other_room *room, struct vec3 position)
{
    (void)room;
    (void)position;
    return 0;
}
