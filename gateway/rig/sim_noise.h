/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Seeded random numbers for the simulated rig: the same seed gives the same run. Not for secrets. */
#ifndef STEADYHAND_RIG_SIM_NOISE_H
#define STEADYHAND_RIG_SIM_NOISE_H

#include <stdint.h>

struct sim_noise {
    uint64_t state; /* the seed */
};

/* SplitMix64 (Steele, Lea, Flood 2014). */
uint64_t sim_noise_next(struct sim_noise *noise);

/* Uniform in [0, 1). */
double sim_noise_uniform(struct sim_noise *noise);

/* Normal with this standard deviation (Box and Muller 1958). */
double sim_noise_normal(struct sim_noise *noise, double sigma);

#endif
