/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <string.h>

#include "gateway/bus/crowds.h"
#include "tests/unit/bus/samples.h"

enum { LEASE = 500, ROUND = 7 };

static struct crowds crowds;
static struct crowds_sum sum;

static void begin(void)
{
    crowds_init(&crowds, LEASE);
}

TestSuite(crowds, .init = begin);

static struct snapshot voices(uint64_t seq, uint32_t round, uint32_t left, uint32_t sticks)
{
    struct snapshot s = {.seq = seq, .round = round, .tally = {.viewers = left + sticks, .sticks = sticks}};
    s.tally.votes[CHOICE_TRUCK_LEFT] = left;
    for (int a = 0; a < TALLY_AXES; a++)
        s.tally.stick[a][20] = sticks;
    s.counts.accepted = 10 * seq;
    return s;
}

static void put(int slot, struct snapshot s, uint64_t now)
{
    crowds_put(&crowds, slot, &s, now);
}

Test(crowds, any_split_over_edges_sums_to_the_whole_crowd)
{
    struct random r = {1};
    for (int run = 0; run < 200; run++) {
        struct snapshot edge[CROWDS_MAX_EDGES] = {0};
        struct tally whole = {0};
        int edges = 1 + (int)random_below(&r, CROWDS_MAX_EDGES);
        for (int i = 0; i < 300; i++) {
            struct viewer v = viewer_random(&r);
            viewer_speaks(&v, &whole);
            viewer_speaks(&v, &edge[random_below(&r, (uint32_t)edges)].tally);
        }
        begin();
        for (int e = 0; e < edges; e++) {
            edge[e].round = ROUND;
            put(crowds_join(&crowds), edge[e], 0);
        }
        crowds_total(&crowds, ROUND, 0, &sum);
        cr_assert_eq(sum.edges, (uint32_t)edges);
        cr_assert_arr_eq(&sum.tally, &whole, sizeof whole);
    }
}

Test(crowds, the_newest_snapshot_stands_for_its_edge)
{
    int a = crowds_join(&crowds);
    put(a, voices(1, ROUND, 3, 0), 0);
    put(a, voices(2, ROUND, 5, 0), 10);
    crowds_total(&crowds, ROUND, 10, &sum);
    cr_assert_eq(sum.tally.votes[CHOICE_TRUCK_LEFT], 5, "replaced, not added");
    put(a, voices(2, ROUND, 9, 0), 20);
    put(a, voices(1, ROUND, 9, 0), 20);
    crowds_total(&crowds, ROUND, 20, &sum);
    cr_assert_eq(sum.tally.votes[CHOICE_TRUCK_LEFT], 5, "nothing old or repeated");
    cr_assert_eq(crowds.stale, 2);
    crowds_total(&crowds, ROUND, 10 + LEASE + 1, &sum);
    cr_assert_eq(sum.edges, 0, "nor does a repetition renew the lease");
}

Test(crowds, a_silent_edge_loses_its_voice_and_gets_it_back)
{
    int a = crowds_join(&crowds), b = crowds_join(&crowds);
    put(a, voices(1, ROUND, 3, 2), 1000);
    put(b, voices(1, ROUND, 4, 1), 1400);
    crowds_total(&crowds, ROUND, 1000 + LEASE, &sum);
    cr_assert(sum.edges == 2 && sum.tally.votes[CHOICE_TRUCK_LEFT] == 7 && sum.tally.sticks == 3);
    crowds_total(&crowds, ROUND, 1000 + LEASE + 1, &sum);
    cr_assert(sum.edges == 1 && sum.tally.votes[CHOICE_TRUCK_LEFT] == 4 && sum.tally.sticks == 1);
    cr_assert_eq(sum.counts.accepted, 20, "what it has done stays done");
    crowds_total(&crowds, ROUND, 1400 + LEASE + 1, &sum);
    cr_assert(sum.edges == 0 && sum.tally.viewers == 0);
    put(a, voices(2, ROUND, 3, 2), 3000);
    crowds_total(&crowds, ROUND, 3000, &sum);
    cr_assert(sum.edges == 1 && sum.tally.votes[CHOICE_TRUCK_LEFT] == 3);
    crowds_total(&crowds, ROUND, 2000, &sum);
    cr_assert_eq(sum.edges, 1, "a clock read a little earlier is no silence");
}

Test(crowds, votes_count_only_for_the_round_asked_for)
{
    put(crowds_join(&crowds), voices(1, ROUND, 3, 2), 0);
    put(crowds_join(&crowds), voices(1, ROUND - 1, 4, 1), 0);
    put(crowds_join(&crowds), voices(1, 0, 5, 1), 0);
    crowds_total(&crowds, ROUND, 0, &sum);
    cr_assert(sum.round == ROUND && sum.tally.votes[CHOICE_TRUCK_LEFT] == 3);
    cr_assert(sum.tally.viewers == 16 && sum.tally.sticks == 4 && sum.edges == 3, "viewers and sticks of all");
    cr_assert(tally_valid(&sum.tally));
    crowds_total(&crowds, ROUND - 1, 0, &sum);
    cr_assert_eq(sum.tally.votes[CHOICE_TRUCK_LEFT], 4);
    crowds_total(&crowds, 0, 0, &sum);
    cr_assert_eq(sum.tally.votes[CHOICE_TRUCK_LEFT], 0, "0 is no round");
}

