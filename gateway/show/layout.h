/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What a show file holds, key by key, and the draft it is read into. The draft keeps a value where the file has it and
 * struct show does not want it that way (a corner as x y, a keep-out as one thing, a rate a second); fill.h turns a
 * draft without faults into a show.
 */
#ifndef STEADYHAND_SHOW_LAYOUT_H
#define STEADYHAND_SHOW_LAYOUT_H

#include "gateway/show/field.h"
#include "gateway/show/show.h"

enum {
    LAYOUT_MAX_EXTENSIONS = VOLUME_MAX_STAGES - 1, /* of the stage, besides the stage itself */
    LAYOUT_MAX_LIMBS = VOLUME_MAX_LIMBS - 1,       /* besides the sphere of the body */
};

struct layout_prism {
    uint32_t corners;
    double corner[SHAPE_MAX_CORNERS][2];
    double floor_m, ceiling_m;
};

/* Word of "shape". */
enum layout_shape { LAYOUT_BOX, LAYOUT_PRISM, LAYOUT_SPHERE, LAYOUT_CAPSULE, LAYOUT_HALF_SPACE, LAYOUT_SHAPES };

/* A solid; what it has depends on its shape. */
struct layout_solid {
    uint32_t shape;
    struct vec3 from, to; /* corners of a box, ends of a capsule */
    double yaw_rad, pitch_rad, roll_rad;
    struct layout_prism prism;
    struct vec3 centre;
    double radius_m;
    struct vec3 point, normal;
};

/* Keep-outs, slow zones and view keep-outs; each has some of the last three. */
struct layout_zone {
    char name[SHOW_NAME];
    struct layout_solid solid;
    double padding_m, speed_mps;
    bool yields;
};

struct layout_limb {
    struct vec3 from, to;
    double radius_m;
};

struct layout_tether {
    bool given;
    uint32_t kind; /* 0 straight, 1 hanging */
    struct vec3 anchor;
    double length_m, radius_m, side_m, floor_m;
};

struct layout_cords {
    bool given;
    double min_n, max_n, rated_n, mass_kg, body_kg, reserve_mps2, min_length_m, look_s, band_share, trip_s;
};

struct layout_sensor {
    bool given;
    double sigma, share, bias, age_s; /* as in struct show_sensor */
    double sees_m;
};

struct layout_sensors {
    bool given;
    struct layout_sensor of[SHOW_SOURCES];
    double anchor_bias_m, uncertainty_max_m, astray_s;
};

struct layout_axis {
    bool given;
    double min, max, home, speed, accel, jerk;
};

struct layout_region {
    double pan_deg[2], tilt_deg[2], roll_deg[2];
};

struct layout_head {
    bool given;
    struct layout_axis pan, tilt, roll, zoom;
    uint32_t regions;
    struct layout_region region[HEAD_MAX_REGIONS];
    double hfov_rad, vfov_rad, range_m, clear_rad, latency_s, rest_s, recover_s, cross_s;
    struct vec3 camera; /* not there: at the lower end of the boom */
};

struct layout_swing {
    bool given;
    uint32_t shaper;
    double frequency_hz, damping, share;
};

/* Where the file is silent. */
#define LAYOUT_CATEGORY     2
#define LAYOUT_CONFIRM_S    0.5
#define LAYOUT_STANDSTILL_S 5.0

struct layout_stop {
    bool given, categories;
    uint32_t operator, spotter, moderator, inhibit; /* if `categories` were given */
    double confirm_s, standstill_s;                 /* if it was given */
};

struct layout_subject {
    bool given;
    double radius_m, height_m, speed_mps, uncertainty_m;
    bool required;
};

/* Of a lane, or what a mode allows every lane at most; a mode may be silent on each. */
struct layout_limits {
    bool given;
    double speed_mps, accel_mps2, jerk_mps3, floor_m, ceiling_m;
};

struct layout_listener {
    char host[SHOW_HOST];
    uint32_t port;
    uint32_t origins;
    char origin[SHOW_ORIGINS][SHOW_ORIGIN];
};

/* What has no place in struct show_sim as the file says it. */
struct layout_sim {
    uint32_t walks;
    struct vec3 walk[SHOW_WALK];
};

struct layout_draft {
    struct show show; /* fields that need no turning are read straight into it */
    char schema[SHOW_RULES];

    uint32_t rig_port;
    uint32_t anchors;
    struct vec3 anchor[VOLUME_MAX_CORDS];
    double body_radius_m, boom_m, boom_radius_m, cord_radius_m;
    uint32_t limbs;
    struct layout_limb limb[LAYOUT_MAX_LIMBS];
    uint32_t yaw; /* enum volume_yaw */
    struct layout_tether tether;
    struct layout_cords cords;
    struct layout_sensors sensors;
    struct layout_head head;
    struct layout_swing swing;
    struct layout_sim sim;

    struct layout_prism stage;
    uint32_t extensions;
    struct layout_prism extension[LAYOUT_MAX_EXTENSIONS];
    uint32_t keepouts, slows, views;
    struct layout_zone keepout[VOLUME_MAX_KEEPOUTS], slow[POLICY_MAX_ZONES], view[VIEW_MAX_SHAPES];
    struct layout_subject subject;

    struct layout_limits operator, audience, mode[LIMITS_MODES];
    struct layout_stop stop;
    double unseen_m, lag_s;
    uint32_t first_mode;
    struct layout_listener audience_listen, desk_listen;
    uint32_t edges;
    double wishes_per_s;
    uint32_t wish_burst;
};

extern const struct field_table layout_file;

/* Its parts. */
extern const struct field_table layout_rig, layout_room, layout_limits;
extern const struct field_table layout_sensor, layout_head;
extern const struct field_table layout_zone_keepout, layout_zone_slow, layout_zone_view, layout_zone_prism;

#endif
