/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>

#include "gateway/rig/sim_path.h"

#define MS ((uint64_t)1000000)

static struct sim_path *path(double delay_s, double loss)
{
    struct sim_path *p = calloc(1, sizeof *p);
    cr_assert(p);
    sim_path_init(p, delay_s, loss, 11);
    return p;
}

static void put(struct sim_path *p, uint64_t now, uint64_t peer, size_t len)
{
    uint8_t bytes[2 * WIRE_MAX] = {(uint8_t)peer};
    sim_path_put(p, NULL, now, peer, bytes, len);
}

Test(path, delivers_in_order_after_its_delay)
{
    struct sim_path *p = path(0.02, 0);
    cr_assert_eq(sim_path_due(p), UINT64_MAX);
    put(p, 100 * MS, 1, 10);
    put(p, 105 * MS, 2, 20);
    cr_assert_eq(sim_path_due(p), 120 * MS);
    cr_assert_null(sim_path_take(p, 120 * MS - 1));
    const struct sim_datagram *d = sim_path_take(p, 120 * MS);
    cr_assert(d && d->peer == 1 && d->len == 10 && d->bytes[0] == 1);
    cr_assert_null(sim_path_take(p, 124 * MS));
    d = sim_path_take(p, 300 * MS);
    cr_assert(d && d->peer == 2 && d->len == 20);
    cr_assert_null(sim_path_take(p, UINT64_MAX));
    free(p);
}

Test(path, loses_what_does_not_fit_and_counts_it)
{
    struct sim_path *p = path(1, 0);
    for (unsigned i = 0; i < SIM_PATH_SLOTS + 5; i++)
        put(p, i, i, 1);
    cr_assert_eq(p->lost, 5);
    for (unsigned i = 0; i < SIM_PATH_SLOTS; i++)
        cr_assert_eq(sim_path_take(p, UINT64_MAX)->peer, i);
    cr_assert_null(sim_path_take(p, UINT64_MAX));
    free(p);
}

Test(path, what_is_too_long_stays_too_long)
{
    struct sim_path *p = path(0, 0);
    put(p, 0, 1, 2 * WIRE_MAX);
    cr_assert_gt(sim_path_take(p, 0)->len, (size_t)WIRE_MAX);
    free(p);
}

Test(path, loses_the_share_it_is_told_to)
{
    struct sim_path *p = path(0, 0.3);
    for (int i = 0; i < 10000; i++) {
        put(p, 0, 1, 1);
        sim_path_take(p, 0);
    }
    cr_assert_float_eq((double)p->lost, 3000, 4 * sqrt(10000 * 0.3 * 0.7));
    free(p);
}

/* The widely published known answers for the seed 1234567. */
Test(noise, is_splitmix64)
{
    static const uint64_t expect[] = {6457827717110365317u, 3203168211198807973u, 9817491932198370423u,
                                      4593380528125082431u, 16408922859458223821u};
    struct sim_noise n = {1234567};
    for (int i = 0; i < 5; i++)
        cr_assert_eq(sim_noise_next(&n), expect[i]);
}

Test(noise, is_normal)
{
    struct sim_noise n = {1};
    double sum = 0, squares = 0;
    int within = 0;
    for (int i = 0; i < 100000; i++) {
        double x = sim_noise_normal(&n, 2);
        sum += x;
        squares += x * x;
        within += fabs(x) < 2;
    }
    cr_assert_float_eq(sum / 100000, 0, 4 * 2 / sqrt(100000));
    cr_assert_float_eq(sqrt(squares / 100000), 2, 0.02);
    cr_assert_float_eq(within / 100000.0, 0.6827, 0.006);
}
