/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What a show file holds, key by key, and the draft it is read into. The draft keeps a value where the file has it and
 * struct show does not want it that way (a corner as x y, a keep-out as one thing, a rate a second); layout_show()
 * turns a draft without faults into a show.
 */
#ifndef STEADYHAND_SHOW_LAYOUT_H
#define STEADYHAND_SHOW_LAYOUT_H

#include "gateway/show/field.h"
#include "gateway/show/show.h"

struct layout_keepout {
    char name[SHOW_NAME];
    struct vec3 from, to;
    double padding_m;
};

struct layout_listener {
    char host[SHOW_HOST];
    uint32_t port;
    uint32_t origins;
    char origin[SHOW_ORIGINS][SHOW_ORIGIN];
};

struct layout_draft {
    struct show show; /* fields that need no turning are read straight into it */
    char schema[SHOW_RULES];
    uint32_t rig_port;
    uint32_t anchors;
    struct vec3 anchor[VOLUME_MAX_CORDS];
    uint32_t corners;
    double corner[SHAPE_MAX_CORNERS][2];
    double floor_m, ceiling_m;
    uint32_t keepouts;
    struct layout_keepout keepout[VOLUME_MAX_KEEPOUTS];
    struct lane_limits operator, audience;
    uint32_t mode;
    struct layout_listener audience_listen, desk_listen;
    uint32_t edges;
    double wishes_per_s;
    uint32_t wish_burst;
};

extern const struct field_table layout_file;

/* The room alone, names of keep-outs included. Lists with faults are empty, numbers with faults NaN: volume_valid()
 * tells whether it can be used. */
void layout_room(const struct layout_draft *draft, struct show *show);

/* Every lane, list and unit in its place. Needs a draft without faults. */
void layout_show(const struct layout_draft *draft, struct show *show);

#endif
