/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/verdict.h"

#include "gateway/bus/json_text.h"

static struct verdict refused(enum wish_type of, const char *code, const char *text)
{
    return (struct verdict){.kind = VERDICT_REFUSED, .of = of, .code = code, .text = text, .answers = 1};
}

static struct verdict counted(enum wish_type of)
{
    return (struct verdict){.kind = VERDICT_COUNTED, .of = of, .answers = 1};
}

static struct verdict on_vote(const struct wish_message *wish, const struct scene *now)
{
    if (now->mode != CROWD_POLL)
        return refused(WISH_VOTE, "wrong-mode", "There is no vote now: hold the stick instead.");
    if (now->poll_phase == POLL_OFF)
        return refused(WISH_VOTE, "no-round", "No round is open yet.");
    if (wish->round > now->round)
        return refused(WISH_VOTE, "unknown-round", "That round has not opened yet.");
    if (wish->round < now->round || now->poll_phase == POLL_GRACE)
        return (struct verdict){.kind = VERDICT_OVERTAKEN,
                                .of = WISH_VOTE,
                                .code = "round-over",
                                .text = "That round is over.",
                                .answers = 1};
    return counted(WISH_VOTE);
}

/* Letting go is always allowed; anything else only while somebody listens and the camera may move. */
struct verdict verdict_on(const struct wish_message *wish, const struct scene *now)
{
    if (wish->type == WISH_RELEASE)
        return counted(WISH_RELEASE);
    if (!now)
        return refused(wish->type, "core-lost", "The control room is not connected: nothing moves.");
    if (now->mode == CROWD_CLOSED)
        return refused(wish->type, "closed", reason_for_viewers(REASON_AUDIENCE_CLOSED));
    if (now->stop_state != STOP_RUNNING)
        return refused(wish->type, "stopped", reason_for_viewers(now->stop_reason));
    if (wish->type == WISH_VOTE)
        return on_vote(wish, now);
    if (now->mode != CROWD_BLEND)
        return refused(WISH_STICK, "wrong-mode", "There is no stick now: vote instead.");
    return counted(WISH_STICK);
}

struct verdict verdict_malformed(enum wish_fault fault)
{
    return refused(WISH_NOTHING, fault == WISH_TOO_BIG ? "too-big" : "malformed", wish_fault_text(fault));
}

struct verdict verdict_limited(enum wish_type of, uint64_t wait_ns)
{
    const uint64_t ms = 1000000;
    uint64_t wait = wait_ns / ms + (wait_ns % ms != 0);
    return (struct verdict){.kind = VERDICT_LIMITED,
                            .of = of,
                            .code = "too-fast",
                            .text = "Too many wishes at once: wait a moment.",
                            .wait_ms = wait < UINT32_MAX ? (uint32_t)wait : UINT32_MAX,
                            .answers = 1};
}

static const char *kind_name(enum verdict_kind kind)
{
    static const char *const name[] = {
        [VERDICT_NONE] = "none",       [VERDICT_COUNTED] = "counted",     [VERDICT_LIMITED] = "limited",
        [VERDICT_REFUSED] = "refused", [VERDICT_OVERTAKEN] = "overtaken",
    };
    return (unsigned)kind < sizeof name / sizeof *name ? name[kind] : name[VERDICT_NONE];
}

static void add_string(struct json_text *t, const char *key, const char *value)
{
    if (!value)
        return;
    json_text_raw(t, key);
    json_text_string(t, value, VERDICT_JSON_MAX);
}

size_t verdict_json(const struct verdict *verdict, char *buf, size_t size)
{
    struct json_text t;
    json_text_begin(&t, buf, size);
    add_string(&t, "{\"type\":\"verdict\",\"of\":", wish_type_name(verdict->of));
    add_string(&t, ",\"verdict\":", kind_name(verdict->kind));
    add_string(&t, ",\"code\":", verdict->code);
    add_string(&t, ",\"text\":", verdict->text);
    if (verdict->kind == VERDICT_LIMITED) {
        json_text_raw(&t, ",\"wait_ms\":");
        json_text_unsigned(&t, verdict->wait_ms);
    }
    json_text_raw(&t, ",\"answers\":");
    json_text_unsigned(&t, verdict->answers);
    json_text_raw(&t, "}");
    return json_text_len(&t);
}
