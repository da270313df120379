/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <math.h>

#include "policy/crowd/poll.h"
#include "tests/unit/crowd/random.h"
#include "tests/unit/crowd/viewers.h"
#include "tests/unit/reference.h"

static const struct poll_config base = {.round_ns = 6000, .grace_ns = 200, .sigma = 0.1, .quorum = 1};

/* sigma in thousandths, so that the rule can be checked here in whole numbers */
static struct poll_config with_sigma(int thousandths)
{
    struct poll_config cfg = base;
    cfg.sigma = thousandths / 1000.0;
    return cfg;
}

static struct tally random_votes(struct random *r, uint32_t most)
{
    struct tally t = {0};
    uint32_t favourite = random_below(r, CHOICE_COUNT);
    for (uint32_t i = random_below(r, most); i > 0; i--)
        t.votes[random_below(r, 3) ? favourite : random_below(r, CHOICE_COUNT)]++;
    return t;
}

/* Shahaf, Shapiro, Talmon, arXiv:1807.11105: a change of the status quo needs more than 1/2 + sigma/2 of the votes. */
Test(poll, no_change_without_its_supermajority_and_none_withheld_with_it)
{
    struct random r = {1};
    int changes = 0, stays = 0;
    for (int run = 0; run < 200000; run++) {
        int sigma = (int)random_below(&r, 501);
        struct poll_config cfg = with_sigma(sigma);
        struct tally t = random_votes(&r, 300);
        uint64_t cast = tally_cast(&t);
        enum choice winner = poll_winner(&cfg, &t);
        for (int c = CHOICE_STAY + 1; c < CHOICE_COUNT; c++) {
            bool entitled = 2000 * (uint64_t)t.votes[c] > cast * (1000 + (uint64_t)sigma);
            cr_assert_eq(entitled, (int)winner == c, "run %d: %u of %lu, sigma %d/1000", run, t.votes[c], cast, sigma);
        }
        winner == CHOICE_STAY ? stays++ : changes++;
    }
    cr_assert(changes > 10000 && stays > 10000);
}

Test(poll, needed_is_the_least_number_that_wins)
{
    for (int sigma = 0; sigma <= 500; sigma += 25)
        for (uint32_t cast = 1; cast <= 200; cast++) {
            struct poll_config cfg = with_sigma(sigma);
            uint32_t needed = poll_needed(&cfg, cast);
            cr_assert_gt(2000 * (uint64_t)needed, cast * (1000 + (uint64_t)sigma));
            cr_assert_leq(2000 * (uint64_t)(needed - 1), cast * (1000 + (uint64_t)sigma));
            struct tally t = {.votes = {[CHOICE_STAY] = cast > needed ? cast - needed : 0, [CHOICE_DOLLY_IN] = needed}};
            if (needed <= cast)
                cr_assert_eq(poll_winner(&cfg, &t), CHOICE_DOLLY_IN);
            t.votes[CHOICE_DOLLY_IN]--;
            t.votes[CHOICE_STAY]++;
            cr_assert_eq(poll_winner(&cfg, &t), CHOICE_STAY);
        }
    /* 55, 60, 65 % for a share of false voices of 10, 20, 30 %; decimal fractions are meant exactly */
    cr_assert_eq(poll_needed(&(struct poll_config){.sigma = 0.1, .quorum = 1}, 100), 56);
    cr_assert_eq(poll_needed(&(struct poll_config){.sigma = 0.2, .quorum = 1}, 100), 61);
    cr_assert_eq(poll_needed(&(struct poll_config){.sigma = 0.3, .quorum = 1}, 100), 66);
    cr_assert_eq(poll_needed(&(struct poll_config){.sigma = 0.15, .quorum = 1}, 40), 24);
    cr_assert_eq(poll_needed(&(struct poll_config){.sigma = 0.1256, .quorum = 1}, 2500), 1408);
    cr_assert_eq(poll_needed(&base, 1), 1);
    cr_assert_eq(poll_needed(&base, 0), 1);
    cr_assert_eq(poll_needed(&(struct poll_config){.sigma = 0.5, .quorum = 1}, UINT32_MAX), 3221225472u);
}

