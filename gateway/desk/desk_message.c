/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/desk/desk_message.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#define EXACT_MAX       ((json_int_t)1 << 53)
#define LIMIT_SPEED_MPS 10.0
#define LIMIT_HEIGHT_M  100.0

static bool number(const json_t *root, const char *key, double lo, double hi, double *out)
{
    const json_t *j = json_object_get(root, key);
    double v = json_is_number(j) ? json_number_value(j) : NAN;
    if (isnan(v) || v < lo || v > hi)
        return false;
    *out = v;
    return true;
}

static bool no_fields(const json_t *root, struct desk_message *m)
{
    (void)root;
    (void)m;
    return true;
}

static bool hello_fields(const json_t *root, struct desk_message *m)
{
    const json_t *j = json_object_get(root, "pass");
    size_t len = json_string_length(j);
    if (!json_is_string(j) || len >= sizeof m->pass)
        return false;
    memcpy(m->pass, json_string_value(j), len + 1);
    return true;
}

static bool whole(const json_t *root, const char *key, struct desk_message *m)
{
    const json_t *j = json_object_get(root, key);
    json_int_t n = json_integer_value(j);
    if (!json_is_integer(j) || n < 0 || n >= EXACT_MAX)
        return false;
    m->n = (uint64_t)n;
    return true;
}

static bool beat_fields(const json_t *root, struct desk_message *m)
{
    return whole(root, "n", m);
}

static bool event_fields(const json_t *root, struct desk_message *m)
{
    return whole(root, "stop", m);
}

static bool stick_fields(const json_t *root, struct desk_message *m)
{
    return number(root, "x", -1, 1, &m->stick.x) && number(root, "y", -1, 1, &m->stick.y) &&
           number(root, "z", -1, 1, &m->stick.z);
}

static bool mode_fields(const json_t *root, struct desk_message *m)
{
    const char *word = json_string_value(json_object_get(root, "mode"));
    for (int mode = CROWD_CLOSED; word && mode < CROWD_MODE_COUNT; mode++)
        if (strcmp(word, crowd_mode_name((enum crowd_mode)mode)) == 0) {
            m->mode = (enum crowd_mode)mode;
            return true;
        }
    return false;
}

static bool scale_fields(const json_t *root, struct desk_message *m)
{
    return number(root, "value", 0, 1, &m->value);
}

static bool switch_fields(const json_t *root, struct desk_message *m)
{
    const json_t *j = json_object_get(root, "on");
    m->on = json_is_true(j);
    return json_is_boolean(j);
}

static bool head_fields(const json_t *root, struct desk_message *m)
{
    return number(root, "pan", -1, 1, &m->head[HEAD_PAN]) && number(root, "tilt", -1, 1, &m->head[HEAD_TILT]) &&
           number(root, "roll", -1, 1, &m->head[HEAD_ROLL]) && number(root, "zoom", -1, 1, &m->head[HEAD_ZOOM]);
}

/* null: as it is. */
static bool number_or_null(const json_t *root, const char *key, double lo, double hi, double *out)
{
    *out = NAN;
    return json_is_null(json_object_get(root, key)) || number(root, key, lo, hi, out);
}

static bool lane_field(const json_t *root, enum lane *lane)
{
    const char *word = json_string_value(json_object_get(root, "lane"));
    *lane = word && strcmp(word, "audience") == 0 ? LANE_AUDIENCE : LANE_OPERATOR;
    return word && (*lane == LANE_AUDIENCE || strcmp(word, "operator") == 0);
}

static bool limit_fields(const json_t *root, struct desk_message *m)
{
    return lane_field(root, &m->limit.lane) && number_or_null(root, "speed", 0, LIMIT_SPEED_MPS, &m->limit.speed_mps) &&
           number_or_null(root, "floor", -LIMIT_HEIGHT_M, LIMIT_HEIGHT_M, &m->limit.floor_m) &&
           number_or_null(root, "ceiling", -LIMIT_HEIGHT_M, LIMIT_HEIGHT_M, &m->limit.ceiling_m);
}

enum {
    BY_OPERATOR = 1 << PASS_OPERATOR,
    BY_HOUSE = BY_OPERATOR | 1 << PASS_MODERATOR,
    BY_SPOTTER = 1 << PASS_SPOTTER,
    BY_ANY = BY_HOUSE | BY_SPOTTER
};

