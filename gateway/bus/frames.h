/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What crosses the bus: snapshots up (edge to core), scenes down (core to edge). One frame a message; fixed
 * little-endian layout, written out byte by byte in frames.c; a version byte first. Decoding checks length, version,
 * type and every range to the last byte; anything else is malformed, is counted by the caller and changes nothing. Core
 * trusts no edge: it re-validates here.
 */
#ifndef STEADYHAND_BUS_FRAMES_H
#define STEADYHAND_BUS_FRAMES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "policy/crowd/crowd.h"
#include "policy/motion/policy.h"

enum {
    BUS_VERSION = 6,
    BUS_FRAME_MAX = 2048,      /* any frame, encoded */
    BUS_MAX_VIEWERS = 1 << 20, /* that one edge may claim: the sum over all edges cannot overflow a count */
};

enum bus_type { BUS_SNAPSHOT = 1, BUS_SCENE = 2 };

/* No number in a scene is greater, whatever its unit: keeps text made from it short. */
#define BUS_MAX_REAL 1e6

/* Counts since the edge connected to core, for the desk and the summary: core adds up the counts of connections that
 * have ended, so an edge that connects again counts from 0. */
struct edge_counts {
    uint64_t accepted; /* wishes counted */
    uint64_t limited;  /* wishes over the viewer's rate */
    uint64_t refused;  /* wishes malformed or not possible now */
    uint64_t connects;
    uint64_t turned_away; /* connections refused by a limit */
};

/* An edge's whole crowd, now. */
struct snapshot {
    uint64_t seq;   /* grows by one per frame; core drops what is not newer */
    uint32_t round; /* the round its votes are for */
    struct tally tally;
    struct edge_counts counts;
};

/* The small state message for every page. */
struct scene {
    uint64_t seq;
    uint64_t now_ns; /* core's monotonic clock */
    struct vec3 position, velocity, wanted;
    double swing_rad, uncertainty_m, margin_m, braking_m;
    bool rig_fresh, rig_fault, rig_powered;
    bool rig_at_rest; /* measured */
    enum stop_state stop_state;
    enum stop_category stop_category; /* of the stop in force; 2 while none is */
    enum reason stop_reason;
    enum lane lane;
    reason_set reasons;
    struct reason_detail detail[REASON_COUNT]; /* of the reasons that apply and of stop_reason; else all zero */
    bool goal_set;
    struct vec3 goal;

    enum limits_mode limits_mode;
    double floor_m, ceiling_m;       /* in force for body and boom; -+SHAPE_FAR_M: the stage's own */
    double speed_mps;                /* in force for the lane that drives */
    struct volume_clearance nearest; /* the pair that is nearest; which limb is not sent */
    int cords;                       /* whose tension is known, 0: none is */
    double tension_n[VOLUME_MAX_CORDS];
    double tension_margin_n; /* the least distance of a cord from a limit ... */
    int tension_cord;        /* ... and whose */
    bool yaw_known;
    double yaw_rad;
    bool head_known;
    double head[HEAD_AXES]; /* rad, zoom: magnification */
    bool subject_known;
    struct vec3 subject;
    double subject_age_s;

    enum crowd_mode mode;
    double audience_scale;
    enum poll_phase poll_phase;
    uint32_t round;
    uint32_t round_left_ms;
    enum choice last_outcome;
    uint32_t last_voices;
    uint32_t needed;    /* votes a change needs now */
    double blend[3];    /* median stick */
    struct tally crowd; /* merged over all edges; the histograms are not sent (zero after decoding) */
    uint32_t edges;     /* alive */
};

/* Return the length written, 0 if `size` is too small or the struct is one that decoding would refuse. Of a scene only
 * enums, the reason set and indexes can be refused: its numbers are made finite and brought into range (NaN: 0),
 * so that the pages still hear why everything has stopped when a number has gone bad. */
size_t frames_encode_snapshot(const struct snapshot *s, uint8_t *buf, size_t size);
size_t frames_encode_scene(const struct scene *s, uint8_t *buf, size_t size);

/* True on success; on failure *s is unchanged. A snapshot's tally must be coherent (tally_valid) and claim at most
 * BUS_MAX_VIEWERS; a scene's numbers must be within +-BUS_MAX_REAL, its scale in 0..1, its blend in -1..1, its enums in
 * range, its reasons known ones, its indexes of something there could be. */
bool frames_decode_snapshot(const uint8_t *buf, size_t len, struct snapshot *s);
bool frames_decode_scene(const uint8_t *buf, size_t len, struct scene *s);

#endif
