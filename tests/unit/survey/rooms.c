/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/survey/rooms.h"

#include <stdio.h>
#include <string.h>

static void name(char text[SHOW_NAME], const char *what)
{
    snprintf(text, SHOW_NAME, "%s", what);
}

static struct shape box(double x1, double y1, double z1, double x2, double y2, double z2)
{
    return shape_from_box(&(struct shape_box){{x1, y1, z1}, {x2, y2, z2}});
}

static void add_keepout(struct show *show, const char *what, struct shape shape, double padding_m, bool yields)
{
    struct volume *v = &show->policy.guard.volume;
    name(show->keepout_name[v->keepouts], what);
    v->keepout[v->keepouts++] = (struct volume_keepout){shape, padding_m, yields};
}

static void hang(struct show *show, int cords, const struct vec3 *anchor, double mass_kg, double min_n, double max_n)
{
    struct volume_outline *outline = &show->policy.guard.volume.outline;
    outline->cords = cords;
    outline->cord_radius_m = 0.003;
    show->cords = (struct show_cords){
        .given = true, .rig = {.cords = cords, .mass_kg = mass_kg}, .reserve_mps2 = 0.5, .min_length_m = 0.5};
    for (int k = 0; k < cords; k++) {
        outline->anchor[k] = show->cords.rig.anchor[k] = anchor[k];
        show->cords.rig.min_n[k] = min_n;
        show->cords.rig.max_n[k] = max_n;
    }
}

static void body(struct show *show)
{
    struct volume_outline *outline = &show->policy.guard.volume.outline;
    outline->limbs = 1;
    outline->limb[0] = (struct volume_limb){.radius_m = 0.15};
    outline->yaw = VOLUME_YAW_FIXED;
    outline->boom_m = 0.35;
    outline->boom_radius_m = 0.02;
    show->policy.limits.cell[LANE_OPERATOR][LIMITS_SHOW].speed_mps = 0.4;
}

void rooms_plain(struct show *show)
{
    static const struct vec3 anchor[] = {{0, 0, 4}, {8, 0, 4}, {8, 8, 4}, {0, 8, 4}};
    struct volume *v = &show->policy.guard.volume;
    memset(show, 0, sizeof *show);
    name(show->name, "Plain");
    v->stages = 1;
    v->stage[0] = (struct shape_prism){4, {1, 7, 7, 1}, {2, 2, 6, 6}, 1, 3};
    add_keepout(show, "box", box(5, 3, 0, 6, 4, 2), 0.1, false);
    show->home = (struct vec3){3, 4, 2.2};
    hang(show, 4, anchor, 2.4, 3, 80);
    body(show);
    volume_prepare(v);
}

static void rich_keepouts(struct show *show)
{
    struct shape shape = {.kind = SHAPE_BOX};
    shape.as.block = shape_block_turned((struct vec3){2, 2, 0.8}, (struct vec3){0.5, 0.5, 0.8}, 0.5, 0, 0);
    add_keepout(show, "host & <b>chair</b> \"left\"", shape, 0.2, false);
    shape = (struct shape){.kind = SHAPE_SPHERE, .as.sphere = {{9, 2, 2.5}, 0.4}};
    add_keepout(show, "lamp \xE7\x81\xAF", shape, 0.1, false);
    shape = (struct shape){.kind = SHAPE_CAPSULE, .as.capsule = {{8, 6.5, 3.2}, {10.5, 6.5, 3.0}, 0.15}};
    add_keepout(show, "pipe]]>", shape, 0.1, true);
    shape = (struct shape){.kind = SHAPE_PRISM,
                           .as.prism = {6, {9.5, 11, 11, 10, 10, 9.5}, {4, 4, 5, 5, 5.5, 5.5}, 0, 2.0}};
    add_keepout(show, "balcony", shape, 0.1, false);
    shape = (struct shape){.kind = SHAPE_HALF_SPACE, .as.half_space = {{-0.96, 0, -0.28}, -12.8}};
    add_keepout(show,
                "leaning \xE2\x80\xAE"
                "wall",
                shape, 0.05, false);
}

static void rich_zones(struct show *show)
{
    show->policy.zones = 1;
    show->policy.zone[0] = (struct policy_zone){box(3, 1, 0, 6, 2.5, 4), 0.1};
    name(show->slow_name[0], "above the audience");
    show->policy.view.shapes = 1;
    show->policy.view.shape[0] = box(11.5, 2, 1, 11.9, 4, 2.5);
    name(show->view_name[0], "window");
}

void rooms_rich(struct show *show)
{
    static const struct vec3 anchor[] = {{0, 0, 4}, {12, 0, 4.2}, {12, 8, 4}, {0, 8, 3.8}, {0, 4, 0.2}, {12, 0, 0.2}};
    struct volume *v = &show->policy.guard.volume;
    memset(show, 0, sizeof *show);
    name(show->name, "R&D <stage> 'two' \x07 B\xC3\xBChne \xE8\x88\x9E\xE5\x8F\xB0");
    v->stages = 2;
    v->stage[0] = (struct shape_prism){8, {1, 11, 11, 7, 7, 5, 5, 1}, {1, 1, 7, 7, 5, 5, 7, 7}, 1.0, 3.4};
    v->stage[1] = (struct shape_prism){4, {4, 8, 8, 4}, {0.4, 0.4, 2, 2}, 1.2, 3.0};
    show->home = (struct vec3){6, 4, 2.6};
    hang(show, 6, anchor, 4, 5, 150);
    show->cords.reserve_mps2 = 1;
    body(show);
    v->outline.limbs = 2;
    v->outline.limb[1] = (struct volume_limb){{0, 0, 0}, {0.4, 0, 0}, 0.06};
    v->outline.yaw = VOLUME_YAW_UNKNOWN;
    v->outline.tether = (struct volume_tether){VOLUME_TETHER_HANGING, {6, 8, 4}, 7, 0.01, 0.3, 0};
    rich_keepouts(show);
    rich_zones(show);
    volume_prepare(v);
}
