/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/room_json.h"

#include <jansson.h>

/* Every helper below returns a new reference, or NULL if out of memory; json_pack's "o" hands such a NULL on. */

static json_t *point_new(struct vec3 p)
{
    return json_pack("[f,f,f]", p.x, p.y, p.z);
}

static json_t *footprint_new(const struct shape_prism *stage)
{
    json_t *list = json_array();
    for (int i = 0; list && i < stage->corners; i++) {
        if (json_array_append_new(list, json_pack("[f,f]", stage->x[i], stage->y[i])) == 0)
            continue;
        json_decref(list);
        return NULL;
    }
    return list;
}

static json_t *keepouts_new(const struct show *show)
{
    const struct volume *volume = &show->policy.guard.volume;
    json_t *list = json_array();
    for (int i = 0; list && i < volume->keepouts; i++) {
        const struct shape_block *box = &volume->keepout[i].shape.as.block; /* the only kind a show file may have yet */
        json_t *one = json_pack("{s:s,s:o,s:o,s:f}", "name", show->keepout_name[i], "from",
                                point_new(vec_sub(box->centre, box->half)), "to",
                                point_new(vec_add(box->centre, box->half)), "padding", volume->keepout[i].padding_m);
        if (json_array_append_new(list, one) == 0)
            continue;
        json_decref(list);
        return NULL;
    }
    return list;
}

static json_t *anchors_new(const struct volume_outline *outline)
{
    json_t *list = json_array();
    for (int i = 0; list && i < outline->cords; i++) {
        if (json_array_append_new(list, point_new(outline->anchor[i])) == 0)
            continue;
        json_decref(list);
        return NULL;
    }
    return list;
}

static json_t *choices_new(void)
{
    json_t *list = json_array();
    for (int c = 0; list && c < CHOICE_COUNT; c++) {
        if (json_array_append_new(list, json_string(choice_name((enum choice)c))) == 0)
            continue;
        json_decref(list);
        return NULL;
    }
    return list;
}

char *room_json_new(const struct show *show)
{
    const struct guard_config *guard = &show->policy.guard;
    const struct volume *volume = &guard->volume;
    const struct limits *audience = &show->policy.limits.cell[LANE_AUDIENCE][LIMITS_SHOW];
    const struct limits *operator_ = &show->policy.limits.cell[LANE_OPERATOR][LIMITS_SHOW];
    json_t *room =
        json_pack("{s:s,s:s,s:s, s:{s:o,s:f,s:f}, s:o,s:o, s:{s:f,s:f}, s:o,s:f,s:o,s:f,s:f, s:{s:f,s:f}}", //
                  "type", "room", "name", show->name, "rules", show->rules,                                 //
                  "stage", "footprint", footprint_new(&volume->stage[0]), "floor", volume->stage[0].z_lo, "ceiling",
                  volume->stage[0].z_hi, //
                  "keep_outs", keepouts_new(show), "anchors", anchors_new(&volume->outline), "outline", "body_radius",
                  volume->outline.limb[0].radius_m, "boom", volume->outline.boom_m, //
                  "home", point_new(show->home), "margin", guard->margin_m, "choices", choices_new(), "step_m",
                  show->crowd.step_m, "round_s", (double)show->crowd.poll.round_ns / 1e9, //
                  "speed", "audience", audience->speed_mps, "operator", operator_->speed_mps);
    /* nine digits: a micrometre in a kilometre, and 0.1 reads 0.1 */
    char *text = room ? json_dumps(room, JSON_COMPACT | JSON_REAL_PRECISION(9)) : NULL;
    json_decref(room);
    return text;
}