/* The protocol. A viewer's pass may nothing here, not even say hello. */
static const struct desk_rule {
    const char *name;
    unsigned roles;
    size_t keys; /* "type" counts */
    bool (*fields)(const json_t *root, struct desk_message *m);
} rules[] = {
    [DESK_HELLO] = {"hello", BY_ANY, 2, hello_fields},      [DESK_BEAT] = {"beat", BY_ANY, 2, beat_fields},
    [DESK_STOP] = {"stop", BY_ANY, 1, no_fields},           [DESK_ARM] = {"arm", BY_OPERATOR, 2, event_fields},
    [DESK_RESET] = {"reset", BY_OPERATOR, 2, event_fields}, [DESK_GO] = {"go", BY_OPERATOR, 2, event_fields},
    [DESK_HOLD] = {"hold", BY_ANY, 1, no_fields},           [DESK_PARK] = {"park", BY_OPERATOR, 1, no_fields},
    [DESK_TAKE] = {"take", BY_OPERATOR, 1, no_fields},      [DESK_RELEASE] = {"release", BY_OPERATOR, 1, no_fields},
    [DESK_STICK] = {"stick", BY_OPERATOR, 4, stick_fields}, [DESK_MODE] = {"mode", BY_HOUSE, 2, mode_fields},
    [DESK_SCALE] = {"scale", BY_HOUSE, 2, scale_fields},    [DESK_ENABLE] = {"enable", BY_SPOTTER, 2, switch_fields},
    [DESK_HEAD] = {"head", BY_OPERATOR, 5, head_fields},    [DESK_HEAD_HOME] = {"head-home", BY_OPERATOR, 1, no_fields},
    [DESK_LIMIT] = {"limit", BY_ANY, 5, limit_fields},      [DESK_SETUP] = {"setup", BY_OPERATOR, 2, switch_fields},
};
_Static_assert(sizeof rules / sizeof rules[0] == DESK_TYPE_COUNT, "one rule a type");

bool desk_message_allowed(enum desk_type type, enum pass_role role)
{
    return (unsigned)type < DESK_TYPE_COUNT && (unsigned)role < PASS_ROLE_COUNT && (rules[type].roles >> role & 1u);
}

const char *desk_message_name(enum desk_type type)
{
    return (unsigned)type < DESK_TYPE_COUNT ? rules[type].name : "message";
}

static bool find_type(const json_t *root, enum desk_type *type)
{
    const char *word = json_string_value(json_object_get(root, "type"));
    for (int t = 0; word && t < DESK_TYPE_COUNT; t++)
        if (strcmp(word, rules[t].name) == 0) {
            *type = (enum desk_type)t;
            return true;
        }
    return false;
}

enum desk_parse desk_message_parse(const char *text, size_t len, struct desk_message *out, enum desk_type *type)
{
    json_t *root = len <= DESK_MESSAGE_MAX ? json_loadb(text, len, JSON_REJECT_DUPLICATES, NULL) : NULL;
    struct desk_message m = {0};
    enum desk_parse result = DESK_NOT_JSON;
    if (json_is_object(root)) {
        result = DESK_NO_TYPE;
        if (find_type(root, &m.type)) {
            *type = m.type;
            bool good = json_object_size(root) == rules[m.type].keys && rules[m.type].fields(root, &m);
            result = good ? DESK_PARSED : DESK_BAD_FIELDS;
        }
    }
    json_decref(root);
    if (result == DESK_PARSED)
        *out = m;
    return result;
}

static const char *skip_space(const char *at, const char *end)
{
    while (at < end && (*at == ' ' || *at == '\t' || *at == '\n' || *at == '\r'))
        at++;
    return at;
}

bool desk_message_is_stop(const char *text, size_t len)
{
    static const char *const tokens[] = {"{", "\"type\"", ":", "\"stop\"", "}"};
    const char *at = text, *end = text + len;
    for (size_t i = 0; i < sizeof tokens / sizeof tokens[0]; i++) {
        size_t n = strlen(tokens[i]);
        at = skip_space(at, end);
        if ((size_t)(end - at) < n || memcmp(at, tokens[i], n) != 0)
            return false;
        at += n;
    }
    return len <= DESK_MESSAGE_MAX && skip_space(at, end) == end;
}
