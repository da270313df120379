/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/layout.h"

#include <assert.h>
#include <string.h>

/* The schema for editors, deploy/schema/show.schema.json, says the same; a unit test holds the two together. */

static_assert(sizeof(struct vec3) == 3 * sizeof(double), "a point is read as three numbers");

enum { ROOM = 500 }; /* metres; nothing lies further from the origin */

#define AT(member) offsetof(struct layout_draft, member)
#define TABLE(rows)                                                                                                    \
    {                                                                                                                  \
        rows, sizeof(rows) / sizeof(rows[0])                                                                           \
    }

#define ROW(kind_, key_, min_, max_, unit_, offset_, what_)                                                            \
    .key = key_, .kind = kind_, .min = min_, .max = max_, .unit = unit_, .offset = offset_, .what = what_
#define NUMBER(key, min, max, unit, offset, what)                                                                      \
    {                                                                                                                  \
        ROW(FIELD_NUMBER, key, min, max, unit, offset, what)                                                           \
    }
#define SECONDS(key, min, max, offset, what)                                                                           \
    {                                                                                                                  \
        ROW(FIELD_SECONDS, key, min, max, "s", offset, what)                                                           \
    }
#define WHOLE(key, min, max, offset, what)                                                                             \
    {                                                                                                                  \
        ROW(FIELD_WHOLE, key, min, max, NULL, offset, what)                                                            \
    }
#define TEXT(key, min, size, offset, what)                                                                             \
    {                                                                                                                  \
        ROW(FIELD_TEXT, key, min, (size)-1, NULL, offset, what)                                                        \
    }
#define HOST(offset)                                                                                                   \
    {                                                                                                                  \
        ROW(FIELD_HOST, "host", 7, 15, NULL, offset, "the address, four numbers with dots")                            \
    }
#define FLAG(key, offset, what)                                                                                        \
    {                                                                                                                  \
        ROW(FIELD_FLAG, key, 0, 1, NULL, offset, what)                                                                 \
    }
#define POINT(key, n, offset, what)                                                                                    \
    {                                                                                                                  \
        ROW(FIELD_POINT, key, -ROOM, ROOM, "m", offset, what), .items = n                                              \
    }
#define OBJECT(key, rows, what)                                                                                        \
    {                                                                                                                  \
        ROW(FIELD_OBJECT, key, 0, 0, NULL, 0, what), .table = &rows                                                    \
    }
#define LIST(key, min, max, count, item_, first_, what)                                                                \
    {                                                                                                                  \
        ROW(FIELD_LIST, key, min, max, NULL, AT(count), what), .item = &item_, .first = AT(first_),                    \
                                                               .stride = sizeof(((struct layout_draft *)0)->first_[0]) \
    }

static const struct field about_rows[] = {
    TEXT("name", 1, SHOW_NAME, AT(show.name), "the name of the show, as viewers read it"),
    TEXT("house_rules", 0, SHOW_RULES, AT(show.rules), "what viewers are told about good manners"),
};
static const struct field_table about = TABLE(about_rows);

static const struct field link_rows[] = {
    HOST(AT(show.rig_host)),
    WHOLE("port", 1, 65535, AT(rig_port), "the UDP port the rig listens on"),
};
static const struct field_table link_table = TABLE(link_rows);

#define SIM(member) AT(show.sim.member)
static const struct field sim_rows[] = {
    NUMBER("platform_kg", 0.01, 200, "kg", SIM(platform_kg), "the mass of what the cords meet at"),
    NUMBER("body_kg", 0.01, 200, "kg", SIM(body_kg), "the mass of camera, head and battery"),
    NUMBER("swing_damping", 0, 1, NULL, SIM(swing_damping), "the damping ratio of the body's swing"),
    NUMBER("cord_stiffness_npm", 10, 1e6, "N/m", SIM(cord_stiffness_npm), "the stiffness of one cord"),
    NUMBER("cord_damping_nspm", 0, 1e5, "N s/m", SIM(cord_damping_nspm), "the damping of one cord"),
    NUMBER("winch_speed_mps", 0.01, 20, "m/s", SIM(winch_speed_mps), "the fastest a winch runs"),
    NUMBER("winch_accel_mps2", 0.05, 100, "m/s2", SIM(winch_accel_mps2), "the most a winch accelerates"),
    NUMBER("noise_m", 0, 0.5, "m", SIM(noise_m), "1 sigma of the position the rig reports"),
    {ROW(FIELD_DEGREES, "noise_deg", 0, 20, "deg", SIM(noise_rad), "1 sigma of the swing the rig reports")},
    NUMBER("command_latency_s", 0, 1, "s", SIM(command_latency_s), "the time from a command to motion"),
    NUMBER("telemetry_latency_s", 0, 1, "s", SIM(telemetry_latency_s), "the time from motion to telemetry"),
};
static const struct field_table sim = TABLE(sim_rows);

