/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/viewers.h"

#include <criterion/criterion.h>
#include <string.h>

#include "tests/unit/crowd/random.h"

enum { CROWD = 40 };

/* What each viewer has said, kept the plain way. */
struct shadow {
    bool here, voted, holds;
    uint64_t vote_epoch, stick_ns;
    enum choice choice;
    int bin[TALLY_AXES];
};

struct house {
    struct viewers viewers;
    struct viewer viewer[CROWD];
    struct shadow shadow[CROWD];
    uint64_t epoch; /* of the votes: one a round */
    uint64_t now_ns;
    uint32_t round;
};

static void recount(const struct house *h, struct tally *out)
{
    tally_clear(out);
    for (int i = 0; i < CROWD; i++) {
        const struct shadow *s = &h->shadow[i];
        out->viewers += s->here;
        if (s->here && s->voted && s->vote_epoch == h->epoch)
            out->votes[s->choice]++;
        out->sticks += s->here && s->holds;
        for (int a = 0; a < TALLY_AXES && s->here && s->holds; a++)
            out->stick[a][s->bin[a]]++;
    }
}

static void come_or_go(struct house *h, int i)
{
    struct shadow *s = &h->shadow[i];
    if (s->here) {
        viewers_leave(&h->viewers, &h->viewer[i]);
    } else {
        memset(&h->viewer[i], 0, sizeof h->viewer[i]);
        viewers_join(&h->viewers, &h->viewer[i]);
    }
    *s = (struct shadow){.here = !s->here};
}

static void vote(struct house *h, int i, struct random *r)
{
    struct shadow *s = &h->shadow[i];
    s->voted = true;
    s->vote_epoch = h->epoch;
    s->choice = (enum choice)random_below(r, CHOICE_COUNT);
    viewers_vote(&h->viewers, &h->viewer[i], s->choice);
}

static void stick(struct house *h, int i, struct random *r)
{
    struct shadow *s = &h->shadow[i];
    double axis[TALLY_AXES];
    for (int a = 0; a < TALLY_AXES; a++) {
        axis[a] = random_between(r, -1, 1);
        s->bin[a] = tally_bin(axis[a]);
    }
    s->holds = true;
    s->stick_ns = h->now_ns;
    viewers_stick(&h->viewers, &h->viewer[i], axis, h->now_ns);
}

static void let_time_pass(struct house *h, struct random *r)
{
    h->now_ns += random_below(r, 400000000);
    viewers_lapse(&h->viewers, h->now_ns);
    for (int i = 0; i < CROWD; i++)
        if (h->now_ns >= h->shadow[i].stick_ns + VIEWERS_STICK_LAPSE_NS)
            h->shadow[i].holds = false;
}

static void new_round(struct house *h, struct random *r)
{
    uint32_t round = random_below(r, 3); /* ids come again, as after a restart of core */
    if (round != h->round)
        h->epoch++;
    h->round = round;
    viewers_set_round(&h->viewers, round);
}

static void one_act(struct house *h, struct random *r)
{
    int i = (int)random_below(r, CROWD);
    uint32_t act = random_below(r, 100);
    if (act < 10)
        come_or_go(h, i);
    else if (act < 45 && h->shadow[i].here)
        vote(h, i, r);
    else if (act < 80 && h->shadow[i].here)
        stick(h, i, r);
    else if (act < 88 && h->shadow[i].here) {
        h->shadow[i].holds = false;
        viewers_release(&h->viewers, &h->viewer[i]);
    } else if (act < 96)
        let_time_pass(h, r);
    else if (act < 99)
        new_round(h, r);
    else if (random_below(r, 2)) {
        viewers_drop_sticks(&h->viewers);
        for (int k = 0; k < CROWD; k++)
            h->shadow[k].holds = false;
    } else {
        h->epoch++;
        viewers_drop_votes(&h->viewers);
    }
}

Test(viewers, the_tally_is_a_recount_at_all_times)
{
    struct random r = {7};
    static struct house h;
    viewers_init(&h.viewers);
    uint64_t held = 0, votes = 0;
    for (int step = 0; step < 200000; step++) {
        struct tally expected;
        one_act(&h, &r);
        recount(&h, &expected);
        cr_assert(memcmp(&expected, &h.viewers.tally, sizeof expected) == 0, "step %d: the tally is not a recount",
                  step);
        cr_assert(tally_valid(&h.viewers.tally), "step %d", step);
        held += expected.sticks;
        votes += tally_cast(&expected);
    }
    cr_expect_gt(held, 200000, "the test holds sticks: %llu", (unsigned long long)held);
    cr_expect_gt(votes, 200000, "the test votes: %llu", (unsigned long long)votes);
}

Test(viewers, a_changed_vote_moves_one_voice)
{
    struct viewers all;
    struct viewer a = {0};
    viewers_init(&all);
    viewers_set_round(&all, 5);
    viewers_join(&all, &a);
    viewers_vote(&all, &a, CHOICE_TRUCK_LEFT);
    viewers_vote(&all, &a, CHOICE_TRUCK_LEFT);
    cr_expect_eq(all.tally.votes[CHOICE_TRUCK_LEFT], 1);
    viewers_vote(&all, &a, CHOICE_DOLLY_IN);
    cr_expect_eq(all.tally.votes[CHOICE_TRUCK_LEFT], 0);
    cr_expect_eq(all.tally.votes[CHOICE_DOLLY_IN], 1);
    viewers_leave(&all, &a);
    cr_expect_eq(tally_cast(&all.tally), 0);
    cr_expect_eq(all.tally.viewers, 0);
}

Test(viewers, a_stick_lapses_at_its_time_and_not_before)
{
    struct viewers all;
    struct viewer a = {0}, b = {0};
    const double axis[TALLY_AXES] = {1, 0, -1};
    const uint64_t start = 1000;
    viewers_init(&all);
    viewers_join(&all, &a);
    viewers_join(&all, &b);
    viewers_stick(&all, &a, axis, start);
    viewers_stick(&all, &b, axis, start + 1);
    viewers_lapse(&all, start + VIEWERS_STICK_LAPSE_NS - 1);
    cr_expect_eq(all.tally.sticks, 2);
    viewers_lapse(&all, start + VIEWERS_STICK_LAPSE_NS);
    cr_expect_eq(all.tally.sticks, 1);
    viewers_stick(&all, &b, axis, start + VIEWERS_STICK_LAPSE_NS); /* said again: its time begins anew */
    viewers_lapse(&all, start + 2 * VIEWERS_STICK_LAPSE_NS - 1);
    cr_expect_eq(all.tally.sticks, 1);
    viewers_lapse(&all, start + 2 * VIEWERS_STICK_LAPSE_NS);
    cr_expect_eq(all.tally.sticks, 0);
}