Test(crowds, an_edge_that_leaves_takes_its_voices_but_not_its_counts)
{
    int a = crowds_join(&crowds), b = crowds_join(&crowds);
    put(a, voices(5, ROUND, 3, 2), 0);
    put(b, voices(7, ROUND, 4, 1), 0);
    crowds_leave(&crowds, a);
    crowds_total(&crowds, ROUND, 0, &sum);
    cr_assert(sum.edges == 1 && sum.tally.votes[CHOICE_TRUCK_LEFT] == 4 && sum.counts.accepted == 120);
    crowds_leave(&crowds, a);
    crowds_total(&crowds, ROUND, 0, &sum);
    cr_assert_eq(sum.counts.accepted, 120, "leaving twice counts once");
    int again = crowds_join(&crowds);
    crowds_total(&crowds, ROUND, 0, &sum);
    cr_assert(sum.edges == 1 && sum.counts.accepted == 120, "its slot starts empty");
    put(again, voices(1, ROUND, 1, 0), 0);
    crowds_total(&crowds, ROUND, 0, &sum);
    cr_assert(sum.edges == 2 && sum.counts.accepted == 130, "from its own first sequence number on");
}

Test(crowds, totals_never_fall_whatever_edges_come_and_go)
{
    struct random r = {2};
    int slot[CROWDS_MAX_EDGES], n = 0;
    uint64_t seq = 0, before = 0, accepted[CROWDS_MAX_EDGES] = {0};
    for (int step = 0; step < 20000; step++) {
        uint32_t act = random_below(&r, 10);
        if (act == 0 && n < CROWDS_MAX_EDGES) {
            slot[n] = crowds_join(&crowds);
            accepted[n++] = 0;
        } else if (act == 1 && n > 0) {
            int i = (int)random_below(&r, (uint32_t)n);
            crowds_leave(&crowds, slot[i]);
            slot[i] = slot[--n];
            accepted[i] = accepted[n];
        } else if (n > 0) {
            int i = (int)random_below(&r, (uint32_t)n);
            struct snapshot s = voices(++seq, ROUND, 1, 1);
            s.counts.accepted = accepted[i] += random_below(&r, 5);
            put(slot[i], s, (uint64_t)step);
        }
        crowds_total(&crowds, ROUND, (uint64_t)step, &sum);
        cr_assert_geq(sum.counts.accepted, before);
        before = sum.counts.accepted;
    }
    cr_assert_gt(before, 10000);
}

Test(crowds, slots_are_bounded_and_strangers_ignored)
{
    for (int i = 0; i < CROWDS_MAX_EDGES; i++)
        cr_assert_eq(crowds_join(&crowds), i);
    cr_assert_eq(crowds_join(&crowds), -1);
    crowds_leave(&crowds, 9);
    cr_assert_eq(crowds_join(&crowds), 9);
    crowds_leave(&crowds, 9);
    const int strange[] = {-1, 9, CROWDS_MAX_EDGES, 1000000, -1000000};
    for (size_t i = 0; i < sizeof strange / sizeof *strange; i++) {
        put(strange[i], voices(1, ROUND, 1, 0), 0);
        crowds_leave(&crowds, strange[i]);
    }
    crowds_total(&crowds, ROUND, 0, &sum);
    cr_assert(sum.edges == 0 && sum.tally.viewers == 0 && sum.counts.accepted == 0);
}

Test(crowds, an_edge_speaks_for_no_more_than_it_may_hold)
{
    int a = crowds_join(&crowds);
    crowds.max_viewers = 100;
    put(a, voices(1, ROUND, 100, 0), 0);
    put(a, voices(2, ROUND, 101, 0), 400);
    crowds_total(&crowds, ROUND, 400, &sum);
    cr_assert_eq(sum.tally.votes[CHOICE_TRUCK_LEFT], 100);
    cr_assert_eq(crowds.oversized, 1);
    crowds_total(&crowds, ROUND, LEASE + 1, &sum);
    cr_assert_eq(sum.edges, 0, "and a refused claim does not renew its lease");
}

/* The greatest crowd the frames allow on every edge, and counts at their end. */
Test(crowds, sums_do_not_overflow)
{
    for (int i = 0; i < CROWDS_MAX_EDGES; i++) {
        struct snapshot s = voices(1, ROUND, BUS_MAX_VIEWERS / 2, BUS_MAX_VIEWERS / 2);
        s.counts = (struct edge_counts){UINT64_MAX, UINT64_MAX, 1, 2, 3};
        put(crowds_join(&crowds), s, 0);
    }
    crowds_total(&crowds, ROUND, 0, &sum);
    cr_assert_eq(sum.tally.viewers, (uint32_t)CROWDS_MAX_EDGES * BUS_MAX_VIEWERS);
    cr_assert_eq(sum.tally.votes[CHOICE_TRUCK_LEFT], sum.tally.viewers / 2);
    cr_assert(tally_valid(&sum.tally));
    cr_assert(sum.counts.accepted == UINT64_MAX && sum.counts.turned_away == 3 * CROWDS_MAX_EDGES);
}
