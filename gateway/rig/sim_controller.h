/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The simulated rig controller: what stands between the link and the winches. It follows the newest intent while it
 * may, brakes by itself when it may not, and holds. Pure: stepped by the caller at a fixed rate.
 *
 * It keeps a reference position, integrates the commanded velocity into it, and pays each cord out to the reference
 * length less the stretch under the tension that the statics ask for: so the platform hangs where the reference is and
 * every cord keeps a pretension. Of the tensions that hold it there it takes those nearest to what intents want,
 * without haste; where those are none that it may have, or nothing is wanted, the least that keep the pretension.
 */
#ifndef STEADYHAND_RIG_SIM_CONTROLLER_H
#define STEADYHAND_RIG_SIM_CONTROLLER_H

#include "gateway/rig/sim_physics.h"
#include "gateway/rig/sim_power.h"
#include "gateway/rig/sim_sensors.h"
#include "gateway/rig/sim_session.h"

struct sim_controller_config {
    int cords;
    struct vec3 anchor[VOLUME_MAX_CORDS];
    double load_n;        /* weight of everything that hangs */
    double floor_n;       /* pretension it plans for, where the place allows it */
    double ceiling_n;     /* it goes nowhere that takes more than this of one cord */
    double stiffness_npm; /* of a cord */
    double brake_mps2;    /* its own braking, also the most it changes speed by */
    double speed_mps;     /* its own limit */
    double astray_m;      /* measured this far from the reference, something is wrong */
    uint64_t lease_ns;
};

struct sim_controller {
    struct sim_session session;
    struct sim_power power;
    struct wire_intent intent; /* the one in force */
    bool neutral;              /* an intent without motion was accepted since the start, lapse or fault */
    bool live;                 /* the intent has not expired */
    bool lapsed;               /* one did, and none without motion has come since */
    bool fault;                /* brakes and holds while set */
    unsigned bad, good;        /* consecutive readings */
    bool unreachable;          /* no tensions within the limits hold the load at the reference */
    bool deaf;                 /* the caller's to set: readings are not judged */
    struct vec3 reference, velocity;
    double ref_n[VOLUME_MAX_CORDS]; /* the tensions wanted, as it comes round to them; 0: none in particular */
    struct sim_winch_target target;
    uint64_t intents, stops, lapses; /* accepted, accepted, times */
};

/* At rest at home, brakes set. False if the cords cannot hold the load there. */
bool sim_controller_init(const struct sim_controller_config *cfg, struct sim_controller *c, struct vec3 home,
                         const uint8_t master[SEAL_KEY], const uint8_t nonce_key[SEAL_KEY]);

enum sim_verdict sim_controller_receive(struct sim_controller *c, uint64_t now_ns, const uint8_t *bytes, size_t len,
                                        struct sim_reply *reply);

/* One control step: c->target is what the winches shall do until the next. */
void sim_controller_step(const struct sim_controller_config *cfg, struct sim_controller *c, uint64_t now_ns, double dt);

/* While the brakes are set the drums tell where the platform hangs: it is from there that it goes on. Nothing happens
 * under power. */
void sim_controller_rest_at(const struct sim_controller_config *cfg, struct sim_controller *c, struct vec3 position);

/* Judges one set of readings (100 a second), of the sources that are there: a cord that is slack, or a platform that is
 * not where the reference is (by its pose, else by its cords' lengths), for five in a row is a fault; it clears by
 * itself after a second without. */
void sim_controller_sense(const struct sim_controller_config *cfg, struct sim_controller *c,
                          const struct sim_sensed *sensed);

/* Sealed telemetry; 0 without a session. */
size_t sim_controller_telemetry(const struct sim_controller_config *cfg, struct sim_controller *c, uint64_t now_ns,
                                const struct sim_sensed *sensed, uint8_t *buf, size_t size);

/* A stop is in force: whatever else, the rig may not move under its drives. */
bool sim_controller_stopped(const struct sim_controller *c);

/* Rates for the head, NULL while it is to brake. */
const float *sim_controller_head(const struct sim_controller *c);

#endif
