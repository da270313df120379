/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/room_json.h"

#include <jansson.h>
#include <math.h>

#include "gateway/show/drawable.h"
#include "policy/motion/units.h"

/* Every helper below returns a new reference, or NULL if out of memory; json_pack's "o" hands such a NULL on. */

static json_t *point_new(struct vec3 p)
{
    return json_pack("[f,f,f]", p.x, p.y, p.z);
}

/* An array of what `item` makes of each index. */
static json_t *list_new(int count, json_t *(*item)(const void *of, int i), const void *of)
{
    json_t *list = json_array();
    for (int i = 0; list && i < count; i++) {
        if (json_array_append_new(list, item(of, i)) == 0)
            continue;
        json_decref(list);
        return NULL;
    }
    return list;
}

static json_t *corner_new(const void *of, int i)
{
    const struct drawable *s = of;
    return json_pack("[f,f]", s->corner[i].x, s->corner[i].y);
}

static json_t *outline_new(const struct shape *shape, enum drawable_view view, const struct shape_box *room)
{
    struct drawable s;
    drawable_of(shape, view, room, &s);
    return list_new(s.corners, corner_new, &s);
}

/* A show, and the box that everything in it is drawn in. */
struct drawn {
    const struct show *show;
    struct shape_box room;
};

/* Anchors and stage, down to the ground, and half a metre more. */
static struct shape_box box_of(const struct volume *volume)
{
    struct shape_box box = shape_prism_box(volume->stage, volume->stages);
    const struct vec3 more = {0.5, 0.5, 0.5};
    shape_box_widen(&box, (struct vec3){box.lo.x, box.lo.y, 0});
    for (int i = 0; i < volume->outline.cords; i++)
        shape_box_widen(&box, volume->outline.anchor[i]);
    return (struct shape_box){vec_sub(box.lo, more), vec_add(box.hi, more)};
}

static json_t *stage_new(const void *of, int i)
{
    const struct shape_prism *prism = &((const struct volume *)of)->stage[i];
    struct shape shape = {.kind = SHAPE_PRISM, .as.prism = *prism};
    return json_pack("{s:o,s:f,s:f}", "footprint", outline_new(&shape, DRAWABLE_PLAN, NULL), "floor", prism->z_lo,
                     "ceiling", prism->z_hi);
}

static json_t *keepout_new(const void *of, int i)
{
    const struct drawn *d = of;
    const struct volume_keepout *k = &d->show->policy.guard.volume.keepout[i];
    return json_pack("{s:s,s:o,s:o,s:f,s:b}", "name", d->show->keepout_name[i], "plan",
                     outline_new(&k->shape, DRAWABLE_PLAN, &d->room), "front",
                     outline_new(&k->shape, DRAWABLE_FRONT, &d->room), "padding", k->padding_m, "yields", k->yields);
}

static json_t *slow_new(const void *of, int i)
{
    const struct drawn *d = of;
    const struct policy_zone *z = &d->show->policy.zone[i];
    return json_pack("{s:s,s:o,s:o,s:f}", "name", d->show->slow_name[i], "plan",
                     outline_new(&z->shape, DRAWABLE_PLAN, &d->room), "front",
                     outline_new(&z->shape, DRAWABLE_FRONT, &d->room), "speed_mps", z->speed_mps);
}

static json_t *view_new(const void *of, int i)
{
    const struct drawn *d = of;
    const struct shape *shape = &d->show->policy.view.shape[i];
    return json_pack("{s:s,s:o,s:o}", "name", d->show->view_name[i], "plan",
                     outline_new(shape, DRAWABLE_PLAN, &d->room), "front",
                     outline_new(shape, DRAWABLE_FRONT, &d->room));
}

static json_t *anchor_new(const void *of, int i)
{
    return point_new(((const struct volume_outline *)of)->anchor[i]);
}

/* The first is the sphere of the body, which outline.body_radius says already. */
static json_t *limb_new(const void *of, int i)
{
    const struct volume_limb *limb = &((const struct volume_outline *)of)->limb[i + 1];
    return json_pack("{s:o,s:o,s:f}", "from", point_new(limb->a), "to", point_new(limb->b), "radius", limb->radius_m);
}

