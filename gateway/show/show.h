/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The show file: one JSON document that describes one show. Loaded once, strictly, before anything else starts; the
 * same struct then serves every process. Every error is found and told, not only the first, each with where, what and
 * how to mend it.
 */
#ifndef STEADYHAND_SHOW_SHOW_H
#define STEADYHAND_SHOW_SHOW_H

#include <stdio.h>

#include "policy/crowd/crowd.h"
#include "policy/crowd/pace.h"
#include "policy/motion/policy.h"

enum {
    SHOW_NAME = 64,
    SHOW_HOST = 46,
    SHOW_ORIGINS = 8,
    SHOW_ORIGIN = 128,
    SHOW_RULES = 512,
};

struct show_listener {
    char host[SHOW_HOST]; /* IPv4 literal */
    uint16_t port;        /* 1..65535 */
    int origins;          /* 0: only a page of our own address, see gateway/serve/handshake.h */
    char origin[SHOW_ORIGINS][SHOW_ORIGIN];
};

/* What an edge enforces on its own. */
struct show_admission {
    uint32_t max_viewers;     /* per edge */
    uint32_t max_per_address; /* connections from one IPv4 address */
    uint32_t message_bytes;   /* largest message a viewer may send */
    uint32_t header_bytes;    /* largest request header block */
    double handshake_s;       /* time to complete the upgrade */
    struct pace_config pace;  /* wishes a viewer */
};

/* What a rig can report, in the order of the link (gateway/rig/wire.h); the first ones as in enum locate_source. */
enum show_source {
    SHOW_POSE,
    SHOW_LENGTH,
    SHOW_TENSION,
    SHOW_RANGE,
    SHOW_TILT,
    SHOW_YAW,
    SHOW_HEAD,
    SHOW_SUBJECT,
    SHOW_SOURCES
};

/* How good one of them is, each in its own unit (m, N, rad; the head's zoom: magnification). What is reported and not
 * there in the show is not believed; a simulated rig reports what is there, as good as that. */
struct show_sensor {
    bool there;
    double sigma; /* >= 0: standard deviation of its noise */
    double share; /* >= 0: of a tension's noise, as a share of it on top */
    double bias;  /* >= 0: bound of what it may be off for good; a tension: as a share of it */
    double age_s; /* >= 0: how old a reading is when it leaves the rig */
};

enum { SHOW_WALK = 8 };

/* What only the simulated rig needs. */
struct show_sim {
    bool enabled; /* `run` starts rig-sim */
    double platform_kg, body_kg;
    double swing_damping;      /* 0..1 damping ratio of the body pendulum */
    double cord_stiffness_npm; /* N/m of a cord */
    double cord_damping_nspm;  /* N s/m */
    double winch_speed_mps, winch_accel_mps2;
    double noise_m, noise_rad; /* 1 sigma of reported position and swing */
    double command_latency_s, telemetry_latency_s;
    double yaw_rad;                    /* how the body hangs about the vertical ... */
    double yaw_sway_rad, yaw_period_s; /* ... and how far to either side it turns, in what time; 0: it does not */
    double head_latency_s;             /* >= 0: its axes follow that late */
    int walk;                          /* corners of the way that somebody walks round and round; 0: nobody */
    struct vec3 walk_at[SHOW_WALK];    /* m; z: the floor they walk on */
    double walk_mps;
};

/* What the cords may carry, for the reach and the checks; `given` false: the file does not say, and nothing is watched.
 */
struct show_cords {
    bool given;
    struct tension_rig rig;
    double rated_n; /* INFINITY: not said */
    double reserve_mps2, min_length_m;
};

/* How a person's stop is done; policy.stop has the rest. */
struct show_stop {
    enum stop_category operator, spotter, moderator;
};

struct show {
    char name[SHOW_NAME];
    char rules[SHOW_RULES]; /* house rules, shown to viewers */

    struct policy_config policy;
    struct crowd_config crowd;
    enum crowd_mode first_mode; /* audience mode when the show starts */
    struct show_stop stop;
    double audience_scale;      /* 0..1, at start */
    double audience_lag_s;      /* >= 0: how much later than the camera the audience sees it move */
    uint64_t crowd_lease_ns;    /* an edge silent for longer loses its voice */
    uint64_t operator_lease_ns; /* an operator who holds and is silent for longer lapses */

    struct vec3 home; /* platform position the show starts from */
    char keepout_name[VOLUME_MAX_KEEPOUTS][SHOW_NAME];
    char slow_name[POLICY_MAX_ZONES][SHOW_NAME];
    char view_name[VIEW_MAX_SHAPES][SHOW_NAME];

    struct show_cords cords;
    double vfov_wide_rad; /* of the lens at its widest, beside policy.head.config.hfov_wide_rad; 0 without a head */

    char rig_host[SHOW_HOST];
    uint16_t rig_port;
    struct show_sensor sensor[SHOW_SOURCES];
    struct show_sim sim;

    struct show_listener audience, desk;
    int edges; /* 1..16 processes */
    struct show_admission admission;
};

enum { SHOW_FILE_MAX = 256 * 1024 };

/* Reads and checks the file. On success fills *show and returns 0. Otherwise prints every error found to `err`, one a
 * line: FILE:LINE: /json/pointer: expected what, found what. Hint: ... (LINE left out where not known) and returns the
 * number of errors (>= 1), or -1 if the file could not be read. *show is then unchanged. */
int show_load(const char *path, struct show *show, FILE *err);

/* The same, and warnings are told too: what is allowed but seldom meant. *warnings gets their number. */
int show_check(const char *path, struct show *show, FILE *err, int *warnings);

/* The same of a text at hand, `name` standing for the file. */
int show_parse(const char *name, const char *text, size_t len, struct show *show, FILE *err, int *warnings);

#endif
