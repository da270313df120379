/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The machine: what hangs on which cords, how it moves, what it measures. */
#include <assert.h>

#include "gateway/show/layout_rows.h"

static_assert(sizeof(struct vec3) == 3 * sizeof(double), "a point is read as three numbers");

static const struct field link_rows[] = {
    HOST(AT(show.rig_host)),
    WHOLE("port", 1, 65535, AT(rig_port), "the UDP port the rig listens on"),
};
static const struct field_table link_table = TABLE(link_rows);

static const struct field walk = PLACE(NULL, 3, 0, "a corner of the way, at the height of the floor: x, y, z");

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
    DEGREES("noise_deg", 0, 20, SIM(noise_rad), "1 sigma of the swing the rig reports"),
    NUMBER("command_latency_s", 0, 1, "s", SIM(command_latency_s), "the time from a command to motion"),
    NUMBER("telemetry_latency_s", 0, 1, "s", SIM(telemetry_latency_s), "the time from motion to telemetry"),
    SPARE_DEGREES("yaw_deg", -180, 180, 0, SIM(yaw_rad), "how the body hangs about the vertical"),
    SPARE_DEGREES("yaw_sway_deg", 0, 180, 0, SIM(yaw_sway_rad), "how far to either side it turns from there"),
    SPARE_NUMBER("yaw_period_s", 0.5, 600, "s", 10, SIM(yaw_period_s), "how long that takes, there and back"),
    SPARE_NUMBER("head_latency_s", 0, 1, "s", 0.05, SIM(head_latency_s), "how late the head's axes follow"),
    SPARE_LIST(struct layout_draft, "walk_m", SHOW_WALK, sim.walks, walk, sim.walk,
               "the corners of the way that somebody walks, round and round"),
    SPARE_NUMBER("walk_mps", 0, 3, "m/s", 0.5, SIM(walk_mps), "how fast they walk"),
};
static const struct field_table sim = TABLE(sim_rows);

static const struct field anchor = PLACE(NULL, 3, 0, "where a cord leaves its pulley: x, y, z");

#define LIMB(member) offsetof(struct layout_limb, member)
static const struct field limb_rows[] = {
    {ROW(FIELD_POINT, "from_m", -10, 10, "m", LIMB(from), "one end of its middle line, from the lower end of the boom"),
     .items = 3},
    {ROW(FIELD_POINT, "to_m", -10, 10, "m", LIMB(to), "the other end; the same point again for a sphere"), .items = 3},
    NUMBER("radius_m", 0.001, 2, "m", LIMB(radius_m), "half its thickness"),
};
static const struct field_table limb_table = TABLE(limb_rows);
static const struct field limb = {.kind = FIELD_OBJECT, .table = &limb_table, .what = "a part that sticks out"};

#define CORDS(member) AT(cords.member)
static const struct field cords_rows[] = {
    NUMBER("min_n", 0, 1e5, "N", CORDS(min_n), "the pull below which a cord counts as slack"),
    NUMBER("max_n", 0.1, 1e6, "N", CORDS(max_n), "the pull above which a cord counts as overloaded"),
    SPARE_NUMBER("rated_n", 0.1, 1e6, "N", NAN, CORDS(rated_n),
                 "the working load limit of the weakest of cord, knot, anchor and winch, as a rigger says"),
    NUMBER("mass_kg", 0.01, 1000, "kg", CORDS(mass_kg), "all that hangs: platform, boom, head, camera, battery, cable"),
    SPARE_NUMBER("body_kg", 0, 1000, "kg", NAN, CORDS(body_kg), "what of it swings on the boom; all of it if left out"),
    NUMBER("reserve_mps2", 0.01, 20, "m/s2", CORDS(reserve_mps2),
           "the acceleration, in any direction, for which the cords must be good wherever the camera may be"),
    SPARE_NUMBER("min_length_m", 0.01, 50, "m", 0.2, CORDS(min_length_m), "the shortest a cord may get"),
    SPARE_NUMBER("look_s", 0, 2, "s", 0.3, CORDS(look_s), "how far ahead pulls are foreseen"),
    SPARE_NUMBER("band_share", 0.01, 0.5, NULL, 0.2, CORDS(band_share),
                 "the share of a cord's range, at each end, in which motion is slowed"),
    SPARE_NUMBER("trip_s", 0.02, 2, "s", 0.2, CORDS(trip_s),
                 "how long a pull may be beyond a limit before the rig stops"),
};
static const struct field_table cords = TABLE(cords_rows);

