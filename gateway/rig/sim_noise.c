/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_noise.h"

#include <math.h>

uint64_t sim_noise_next(struct sim_noise *noise)
{
    uint64_t z = noise->state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

double sim_noise_uniform(struct sim_noise *noise)
{
    return (double)(sim_noise_next(noise) >> 11) * 0x1p-53;
}

double sim_noise_normal(struct sim_noise *noise, double sigma)
{
    double u = 1 - sim_noise_uniform(noise); /* (0, 1]: its logarithm is finite */
    double turn = 2 * M_PI * sim_noise_uniform(noise);
    return sigma * sqrt(-2 * log(u)) * cos(turn);
}
