/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Solids in the room, of any shape, and what they are there for. */
#include "gateway/show/layout_rows.h"

static const struct field corner = PLACE(NULL, 2, 0, "a corner on the plan: x, y");

#define PRISM(member) offsetof(struct layout_prism, member)
static const struct field prism_rows[] = {
    LIST(struct layout_prism, "footprint_m", 3, SHAPE_MAX_CORNERS, corners, corner, corner, "the outline on the plan"),
    NUMBER("floor_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", PRISM(floor_m),
           "the lowest height any part of the rig may reach"),
    NUMBER("ceiling_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", PRISM(ceiling_m),
           "the greatest height any part of the rig may reach"),
};
const struct field_table layout_zone_prism = TABLE(prism_rows);

#define SOLID(member) offsetof(struct layout_zone, solid.member)
static const struct field box_rows[] = {
    PLACE("from_m", 3, SOLID(from), "the corner of the box with the least x, y and z"),
    PLACE("to_m", 3, SOLID(to), "the corner of the box with the greatest x, y and z"),
    SPARE_DEGREES("yaw_deg", -180, 180, 0, SOLID(yaw_rad),
                  "how far it is then turned about its middle, counter-clockwise"),
    SPARE_DEGREES("pitch_deg", -90, 90, 0, SOLID(pitch_rad), "how far it is tipped before that, about y"),
    SPARE_DEGREES("roll_deg", -180, 180, 0, SOLID(roll_rad), "how far it is tipped before that, about x"),
};
static const struct field solid_prism_rows[] = {
    LIST(struct layout_zone, "footprint_m", 3, SHAPE_MAX_CORNERS, solid.prism.corners, corner, solid.prism.corner,
         "the outline on the plan"),
    NUMBER("floor_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", SOLID(prism.floor_m), "its least height"),
    NUMBER("ceiling_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", SOLID(prism.ceiling_m), "its greatest height"),
};
static const struct field sphere_rows[] = {
    PLACE("centre_m", 3, SOLID(centre), "its middle: x, y, z"),
    NUMBER("radius_m", 0.001, 100, "m", SOLID(radius_m), "its radius"),
};
static const struct field capsule_rows[] = {
    PLACE("from_m", 3, SOLID(from), "one end of its middle line: x, y, z"),
    PLACE("to_m", 3, SOLID(to), "the other end of it"),
    NUMBER("radius_m", 0.001, 100, "m", SOLID(radius_m), "half its thickness"),
};
static const struct field half_space_rows[] = {
    PLACE("point_m", 3, SOLID(point), "a point of its surface: x, y, z"),
    {ROW(FIELD_POINT, "normal", -1, 1, NULL, SOLID(normal), "the direction out of it, into the room: x, y, z"),
     .items = 3},
};
static const struct field_table shapes[LAYOUT_SHAPES] = {
    [LAYOUT_BOX] = TABLE(box_rows),
    [LAYOUT_PRISM] = TABLE(solid_prism_rows),
    [LAYOUT_SPHERE] = TABLE(sphere_rows),
    [LAYOUT_CAPSULE] = TABLE(capsule_rows),
    [LAYOUT_HALF_SPACE] = TABLE(half_space_rows),
};

#define ZONE(member) offsetof(struct layout_zone, member)
#define SHAPE                                                                                                          \
    SPARE_WORD("shape", LAYOUT_BOX, SOLID(shape), "what kind of solid it is", "box", "prism", "sphere", "capsule",     \
               "half-space")
#define NAME TEXT("name", 1, SHOW_NAME, ZONE(name), "what people call it")

static const struct field keepout_rows[] = {
    SHAPE,
    NAME,
    NUMBER("padding_m", 0, 5, "m", ZONE(padding_m), "the extra distance kept from it"),
    SPARE_FLAG("yields", ZONE(yields), "whether it gives way while a spotter holds the enabling device"),
};
const struct field_table layout_zone_keepout = {
    .fields = keepout_rows, .count = sizeof keepout_rows / sizeof keepout_rows[0], .variant = shapes};

static const struct field slow_rows[] = {
    SHAPE,
    NAME,
    NUMBER("speed_mps", 0.01, 5, "m/s", ZONE(speed_mps),
           "the fastest the rig moves while any part of its body is in it"),
};
const struct field_table layout_zone_slow = {
    .fields = slow_rows, .count = sizeof slow_rows / sizeof slow_rows[0], .variant = shapes};

static const struct field view_rows[] = {SHAPE, NAME};
const struct field_table layout_zone_view = {
    .fields = view_rows, .count = sizeof view_rows / sizeof view_rows[0], .variant = shapes};