/* Also for stay, and with any quorum. */
Test(poll, more_votes_for_the_winner_never_unseat_it)
{
    struct random r = {2};
    for (int run = 0; run < 50000; run++) {
        struct poll_config cfg = with_sigma((int)random_below(&r, 501));
        cfg.quorum = 1 + random_below(&r, 40);
        struct tally t = random_votes(&r, 60);
        enum choice winner = poll_winner(&cfg, &t);
        for (int more = 0; more < 40; more++) {
            t.votes[winner] += 1 + random_below(&r, 3);
            cr_assert_eq(poll_winner(&cfg, &t), winner, "run %d", run);
        }
    }
}

/* A share sigma of the votes cast is false. Whatever they say, no move wins that has not the votes of more than half of
 * the honest. */
Test(poll, false_voices_within_sigma_cannot_move_an_unwilling_crowd)
{
    struct random r = {3};
    int closest = 0;
    for (int run = 0; run < 50000; run++) {
        uint32_t honest = 1 + random_below(&r, 200), sigma = random_below(&r, 501);
        uint32_t false_voices = honest * sigma / (1000 - sigma); /* false / cast <= sigma */
        uint32_t willing = random_below(&r, honest / 2 + 1);
        struct poll_config cfg = with_sigma((int)sigma);
        struct tally t = {.votes = {[CHOICE_STAY] = honest - willing, [CHOICE_TRUCK_LEFT] = willing + false_voices}};
        cr_assert_eq(poll_winner(&cfg, &t), CHOICE_STAY, "%u honest, %u willing, %u false", honest, willing,
                     false_voices);
        t.votes[CHOICE_TRUCK_LEFT] += 2;
        closest += poll_winner(&cfg, &t) == CHOICE_TRUCK_LEFT;
    }
    cr_assert_gt(closest, 100, "the bound is near enough for the test to feel it");
}

/* Ours is a majority rule: where plurality has a winner, ours is that one or stay; in a tie, or without votes, the
 * incumbent, which is always stay. */
Test(poll, agrees_with_plurality_or_stays)
{
    json_t *one = reference_case("crowd.json", "plurality"), *row;
    size_t i;
    int moved = 0;
    json_array_foreach(reference_input(one, "rows"), i, row)
    {
        json_t *votes = json_array_get(row, 0), *incumbent = json_array_get(row, 1);
        json_t *winner = json_array_get(reference_expect(one, "winner"), i);
        struct tally t = {0};
        enum choice expected = CHOICE_STAY;
        for (size_t k = 0; k < json_array_size(votes); k++) {
            bool stay = json_is_integer(incumbent) && (size_t)json_integer_value(incumbent) == k;
            enum choice c = stay ? CHOICE_STAY : (enum choice)(k + 1);
            t.votes[c] = (uint32_t)json_integer_value(json_array_get(votes, k));
            if (json_is_integer(winner) && (size_t)json_integer_value(winner) == k)
                expected = c;
        }
        enum choice ours = poll_winner(&base, &t);
        cr_assert(ours == CHOICE_STAY || ours == expected, "row %zu", i);
        moved += ours != CHOICE_STAY;
    }
    cr_assert_eq(moved, 1, "the one row with a majority");
    json_decref(one);
}

Test(poll, the_quorum_counts_votes_for_the_change)
{
    struct poll_config cfg = base;
    cfg.quorum = 10;
    struct tally t = {.votes = {[CHOICE_TRUCK_RIGHT] = 9}};
    cr_assert_eq(poll_winner(&cfg, &t), CHOICE_STAY);
    t.votes[CHOICE_STAY]++;
    cr_assert_eq(poll_winner(&cfg, &t), CHOICE_STAY, "a vote for staying does not bring the move about");
    t.votes[CHOICE_TRUCK_RIGHT]++;
    cr_assert_eq(poll_winner(&cfg, &t), CHOICE_TRUCK_RIGHT);
    cr_assert_eq(poll_needed(&cfg, 3), 10);
}