static const struct field anchor = POINT(NULL, 3, 0, "where a cord leaves its pulley: x, y, z");

#define GUARD(member)   AT(show.policy.guard.member)
#define OUTLINE(member) GUARD(volume.outline.member)
static const struct field rig_rows[] = {
    OBJECT("link", link_table, "where the rig controller listens"),
    LIST("anchors_m", 1, VOLUME_MAX_CORDS, anchors, anchor, anchor, "the fixed ends of the cords"),
    NUMBER("cord_radius_m", 0, 0.05, "m", OUTLINE(cord_radius_m), "half the thickness of a cord"),
    NUMBER("body_radius_m", 0.01, 2, "m", OUTLINE(body_radius_m), "the sphere around camera, head and battery"),
    NUMBER("boom_m", 0, 5, "m", OUTLINE(boom_m), "the distance from where the cords meet to the body's centre"),
    NUMBER("boom_radius_m", 0, 0.5, "m", OUTLINE(boom_radius_m), "half the thickness of the boom"),
    NUMBER("brake_mps2", 0.05, 20, "m/s2", GUARD(brake_mps2), "the braking that the rig is sure to reach"),
    NUMBER("latency_s", 0, 1, "s", GUARD(latency_s), "the time from a command to motion and back to telemetry"),
    NUMBER("lease_s", 0.05, 2, "s", GUARD(lease_s), "how long the rig obeys an intent that is not renewed"),
    SECONDS("telemetry_timeout_s", 0.05, 2, AT(show.policy.telemetry_timeout_ns),
            "the age at which telemetry counts as lost"),
    NUMBER("jump_mps", 0.1, 100, "m/s", AT(show.policy.jump_mps), "the speed above which a new position is a jump"),
    {ROW(FIELD_OBJECT, "simulated", 0, 0, NULL, SIM(enabled), "the rig to simulate"), .table = &sim, .optional = true},
};
static const struct field_table rig = TABLE(rig_rows);

static const struct field corner = POINT(NULL, 2, 0, "a corner of the stage on the plan: x, y");

static const struct field stage_rows[] = {
    LIST("footprint_m", 3, SHAPE_MAX_CORNERS, corners, corner, corner, "the outline of the stage on the plan"),
    NUMBER("floor_m", -ROOM, ROOM, "m", AT(floor_m), "the lowest height any part of the rig may reach"),
    NUMBER("ceiling_m", -ROOM, ROOM, "m", AT(ceiling_m), "the greatest height any part of the rig may reach"),
};
static const struct field_table stage = TABLE(stage_rows);

#define KEEPOUT(member) offsetof(struct layout_keepout, member)
static const struct field keepout_rows[] = {
    TEXT("name", 1, SHOW_NAME, KEEPOUT(name), "what people call it"),
    POINT("from_m", 3, KEEPOUT(from), "the corner of the box with the least x, y and z"),
    POINT("to_m", 3, KEEPOUT(to), "the corner of the box with the greatest x, y and z"),
    NUMBER("padding_m", 0, 5, "m", KEEPOUT(padding_m), "the extra distance kept from it"),
};
static const struct field_table keepout_table = TABLE(keepout_rows);
static const struct field keepout = {.kind = FIELD_OBJECT, .table = &keepout_table, .what = "a box to keep out of"};

static const struct field room_rows[] = {
    POINT("home_m", 3, AT(show.home), "where the cords meet when the show starts: x, y, z"),
    OBJECT("stage", stage, "where the rig may be"),
    LIST("keep_outs", 0, VOLUME_MAX_KEEPOUTS, keepouts, keepout, keepout, "where the rig must never be"),
};
static const struct field_table room = TABLE(room_rows);

#define LANE(name, most_speed)                                                                                         \
    static const struct field name##_lane_rows[] = {                                                                   \
        NUMBER("speed_mps", 0.01, most_speed, "m/s", AT(name.speed_mps), "the fastest this lane moves the rig"),       \
        NUMBER("accel_mps2", 0.01, 10, "m/s2", AT(name.accel_mps2), "how briskly it changes speed"),                   \
    };                                                                                                                 \
    static const struct field_table name##_lane = TABLE(name##_lane_rows)
