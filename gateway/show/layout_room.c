/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The space the rig moves in. */
#include "gateway/show/layout_rows.h"

/* The stage itself is read into the draft, the extensions into items of their own. */
static const struct field corner = PLACE(NULL, 2, 0, "a corner of the stage on the plan: x, y");

static const struct field stage_rows[] = {
    LIST(struct layout_draft, "footprint_m", 3, SHAPE_MAX_CORNERS, stage.corners, corner, stage.corner,
         "the outline of the stage on the plan"),
    NUMBER("floor_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", AT(stage.floor_m),
           "the lowest height any part of the rig may reach"),
    NUMBER("ceiling_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", AT(stage.ceiling_m),
           "the greatest height any part of the rig may reach"),
};
static const struct field_table stage = TABLE(stage_rows);

static const struct field extension = {
    .kind = FIELD_OBJECT, .table = &layout_zone_prism, .what = "a further part of the stage"};
static const struct field keepout = {
    .kind = FIELD_OBJECT, .table = &layout_zone_keepout, .what = "a solid to keep out of"};
static const struct field slow = {.kind = FIELD_OBJECT, .table = &layout_zone_slow, .what = "a solid to be slow in"};
static const struct field view = {.kind = FIELD_OBJECT, .table = &layout_zone_view, .what = "a solid not to be seen"};

#define SUBJECT(member) AT(subject.member)
static const struct field subject_rows[] = {
    NUMBER("radius_m", 0.01, 5, "m", SUBJECT(radius_m), "the circle they fill, arms included"),
    NUMBER("height_m", 0.1, 5, "m", SUBJECT(height_m), "how high they reach"),
    SPARE_NUMBER("speed_mps", 0.01, 5, "m/s", 1.6, SUBJECT(speed_mps), "the fastest they move; walking is 1.6 m/s"),
    SPARE_NUMBER("uncertainty_m", 0, 2, "m", 0.1, SUBJECT(uncertainty_m),
                 "how wrong the report of where they are may be; 3 sigma of its noise if that is more"),
    SPARE_FLAG("required", SUBJECT(required), "whether nothing moves without a report of where they are"),
};
static const struct field_table subject = TABLE(subject_rows);

static const struct field room_rows[] = {
    PLACE("home_m", 3, AT(show.home), "where the cords meet when the show starts: x, y, z"),
    OBJECT("stage", stage, "where the rig may be"),
    SPARE_LIST(struct layout_draft, "stage_extensions", LAYOUT_MAX_EXTENSIONS, extensions, extension, extension,
               "further parts of the stage, each overlapping one before it"),
    LIST(struct layout_draft, "keep_outs", 0, VOLUME_MAX_KEEPOUTS, keepouts, keepout, keepout,
         "where the rig must never be"),
    SPARE_LIST(struct layout_draft, "slow_zones", POLICY_MAX_ZONES, slows, slow, slow,
               "where the rig may only be slow"),
    SPARE_LIST(struct layout_draft, "view_keep_outs", VIEW_MAX_SHAPES, views, view, view,
               "what the camera must never see: a window, a screen, somebody's place"),
    SPARE_OBJECT("subject", subject, AT(subject.given), "a person or an animal below, where their place is reported"),
};
const struct field_table layout_room = TABLE(room_rows);
