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

static void put_with(struct sim_path *p, const struct sim_path_fault *fault, uint64_t now, uint64_t peer)
{
    const uint8_t byte = (uint8_t)peer;
    sim_path_put(p, fault, now, peer, &byte, 1);
}

Test(path, a_fault_makes_it_later_while_it_lasts)
{
    struct sim_path *p = path(0.02, 0);
    const struct sim_path_fault slow = {.delay_s = 0.3};
    put_with(p, &slow, 0, 1);
    put_with(p, NULL, 10 * MS, 2); /* overtakes */
    cr_assert_eq(sim_path_due(p), 30 * MS);
    cr_assert_eq(sim_path_take(p, 30 * MS)->peer, 2);
    cr_assert_null(sim_path_take(p, 320 * MS - 1));
    cr_assert_eq(sim_path_take(p, 320 * MS)->peer, 1);
    cr_assert_null(sim_path_take(p, UINT64_MAX));
    free(p);
}

Test(path, duplicates_reorders_and_loses_as_often_as_told)
{
    enum { SENT = 20000, KEEP = 64 };
    struct sim_path *p = path(0.02, 0);
    const struct sim_path_fault fault = {.loss = 0.1, .duplicate = 0.2, .reorder = 0.3, .late_s = 0.05};
    unsigned came = 0, behind = 0, twice = 0, seen[KEEP] = {0};
    uint64_t newest = 0;
    for (unsigned i = 1; i <= SENT; i++) {
        const struct sim_datagram *d;
        put_with(p, &fault, i * 10 * MS, i);
        while ((d = sim_path_take(p, i * 10 * MS))) {
            cr_assert_leq(d->due_ns, i * 10 * MS);
            cr_assert(d->due_ns >= d->peer * 10 * MS + 20 * MS && d->due_ns <= d->peer * 10 * MS + 70 * MS);
            came++;
            behind += d->peer < newest;
            twice += seen[d->peer % KEEP] == d->peer;
            seen[d->peer % KEEP] = (unsigned)d->peer;
            newest = d->peer > newest ? d->peer : newest;
        }
    }
    cr_assert_float_eq((double)p->lost / SENT, 0.1, 0.01);
    cr_assert_float_eq((double)twice / (SENT - (double)p->lost), 0.2, 0.015);
    cr_assert_float_eq((double)came, 1.2 * (SENT - (double)p->lost), 0.015 * SENT);
    cr_assert_gt((double)behind / SENT, 0.2);
    free(p);
}

/* In whatever order they are put, they come out by their time, and those of one time as they came. */
Test(path, gives_out_what_is_due_first)
{
    struct sim_path *p = path(0, 0);
    struct sim_noise n = {5};
    uint64_t last = 0;
    for (int round = 0; round < 50; round++) {
        for (unsigned i = 0; i < SIM_PATH_SLOTS; i++) {
            struct sim_path_fault f = {.delay_s = (double)(sim_noise_next(&n) % 40) * 1e-3};
            put_with(p, &f, 0, i);
        }
        last = 0;
        for (unsigned i = 0; i < SIM_PATH_SLOTS; i++) {
            const struct sim_datagram *d = sim_path_take(p, UINT64_MAX);
            uint64_t key = d->due_ns * SIM_PATH_SLOTS + d->peer;
            cr_assert(i == 0 || key > last);
            cr_assert_eq(d->bytes[0], d->peer);
            last = key;
        }
    }
    cr_assert_eq(p->lost, 0);
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
