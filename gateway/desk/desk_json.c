/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/desk/desk_json.h"

#include "gateway/bus/json_text.h"

/* Whole numbers a page can hold exactly (RFC 7493, 2.2). */
#define EXACT_MAX ((1ULL << 53) - 1)

static void whole(struct json_text *t, const char *key, uint64_t value)
{
    json_text_raw(t, key);
    json_text_unsigned(t, value < EXACT_MAX ? value : EXACT_MAX);
}

static void flag(struct json_text *t, const char *key, bool value)
{
    json_text_raw(t, key);
    json_text_raw(t, value ? "true" : "false");
}

static void string(struct json_text *t, const char *key, const char *value)
{
    json_text_raw(t, key);
    json_text_string(t, value, DESK_JSON_SMALL);
}

size_t desk_json_welcome(const struct desk_member *member, char *buf, size_t size)
{
    struct json_text t;
    json_text_begin(&t, buf, size);
    string(&t, "{\"type\":\"welcome\",\"protocol\":1,\"role\":", pass_role_name(member->role));
    string(&t, ",\"name\":", member->name);
    whole(&t, ",\"id\":", member->id);
    json_text_raw(&t, "}");
    return json_text_len(&t);
}

size_t desk_json_beat(uint64_t n, char *buf, size_t size)
{
    struct json_text t;
    json_text_begin(&t, buf, size);
    whole(&t, "{\"type\":\"beat\",\"n\":", n);
    json_text_raw(&t, "}");
    return json_text_len(&t);
}

size_t desk_json_stopped(uint64_t count, char *buf, size_t size)
{
    struct json_text t;
    json_text_begin(&t, buf, size);
    whole(&t, "{\"type\":\"stopped\",\"count\":", count);
    json_text_raw(&t, "}");
    return json_text_len(&t);
}

size_t desk_json_refused(const char *of, const char *code, const char *text, char *buf, size_t size)
{
    struct json_text t;
    json_text_begin(&t, buf, size);
    string(&t, "{\"type\":\"refused\",\"of\":", of);
    string(&t, ",\"code\":", code);
    string(&t, ",\"text\":", text);
    json_text_raw(&t, "}");
    return json_text_len(&t);
}

static void write_people(struct json_text *t, const struct desk_state *state, bool you_hold)
{
    string(t, ",\"desk\":{\"holder\":", state->holder ? state->holder_name : NULL);
    whole(t, ",\"holder_id\":", state->holder);
    flag(t, ",\"lost\":", state->orders.held && state->holder == 0);
    flag(t, ",\"you_hold\":", you_hold);
    whole(t, ",\"desks\":", state->desks);
    string(t, ",\"spotter\":", state->spotter ? state->spotter_name : NULL);
    whole(t, ",\"spotter_id\":", state->spotter);
}

static void write_limits(struct json_text *t, const struct desk_view *view)
{
    flag(t, ",\"setup\":", view->setup);
    json_text_raw(t, ",\"speeds\":{\"audience\":");
    json_text_real(t, view->lane_mps[LANE_AUDIENCE], 4);
    json_text_raw(t, ",\"operator\":");
    json_text_real(t, view->lane_mps[LANE_OPERATOR], 4);
    json_text_raw(t, "}");
}

static void write_clamps(struct json_text *t, const struct desk_view *view)
{
    const char *separator = "";
    json_text_raw(t, ",\"clamps\":{");
    for (int r = REASON_NONE + 1; r < REASON_COUNT; r++) {
        if (view->clamped[r] == 0)
            continue;
        json_text_raw(t, separator);
        string(t, "", reason_code((enum reason)r));
        whole(t, ":", view->clamped[r]);
        separator = ",";
    }
    json_text_raw(t, "}");
}

static void write_ticks(struct json_text *t, const struct desk_view *view)
{
    whole(t, ",\"tick\":{\"count\":", view->ticks);
    whole(t, ",\"skipped\":", view->skipped);
    whole(t, ",\"late_p50_us\":", view->late_p50_us);
    whole(t, ",\"late_p99_us\":", view->late_p99_us);
    whole(t, ",\"late_p999_us\":", view->late_p999_us);
    whole(t, ",\"late_max_us\":", view->late_max_us);
    for (int i = 0; i < DESK_JSON_STEPS; i++)
        whole(t, i == 0 ? ",\"late_steps\":[" : ",", view->late_steps[i]);
    whole(t, "],\"page_faults\":", view->page_faults);
    flag(t, ",\"real_time\":", view->real_time);
    flag(t, ",\"locked\":", view->locked);
    json_text_raw(t, "}");
}

static void write_numbers(struct json_text *t, const struct desk_view *view)
{
    flag(t, ",\"rig\":{\"session\":", view->session);
    whole(t, ",\"sent\":", view->sent);
    whole(t, ",\"telemetry\":", view->telemetry);
    whole(t, ",\"refused\":", view->refused);
    json_text_raw(t, "}");
    write_ticks(t, view);
    whole(t, ",\"counts\":{\"accepted\":", view->counts.accepted);
    whole(t, ",\"limited\":", view->counts.limited);
    whole(t, ",\"refused\":", view->counts.refused);
    whole(t, ",\"connects\":", view->counts.connects);
    whole(t, ",\"turned_away\":", view->counts.turned_away);
    json_text_raw(t, "}");
}

size_t desk_json_scene(const struct scene *scene, const struct show *show, const struct desk_view *view,
                       const struct desk_state *state, bool you_hold, char *buf, size_t size)
{
    struct json_text t;
    size_t len = scene_json(scene, show, true, buf, size);
    if (len == 0)
        return 0;
    json_text_resume(&t, buf, len, size);
    write_people(&t, state, you_hold);
    write_numbers(&t, view);
    write_limits(&t, view);
    write_clamps(&t, view);
    whole(&t, ",\"rounds\":", view->rounds);
    whole(&t, ",\"stop\":{\"count\":", view->stop_count);
    flag(&t, ",\"confirmed\":", view->stop_confirmed);
    json_text_raw(&t, "}}}");
    return json_text_len(&t);
}