static const struct field straight_rows[] = {
    PLACE("anchor_m", 3, AT(tether.anchor), "where the cable leaves its fixed end: x, y, z"),
    NUMBER("length_m", 0.1, 200, "m", AT(tether.length_m),
           "how much of it there is from there to the boom's lower end"),
    NUMBER("radius_m", 0, 0.1, "m", AT(tether.radius_m), "half its thickness"),
};
static const struct field hanging_rows[] = {
    PLACE("anchor_m", 3, AT(tether.anchor), "where the cable leaves its fixed end: x, y, z"),
    NUMBER("length_m", 0.1, 200, "m", AT(tether.length_m),
           "how much of it there is from there to the boom's lower end"),
    NUMBER("radius_m", 0, 0.1, "m", AT(tether.radius_m), "half its thickness"),
    NUMBER("side_m", 0, 10, "m", AT(tether.side_m), "how far it may swing to either side of the line between its ends"),
    NUMBER("floor_m", -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", AT(tether.floor_m),
           "the height it lies on and never gets below"),
};
static const struct field_table tether_kinds[] = {TABLE(straight_rows), TABLE(hanging_rows)};
static const struct field tether_rows[] = {
    WORD("kind", AT(tether.kind), "how it runs: kept straight, or hanging in a bow", "straight", "hanging"),
};
static const struct field_table tether = {.fields = tether_rows, .count = 1, .variant = tether_kinds};

static const struct field swing_rows[] = {
    WORD("shaper", AT(swing.shaper), "how motion is shaped so that the body does not swing", "none", "zv", "zvd", "ei"),
    SPARE_NUMBER("frequency_hz", 0.05, 5, "Hz", NAN, AT(swing.frequency_hz),
                 "the swings a second, as measured; from boom_m if left out"),
    SPARE_NUMBER("damping", 0, 0.3, NULL, 0.01, AT(swing.damping), "the damping ratio of the swing"),
    SPARE_NUMBER("share", 0.005, 0.2, NULL, 0.05, AT(swing.share), "ei: the share of the swing that is put up with"),
};
static const struct field_table swing = TABLE(swing_rows);

#define GUARD(member) AT(show.policy.guard.member)
static const struct field rig_rows[] = {
    OBJECT("link", link_table, "where the rig controller listens"),
    LIST(struct layout_draft, "anchors_m", 1, VOLUME_MAX_CORDS, anchors, anchor, anchor, "the fixed ends of the cords"),
    SPARE_OBJECT("cords", cords, AT(cords.given), "what the cords may carry; without it their pull is not watched"),
    NUMBER("cord_radius_m", 0, 0.05, "m", AT(cord_radius_m), "half the thickness of a cord"),
    NUMBER("body_radius_m", 0.01, 2, "m", AT(body_radius_m), "the sphere around camera, head and battery"),
    SPARE_LIST(struct layout_draft, "limbs", LAYOUT_MAX_LIMBS, limbs, limb, limb, "what sticks out of that sphere"),
    SPARE_WORD("yaw", VOLUME_YAW_UNKNOWN, AT(yaw),
               "how the limbs turn about the vertical: not at all, as the rig reports, with the head's pan, or unknown",
               "fixed", "reported", "unknown", "pan"),
    SPARE_DEGREES("yaw_degps", 0, 360, 20, AT(show.policy.yaw_radps),
                  "how fast the body may turn by itself, where its yaw is reported"),
    NUMBER("boom_m", 0, 5, "m", AT(boom_m), "the distance from where the cords meet to the body's centre"),
    NUMBER("boom_radius_m", 0, 0.5, "m", AT(boom_radius_m), "half the thickness of the boom"),
    SPARE_OBJECT("tether", tether, AT(tether.given), "the cable to the camera, if it has one"),
    SPARE_OBJECT("swing", swing, AT(swing.given), "how the body swings; without it nothing is shaped"),
    SPARE_OBJECT("head", layout_head, AT(head.given), "what turns the camera; without it nothing does"),
    SPARE_OBJECT("sensors", layout_sensor, AT(sensors.given),
                 "what the rig measures and how well; without it a position, as good as the rig says"),
    NUMBER("brake_mps2", 0.05, 20, "m/s2", GUARD(brake_mps2), "the braking that the rig is sure to reach"),
    NUMBER("latency_s", 0, 1, "s", GUARD(latency_s), "the time from a command to motion and back to telemetry"),
    NUMBER("lease_s", 0.05, 2, "s", GUARD(lease_s), "how long the rig obeys an intent that is not renewed"),
    SECONDS("telemetry_timeout_s", 0.05, 2, AT(show.policy.telemetry_timeout_ns),
            "the age at which telemetry counts as lost"),
    NUMBER("jump_mps", 0.1, 100, "m/s", AT(show.policy.jump_mps), "the speed above which a new position is a jump"),
    SPARE_OBJECT("simulated", sim, SIM(enabled), "the rig to simulate"),
};
const struct field_table layout_rig = TABLE(rig_rows);
