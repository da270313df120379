/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The rig link on the wire. Freestanding C11: a microcontroller compiles wire.c as it stands. No libc, no float formats
 * but IEEE 754 binary64/binary32, no alignment or byte order assumed.
 *
 * One UDP datagram a message, little-endian, one fixed length a type:
 *
 *    0 u32 magic "SHRL"   4 u8 version   5 u8 type   6 u16 body length   8 u64 session   16 u64 seq   24 body
 *    then a 16-byte tag: keyed BLAKE2b-128 (RFC 7693) over all bytes before it, with the direction's own key, so that a
 *    datagram cannot be reflected (seal.h computes it; the codec only leaves room).
 *
 *   type        body (in this order)                                                                      datagram
 *   HELLO       core_nonce 16                                                                             56 bytes
 *   CHALLENGE   core_nonce 16, rig_nonce 16, u64 session                                                  80
 *   CONFIRM     rig_nonce 16                                                                              56
 *   INTENT      u64 expires, u64 stop_count, u64 permit, u8 motion, u8 power, u8 category,
 *               f64 velocity[3], u8 cords, f32 cord_rate[8], f32 cord_tension[8], f32 head_rate[4]        172
 *   STOP        u64 stop_count, u8 reason, u8 category                                                    50
 *   TELEMETRY   u64 rig_ns, u64 last_intent_seq, u64 stop_count, u32 flags, u16 sources,
 *               f64 position[3], f64 velocity[3], f32 uncertainty, f32 swing,
 *               u8 cords, f32 length[8], f32 tension[8], f32 range, f32 tilt[2], f32 yaw, f32 yaw_off,
 *               f32 head[4], f64 subject[3], f32 subject_age, u32 refused tag, session, seq, late, form   275
 *
 * A message has exactly one encoding: array entries past `cords` are zero, and so is everything of a source whose bit
 * is not set (`cords` if neither length nor tension is there). Zero is the one with all bits zero.
 *
 * Hello: core sends HELLO{core_nonce}; the rig answers CHALLENGE{core_nonce, rig_nonce, session}; core sends
 * CONFIRM{rig_nonce} under that session (HELLO and CHALLENGE carry session 0 and seq 0; all others neither). Only then
 * does the session exist; it ends the one before, starts stopped (stop count 1, permit 0) and sequence numbers start
 * anew. A replayed HELLO yields at most a CHALLENGE nobody confirms: the rig keeps its pending nonce until it is
 * confirmed, so that replays cannot push a genuine hello aside. Core goes on using its old session until telemetry
 * comes under the new one: whichever of the two sessions the rig is in, it either hears core's stops or is stopped.
 *
 * Sequence: the receiver accepts only a seq greater than any accepted before in this session, per direction.
 * Stops alone are judged by their count: they leave core from another thread and may arrive after an intent with a
 * greater seq. A stop count above the highest heard is always taken; one that is not above it (core repeats a stop
 * until it is confirmed) tells nothing new and must at least have a greater seq than the last stop, else it is counted
 * as a replay. Stops do not move the mark of the intents.
 *
 * Motion: the rig and its head move only under an intent with motion = 1 and permit == highest stop count heard != 0,
 * until it expires; in anything else they brake to rest by themselves and hold. Neutral first: in a new session, after
 * a lapse and after a fault nothing moves until one intent without motion has been accepted, so that nothing ever
 * begins, or goes on, in mid-move.
 *
 * Power: `power` says whether the drives shall be under power, with the brakes open; `category` is that of the stop in
 * force (IEC 60204-1; 2 while there is none). With power = 0 the rig sets its brakes and takes the power off: at once
 * for category 0, else when it has braked to rest. A STOP does by itself what its category says, before any intent: 2
 * brakes to rest and holds; 1 brakes to rest, then power off; 0 power off at once. Of several of the highest count the
 * most severe holds, those that tell nothing else new included. Power comes back only by an intent with power = 1 that
 * knows of every stop (stop_count == highest heard) and of none in force that takes it off (category = 2), and follows
 * one with power = 0 since the power was taken off or the session began: so nothing that was under way when a stop was
 * pressed powers the drives, only what people armed after it. After a lapse a rig holds under power as it was.
 *
 * Expiry: an intent names the rig-clock time after which it is void. Core derives it from the rig time in the newest
 * telemetry plus the time since, which is never ahead of the rig's clock; so lateness is judged by the rig's own clock
 * and no clocks are synchronised. The rig caps it: no intent lives longer than twice the lease it was set up with.
 */
#ifndef STEADYHAND_RIG_WIRE_H
#define STEADYHAND_RIG_WIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    WIRE_VERSION = 3,
    WIRE_MAX_CORDS = 8,
    WIRE_HEAD_AXES = 4, /* pan, tilt, roll [rad], zoom [magnification] */
    WIRE_NONCE = 16,
    WIRE_TAG = 16,
    WIRE_HEADER = 24,
    WIRE_MAX = 512, /* room for any datagram; longer ones are refused */
};