Test(poll, a_sigma_out_of_range_counts_as_the_greatest)
{
    const double odd[] = {NAN, -0.1, 0.6, INFINITY, -INFINITY};
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
        struct poll_config cfg = {.round_ns = 1, .sigma = odd[i], .quorum = 1};
        cr_assert_not(poll_config_valid(&cfg));
        cr_assert_eq(poll_needed(&cfg, 100), 76);
    }
    struct poll_config cfg = base;
    cr_assert(poll_config_valid(&cfg));
    cfg.quorum = 0;
    cr_assert_not(poll_config_valid(&cfg));
    cfg = base;
    cfg.round_ns = 0;
    cr_assert_not(poll_config_valid(&cfg));
}

static bool step_at(struct poll *poll, const struct tally *t, bool running, uint64_t now)
{
    struct poll_output out;
    poll_step(&base, poll, t, running, now, &out);
    return out.decided;
}

Test(poll, a_round_opens_closes_waits_and_decides)
{
    struct poll poll;
    struct tally early = {.votes = {[CHOICE_TRUCK_LEFT] = 3}}, late = early;
    late.votes[CHOICE_STAY] = 7;
    poll_init(&poll);
    cr_assert(poll.phase == POLL_OFF && poll.outcome == CHOICE_STAY && poll.round == 0);
    cr_assert_not(step_at(&poll, &early, true, 1000));
    cr_assert(poll.phase == POLL_OPEN && poll.round == 1 && poll.phase_ends_ns == 7000);
    cr_assert_not(step_at(&poll, &early, true, 6999));
    cr_assert_eq(poll.phase, POLL_OPEN);
    cr_assert_not(step_at(&poll, &early, true, 7000));
    cr_assert(poll.phase == POLL_GRACE && poll.round == 1 && poll.phase_ends_ns == 7200);
    cr_assert_not(step_at(&poll, &early, true, 7199));
    cr_assert(step_at(&poll, &late, true, 7200), "decided by what came in during the grace");
    cr_assert_eq(poll.outcome, CHOICE_STAY);
    cr_assert_eq(poll.outcome_voices, 10);
    cr_assert(poll.phase == POLL_OPEN && poll.round == 2 && poll.phase_ends_ns == 13200, "the next opens at once");
    cr_assert_eq(poll.rounds_done, 1);
}

Test(poll, a_stopped_rig_takes_no_votes)
{
    struct poll poll;
    struct tally t = {.votes = {[CHOICE_DOLLY_OUT] = 9}};
    poll_init(&poll);
    step_at(&poll, &t, true, 0);
    cr_assert_not(step_at(&poll, &t, false, 6500));
    cr_assert(poll.phase == POLL_OFF && poll.rounds_done == 0 && poll.outcome == CHOICE_STAY);
    cr_assert_not(step_at(&poll, &t, false, 60000));
    cr_assert_not(step_at(&poll, &t, true, 60001));
    cr_assert(poll.round == 2 && poll.phase_ends_ns == 66001, "a new id: votes for the dropped round are void");
}

Test(poll, times_and_ids_do_not_wrap_into_nonsense)
{
    struct poll poll;
    struct tally none = {0};
    poll_init(&poll);
    poll.round = UINT32_MAX;
    step_at(&poll, &none, true, UINT64_MAX - 10);
    cr_assert_eq(poll.round, 1, "0 is no round");
    cr_assert_eq(poll.phase_ends_ns, UINT64_MAX);
    struct tally beyond = {.votes = {[CHOICE_STAY] = UINT32_MAX, [CHOICE_DOLLY_IN] = UINT32_MAX}};
    poll_init(&poll);
    step_at(&poll, &beyond, true, 0);
    step_at(&poll, &beyond, true, 6000);
    cr_assert(step_at(&poll, &beyond, true, 6200));
    cr_assert_eq(poll.outcome, CHOICE_STAY, "half is no majority, also beyond 2^32 votes");
    cr_assert_eq(poll.outcome_voices, UINT32_MAX);
    struct poll_config no_grace = base;
    struct poll_output out;
    no_grace.grace_ns = 0;
    poll_init(&poll);
    poll_step(&no_grace, &poll, &none, true, 0, &out);
    poll_step(&no_grace, &poll, &none, true, 6000, &out);
    cr_assert(out.decided, "without a grace the close decides");
}