LANE(operator, 5);
LANE(audience, 1);

static const struct field limits_rows[] = {
    NUMBER("margin_m", 0.001, 2, "m", GUARD(margin_m), "the clearance that always remains, whatever else is added"),
    {ROW(FIELD_DEGREES, "swing_max_deg", 0.1, 90, "deg", GUARD(swing_max_rad), "the swing above which motion waits")},
    OBJECT("operator", operator_lane, "what the operator's lane may do"),
    OBJECT("audience", audience_lane, "what the audience's lane may do"),
};
static const struct field_table limits = TABLE(limits_rows);

static const struct field poll_rows[] = {
    SECONDS("round_s", 1, 600, AT(show.crowd.poll.round_ns), "how long a round of voting is open"),
    SECONDS("grace_s", 0.05, 10, AT(show.crowd.poll.grace_ns), "the wait for votes under way when a round closes"),
    NUMBER("step_m", 0.01, 5, "m", AT(show.crowd.step_m), "how far the camera moves when a vote is won"),
    NUMBER("suspected_false_share", 0, 0.5, NULL, AT(show.crowd.poll.sigma),
           "the share of voices that may not be honest; a change needs half of it more than half the votes"),
    WHOLE("quorum", 1, 1000000, AT(show.crowd.poll.quorum), "the fewest votes that count"),
};
static const struct field_table poll = TABLE(poll_rows);

static const struct field blend_rows[] = {
    WHOLE("quorum", 1, 1000000, AT(show.crowd.blend_quorum), "the fewest held sticks that count"),
};
static const struct field_table blend = TABLE(blend_rows);

static const struct field origin = {ROW(FIELD_ORIGIN, NULL, 8, SHOW_ORIGIN - 1, NULL, 0, "a page that may connect")};