enum wire_type {
    WIRE_HELLO = 1,     /* core to rig */
    WIRE_CHALLENGE = 2, /* rig to core */
    WIRE_CONFIRM = 3,   /* core to rig */
    WIRE_INTENT = 4,    /* core to rig */
    WIRE_STOP = 5,      /* core to rig */
    WIRE_TELEMETRY = 6, /* rig to core */
};

struct wire_hello {
    uint8_t core_nonce[WIRE_NONCE];
};
struct wire_challenge {
    uint8_t core_nonce[WIRE_NONCE], rig_nonce[WIRE_NONCE];
    uint64_t session;
};
struct wire_confirm {
    uint8_t rig_nonce[WIRE_NONCE];
};

struct wire_intent {
    uint64_t expires_rig_ns;            /* rig clock; void after it */
    uint64_t stop_count;                /* the rig remembers the highest */
    uint64_t permit;                    /* motion only while permit == highest stop count */
    uint8_t motion;                     /* 0 or 1; 0 = brake to rest and hold */
    uint8_t power;                      /* 0 or 1; 1 if there is motion */
    uint8_t category;                   /* 0..2, of the stop in force; 2 if there is motion */
    double velocity[3];                 /* m/s */
    uint8_t cords;                      /* 0..WIRE_MAX_CORDS */
    float cord_rate[WIRE_MAX_CORDS];    /* m/s, positive pays out */
    float cord_tension[WIRE_MAX_CORDS]; /* N, wanted; 0: none in particular */
    float head_rate[WIRE_HEAD_AXES];    /* rad/s, zoom 1/s */
};

struct wire_stop {
    uint64_t stop_count;
    uint8_t reason;
    uint8_t category; /* 0..2 */
};

enum { /* wire_telemetry.flags */
       WIRE_RIG_MOVING = 1 << 0,
       WIRE_RIG_FAULT = 1 << 1,
       WIRE_RIG_BRAKING = 1 << 2, /* it may not move now, for whatever reason */
       WIRE_RIG_LAPSED = 1 << 3,  /* an intent expired, and none without motion has come since */
       WIRE_RIG_POWERED = 1 << 4, /* the drives are under power and the brakes open */
       WIRE_RIG_FLAGS = 31,       /* all of them */
};

/* What a rig may measure; telemetry says by one bit each, 1 << source, what is there. */
enum wire_source {
    WIRE_POSE,    /* position and velocity of the platform, and how uncertain the position is */
    WIRE_LENGTH,  /* of each cord, anchor to platform */
    WIRE_TENSION, /* of each cord, at the platform */
    WIRE_RANGE,   /* from the body down to the floor, along the boom */
    WIRE_TILT,    /* how far the body leans from plumb */
    WIRE_YAW,     /* of the body about the vertical */
    WIRE_HEAD,    /* where pan, tilt, roll and zoom stand */
    WIRE_SUBJECT, /* where somebody on the floor is */
    WIRE_SOURCES
};

struct wire_telemetry {
    uint64_t rig_ns;          /* rig clock when measured */
    uint64_t last_intent_seq; /* highest accepted */
    uint64_t stop_count;      /* highest heard: core repeats a stop until it sees it here */
    uint32_t flags;
    uint16_t sources;                   /* 1 << enum wire_source */
    double position[3], velocity[3];    /* m, m/s */
    float uncertainty_m;                /* of the position */
    float swing_rad;                    /* amplitude; of no source: 0 if it is not measured */
    uint8_t cords;                      /* 0..WIRE_MAX_CORDS */
    float cord_length[WIRE_MAX_CORDS];  /* m */
    float cord_tension[WIRE_MAX_CORDS]; /* N */
    float range_m;
    float tilt_rad[2];          /* towards +x, +y */
    float yaw_rad, yaw_off_rad; /* counter-clockwise; how wrong it may be, >= 0 */
    float head[WIRE_HEAD_AXES]; /* rad; zoom: magnification */
    double subject[3];          /* m */
    float subject_age_s;        /* >= 0: since it was seen there */
    uint32_t refused_tag, refused_session, refused_seq, refused_late,
        refused_form; /* datagrams the rig dropped, since it started */
};

struct wire_message {
    enum wire_type type;
    uint64_t session, seq;
    union {
        struct wire_hello hello;
        struct wire_challenge challenge;
        struct wire_confirm confirm;
        struct wire_intent intent;
        struct wire_stop stop;
        struct wire_telemetry telemetry;
    } body;
};

/* Encodes all but the tag; returns the length *including* the WIRE_TAG bytes left for it, 0 if size is too small or the
 * message is one that wire_decode would refuse (unknown type, cords out of range, a float that is not finite...). */
size_t wire_encode(const struct wire_message *m, uint8_t *buf, size_t size);

/* Checks magic, version, type, exact length, ranges (cords, motion, power, category, flags, sources), finite floats,
 * zeros where nothing is said. The tag must have been checked before. True on success; on failure *m is unchanged. */
bool wire_decode(const uint8_t *buf, size_t len, struct wire_message *m);

#endif