static json_t *body_new(const struct volume_outline *o)
{
    static const char *const yaw[] = {"fixed", "reported", "unknown", "pan"};
    return json_pack("{s:f,s:f,s:o,s:s}", "body_radius", o->limb[0].radius_m, "boom", o->boom_m, "limbs",
                     list_new(o->limbs - 1, limb_new, o), "yaw", yaw[o->yaw]);
}

static json_t *tether_new(const struct volume_tether *t)
{
    if (t->kind == VOLUME_TETHER_NONE)
        return json_null();
    return json_pack("{s:s,s:o,s:f}", "kind", t->kind == VOLUME_TETHER_STRAIGHT ? "straight" : "hanging", "anchor",
                     point_new(t->anchor), "length", t->length_m);
}

static json_t *cords_new(const struct show_cords *c)
{
    if (!c->given)
        return json_null();
    return json_pack("{s:f,s:f}", "min_n", c->rig.min_n[0], "max_n", c->rig.max_n[0]);
}

static json_t *head_new(const struct show *show)
{
    const struct policy_head *h = &show->policy.head;
    if (!h->there)
        return json_null();
    return json_pack("{s:f,s:f,s:f}", "hfov_wide_deg", h->config.hfov_wide_rad * UNITS_DEG_PER_RAD, "vfov_wide_deg",
                     show->vfov_wide_rad * UNITS_DEG_PER_RAD, "zoom_max", h->config.axis[HEAD_ZOOM].max);
}

static json_t *subject_new(const struct policy_subject *s)
{
    if (!s->watched)
        return json_null();
    return json_pack("{s:f,s:f}", "radius", s->radius_m, "height", s->height_m);
}

static json_t *choice_new(const void *of, int i)
{
    (void)of;
    return json_string(choice_name((enum choice)i));
}

static json_t *machine_new(const struct show *show)
{
    const struct volume_outline *o = &show->policy.guard.volume.outline;
    return json_pack("{s:o,s:o,s:o,s:o,s:o,s:o}", "anchors", list_new(o->cords, anchor_new, o), "outline", body_new(o),
                     "tether", tether_new(&o->tether), "cords", cords_new(&show->cords), "head", head_new(show),
                     "subject", subject_new(&show->policy.subject));
}

static json_t *space_new(const struct drawn *d)
{
    const struct policy_config *policy = &d->show->policy;
    const struct volume *volume = &policy->guard.volume;
    return json_pack("{s:o,s:o,s:o,s:o,s:o,s:f}", "stages", list_new(volume->stages, stage_new, volume), "keep_outs",
                     list_new(volume->keepouts, keepout_new, d), "slow_zones", list_new(policy->zones, slow_new, d),
                     "view_keep_outs", list_new(policy->view.shapes, view_new, d), "home", point_new(d->show->home),
                     "margin", policy->guard.margin_m);
}

static json_t *about_new(const struct show *show)
{
    const struct limits_table *limits = &show->policy.limits;
    return json_pack("{s:s,s:s,s:s,s:o,s:f,s:f,s:{s:f,s:f}}", "type", "room", "name", show->name, "rules", show->rules,
                     "choices", list_new(CHOICE_COUNT, choice_new, NULL), "step_m", show->crowd.step_m, "round_s",
                     (double)show->crowd.poll.round_ns / 1e9, "speed", "audience",
                     limits->cell[LANE_AUDIENCE][LIMITS_SHOW].speed_mps, "operator",
                     limits->cell[LANE_OPERATOR][LIMITS_SHOW].speed_mps);
}

/* Moves the members of `part` into the room, whose own it then is no more. */
static bool join(json_t *room, json_t *part)
{
    bool good = room && part && json_object_update(room, part) == 0;
    json_decref(part);
    return good;
}

char *room_json_new(const struct show *show)
{
    struct drawn drawn = {.show = show, .room = box_of(&show->policy.guard.volume)};
    json_t *room = about_new(show);
    bool whole = join(room, space_new(&drawn));
    whole = join(room, machine_new(show)) && whole;
    /* nine digits: a micrometre in a kilometre, and 0.1 reads 0.1 */
    char *text = whole ? json_dumps(room, JSON_COMPACT | JSON_REAL_PRECISION(9)) : NULL;
    json_decref(room);
    return text;
}
