/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/verdict.h"

#include <criterion/criterion.h>
#include <jansson.h>
#include <string.h>

static const struct scene open_poll = {
    .mode = CROWD_POLL, .stop_state = STOP_RUNNING, .poll_phase = POLL_OPEN, .round = 10};

static struct wish_message vote(uint32_t round)
{
    return (struct wish_message){.type = WISH_VOTE, .round = round, .choice = CHOICE_STAY};
}

static const struct wish_message stick = {.type = WISH_STICK}, release = {.type = WISH_RELEASE};

static void expect(struct verdict v, enum verdict_kind kind, const char *code)
{
    cr_expect_eq(v.kind, kind);
    if (code)
        cr_expect(v.code && strcmp(v.code, code) == 0, "%s, expected %s", v.code ? v.code : "none", code);
    cr_expect(kind == VERDICT_COUNTED || (v.text && strlen(v.text) > 5), "whatever is not counted says why");
    cr_expect_eq(v.answers, 1);
}

Test(verdict, votes)
{
    struct wish_message now = vote(10), past = vote(9), future = vote(11);
    expect(verdict_on(&now, &open_poll), VERDICT_COUNTED, NULL);
    expect(verdict_on(&past, &open_poll), VERDICT_OVERTAKEN, "round-over");
    expect(verdict_on(&future, &open_poll), VERDICT_REFUSED, "unknown-round");
    expect(verdict_on(&stick, &open_poll), VERDICT_REFUSED, "wrong-mode");
    struct scene late = open_poll, none = open_poll;
    late.poll_phase = POLL_GRACE;
    none.poll_phase = POLL_OFF;
    expect(verdict_on(&now, &late), VERDICT_OVERTAKEN, "round-over");
    expect(verdict_on(&now, &none), VERDICT_REFUSED, "no-round");
}

Test(verdict, sticks)
{
    struct scene blend = open_poll;
    struct wish_message now = vote(10);
    blend.mode = CROWD_BLEND;
    expect(verdict_on(&stick, &blend), VERDICT_COUNTED, NULL);
    expect(verdict_on(&now, &blend), VERDICT_REFUSED, "wrong-mode");
}

/* Every mode, stop state and phase: nothing counts unless somebody listens and the camera may move; letting go always.
 */
Test(verdict, nothing_counts_while_stopped_or_closed)
{
    const struct wish_message wishes[] = {vote(10), stick};
    for (int mode = 0; mode < CROWD_MODE_COUNT; mode++)
        for (int stop = 0; stop < STOP_STATE_COUNT; stop++)
            for (int phase = POLL_OFF; phase <= POLL_GRACE; phase++) {
                const struct scene s = {.mode = (enum crowd_mode)mode,
                                        .stop_state = (enum stop_state)stop,
                                        .poll_phase = (enum poll_phase)phase,
                                        .stop_reason = REASON_STOP_SPOTTER,
                                        .round = 10};
                cr_expect_eq(verdict_on(&release, &s).kind, VERDICT_COUNTED);
                if (mode != CROWD_CLOSED && stop == STOP_RUNNING)
                    continue;
                for (int w = 0; w < 2; w++)
                    expect(verdict_on(&wishes[w], &s), VERDICT_REFUSED, mode == CROWD_CLOSED ? "closed" : "stopped");
            }
}

Test(verdict, core_lost)
{
    struct wish_message any = vote(10);
    expect(verdict_on(&any, NULL), VERDICT_REFUSED, "core-lost");
    expect(verdict_on(&stick, NULL), VERDICT_REFUSED, "core-lost");
    expect(verdict_on(&release, NULL), VERDICT_COUNTED, NULL);
}

Test(verdict, limited_waits_in_whole_milliseconds_rounded_up)
{
    cr_expect_eq(verdict_limited(WISH_VOTE, 1).wait_ms, 1);
    cr_expect_eq(verdict_limited(WISH_VOTE, 1000000).wait_ms, 1);
    cr_expect_eq(verdict_limited(WISH_VOTE, 1000001).wait_ms, 2);
    cr_expect_eq(verdict_limited(WISH_VOTE, UINT64_MAX).wait_ms, UINT32_MAX);
}

static json_t *as_json(const struct verdict *v)
{
    char buf[VERDICT_JSON_MAX];
    json_error_t error;
    size_t len = verdict_json(v, buf, sizeof buf);
    cr_assert_gt(len, 0);
    json_t *root = json_loadb(buf, len, JSON_REJECT_DUPLICATES, &error);
    cr_assert(root, "%s: %.*s", error.text, (int)len, buf);
    return root;
}

static void expect_word(const json_t *root, const char *key, const char *word)
{
    const char *got = json_string_value(json_object_get(root, key));
    cr_expect(got && strcmp(got, word) == 0, "%s: %s, expected %s", key, got ? got : "none", word);
}

Test(verdict, message)
{
    struct verdict limited = verdict_limited(WISH_STICK, 5000000),
                   fine = {.kind = VERDICT_COUNTED, .of = WISH_VOTE, .answers = 3};
    json_t *root = as_json(&limited);
    expect_word(root, "type", "verdict");
    expect_word(root, "of", "stick");
    expect_word(root, "verdict", "limited");
    cr_expect_eq(json_integer_value(json_object_get(root, "wait_ms")), 5);
    json_decref(root);
    root = as_json(&fine);
    expect_word(root, "verdict", "counted");
    cr_expect_eq(json_integer_value(json_object_get(root, "answers")), 3);
    cr_expect_eq(json_object_size(root), 4);
    json_decref(root);
}

Test(verdict, every_fault_makes_a_message)
{
    for (int f = WISH_TOO_BIG; f < WISH_FAULT_COUNT; f++) {
        struct verdict v = verdict_malformed((enum wish_fault)f);
        json_t *root = as_json(&v);
        expect_word(root, "of", "message");
        expect_word(root, "code", f == WISH_TOO_BIG ? "too-big" : "malformed");
        json_decref(root);
    }
}