#define LISTENER(name)                                                                                                 \
    static const struct field name##_rows[] = {                                                                        \
        HOST(AT(name.host)),                                                                                           \
        WHOLE("port", 1, 65535, AT(name.port), "the TCP port to listen on"),                                           \
        {ROW(FIELD_LIST, "origins", 0, SHOW_ORIGINS, NULL, AT(name.origins),                                           \
             "the origins that may connect; none: pages opened by address, or as localhost"),                          \
         .item = &origin, .first = AT(name.origin), .stride = SHOW_ORIGIN, .optional = true},                          \
    };                                                                                                                 \
    static const struct field_table name = TABLE(name##_rows)
LISTENER(audience_listen);
LISTENER(desk_listen);

#define ADMIT(member) AT(show.admission.member)
static const struct field audience_rows[] = {
    {.key = "mode",
     .kind = FIELD_WORD,
     .offset = AT(mode),
     .what = "how viewers steer when the show starts",
     .words = (const char *const[]){"closed", "poll", "blend", NULL}},
    NUMBER("scale", 0, 1, NULL, AT(show.audience_scale), "the share of the audience's speed in force at start"),
    OBJECT("poll", poll, "the rules of the vote"),
    OBJECT("blend", blend, "the rules of the shared stick"),
    NUMBER("goal_timeout_s", 0.5, 120, "s", AT(show.policy.lanes.goal_timeout_s), "when a step not reached is dropped"),
    SECONDS("crowd_lease_s", 0.1, 5, AT(show.crowd_lease_ns), "the silence after which an edge loses its voice"),
    OBJECT("listen", audience_listen, "where the audience page is served"),
    WHOLE("edges", 1, 16, AT(edges), "the number of processes that serve viewers"),
    WHOLE("max_viewers", 1, 100000, ADMIT(max_viewers), "the most viewers an edge lets in"),
    WHOLE("max_per_address", 1, 100000, ADMIT(max_per_address), "the most viewers from one address"),
    WHOLE("message_bytes", 64, 4096, ADMIT(message_bytes), "the longest message a viewer may send"),
    WHOLE("header_bytes", 512, 65536, ADMIT(header_bytes), "the longest request header"),
    NUMBER("handshake_s", 0.5, 60, "s", ADMIT(handshake_s), "the time a viewer has to connect"),
    NUMBER("wishes_per_s", 0.1, 100, "1/s", AT(wishes_per_s), "the wishes a viewer may send in the long run"),
    WHOLE("wish_burst", 1, 100, AT(wish_burst), "the wishes a viewer may send at once"),
};
static const struct field_table audience_table = TABLE(audience_rows);

static const struct field desk_rows[] = {
    OBJECT("listen", desk_listen, "where the desk and the stop page are served"),
    FLAG("presence_required", AT(show.policy.presence_required), "whether the rig stops when no operator is connected"),
    SECONDS("presence_timeout_s", 0.5, 10, AT(show.policy.presence_timeout_ns),
            "the silence after which an operator counts as gone"),
    SECONDS("operator_lease_s", 0.5, 5, AT(show.operator_lease_ns),
            "the silence after which an operator who holds control lets go"),
};
static const struct field_table desk_table = TABLE(desk_rows);

static const struct field file_rows[] = {
    {ROW(FIELD_TEXT, "$schema", 1, SHOW_RULES - 1, NULL, AT(schema), "for editors: the schema of this file"),
     .optional = true},
    OBJECT("show", about, "what the show is called"),
    OBJECT("rig", rig, "the machine"),
    OBJECT("room", room, "the space it moves in"),
    OBJECT("limits", limits, "how it may move"),
    OBJECT("audience", audience_table, "what viewers may do"),
    OBJECT("desk", desk_table, "what the people in charge use"),
};
const struct field_table layout_file = TABLE(file_rows);

enum { TICKS_PER_S = 100 };

static void fill_volume(const struct layout_draft *draft, struct volume *volume)
{
    volume->outline.cords = (int)draft->anchors;
    memcpy(volume->outline.anchor, draft->anchor, draft->anchors * sizeof draft->anchor[0]);
    volume->stage.corners = (int)draft->corners;
    for (uint32_t i = 0; i < draft->corners; i++) {
        volume->stage.x[i] = draft->corner[i][0];
        volume->stage.y[i] = draft->corner[i][1];
    }
    volume->stage.z_lo = draft->floor_m;
    volume->stage.z_hi = draft->ceiling_m;
    volume->keepouts = (int)draft->keepouts;
    for (uint32_t i = 0; i < draft->keepouts; i++) {
        volume->keepout[i] = (struct shape_box){draft->keepout[i].from, draft->keepout[i].to};
        volume->padding_m[i] = draft->keepout[i].padding_m;
    }
}

/* An idle lane only ever comes to rest: as gently as the gentler of the others. */
static void fill_lanes(const struct layout_draft *draft, struct policy_config *policy)
{
    const struct lane_limits *op = &draft->operator, * au = & draft->audience;
    struct lanes_config *lanes = &policy->lanes;
    lanes->limits[LANE_OPERATOR] = *op;
    lanes->limits[LANE_AUDIENCE] = *au;
    lanes->limits[LANE_IDLE] =
        (struct lane_limits){fmin(op->speed_mps, au->speed_mps), fmin(op->accel_mps2, au->accel_mps2)};
    lanes->max_nudge_m = draft->show.crowd.step_m;
    lanes->brake_mps2 = policy->guard.brake_mps2;
    lanes->dt_s = policy->guard.dt_s = 1.0 / TICKS_PER_S;
    policy->guard.speed_mps = fmax(op->speed_mps, au->speed_mps);
}

static void fill_listener(const struct layout_listener *draft, struct show_listener *listener)
{
    memcpy(listener->host, draft->host, sizeof listener->host);
    memcpy(listener->origin, draft->origin, sizeof listener->origin);
    listener->port = (uint16_t)draft->port;
    listener->origins = (int)draft->origins;
}

/* A burst of n at one instant is a tolerance of n - 1 intervals (pace.h). */
static void fill_pace(const struct layout_draft *draft, struct pace_config *pace)
{
    pace->interval_ns = (uint64_t)llround(1e9 / draft->wishes_per_s);
    pace->tolerance_ns = (draft->wish_burst - 1) * pace->interval_ns;
}

void layout_room(const struct layout_draft *draft, struct show *show)
{
    *show = draft->show;
    fill_volume(draft, &show->policy.guard.volume);
    for (uint32_t i = 0; i < draft->keepouts; i++)
        memcpy(show->keepout_name[i], draft->keepout[i].name, SHOW_NAME);
}

void layout_show(const struct layout_draft *draft, struct show *show)
{
    layout_room(draft, show);
    fill_lanes(draft, &show->policy);
    fill_listener(&draft->audience_listen, &show->audience);
    fill_listener(&draft->desk_listen, &show->desk);
    fill_pace(draft, &show->admission.pace);
    if (!show->sim.enabled)
        memset(&show->sim, 0, sizeof show->sim);
    show->first_mode = (enum crowd_mode)draft->mode;
    show->rig_port = (uint16_t)draft->rig_port;
    show->edges = (int)draft->edges;
}
