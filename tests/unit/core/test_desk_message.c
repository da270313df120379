/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "gateway/desk/desk_message.h"

static enum desk_parse parse(const char *text, struct desk_message *m, enum desk_type *type)
{
    return desk_message_parse(text, strlen(text), m, type);
}

static struct desk_message parsed(const char *text)
{
    struct desk_message m = {0};
    enum desk_type type = DESK_TYPE_COUNT;
    cr_assert_eq(parse(text, &m, &type), DESK_PARSED, "%s", text);
    cr_assert_eq(type, m.type);
    return m;
}

Test(desk_message, every_message_of_the_protocol)
{
    struct desk_message m = parsed("{\"type\":\"hello\",\"pass\":\"sh1.a.b\"}");
    cr_assert_eq(m.type, DESK_HELLO);
    cr_assert_str_eq(m.pass, "sh1.a.b");
    m = parsed("{\"n\":9007199254740991,\"type\":\"beat\"}");
    cr_assert_eq(m.type, DESK_BEAT);
    cr_assert_eq(m.n, 9007199254740991u);
    m = parsed(" {\"type\" : \"stick\",\"x\":-1,\"y\":1.0,\"z\":0.25} ");
    cr_assert_eq(m.type, DESK_STICK);
    cr_assert(m.stick.x == -1 && m.stick.y == 1 && m.stick.z == 0.25);
    m = parsed("{\"type\":\"reset\",\"stop\":3}");
    cr_assert(m.type == DESK_RESET && m.n == 3);
    m = parsed("{\"stop\":4,\"type\":\"go\"}");
    cr_assert(m.type == DESK_GO && m.n == 4);
    cr_assert_eq(parsed("{\"type\":\"mode\",\"mode\":\"blend\"}").mode, CROWD_BLEND);
    cr_assert_eq(parsed("{\"type\":\"mode\",\"mode\":\"closed\"}").mode, CROWD_CLOSED);
    cr_assert_eq(parsed("{\"type\":\"scale\",\"value\":0}").value, 0);
    cr_assert_eq(parsed("{\"type\":\"scale\",\"value\":1}").value, 1);
    m = parsed("{\"type\":\"enable\",\"on\":true}");
    cr_assert(m.type == DESK_ENABLE && m.on);
    cr_assert_not(parsed("{\"type\":\"enable\",\"on\":false}").on);
    m = parsed("{\"type\":\"arm\",\"stop\":7}");
    cr_assert(m.type == DESK_ARM && m.n == 7);
    cr_assert_eq(parsed("{\"type\":\"hold\"}").type, DESK_HOLD);
    cr_assert_eq(parsed("{\"type\":\"park\"}").type, DESK_PARK);
    m = parsed("{\"type\":\"setup\",\"on\":true}");
    cr_assert(m.type == DESK_SETUP && m.on);
    m = parsed("{\"type\":\"head\",\"pan\":-1,\"tilt\":0.5,\"roll\":0,\"zoom\":1}");
    cr_assert(m.head[HEAD_PAN] == -1 && m.head[HEAD_TILT] == 0.5 && m.head[HEAD_ROLL] == 0 && m.head[HEAD_ZOOM] == 1);
    m = parsed("{\"type\":\"limit\",\"lane\":\"audience\",\"speed\":0.15,\"floor\":null,\"ceiling\":2}");
    cr_assert(m.limit.lane == LANE_AUDIENCE && m.limit.speed_mps == 0.15 && m.limit.ceiling_m == 2);
    cr_assert(isnan(m.limit.floor_m), "null: as it is");
    m = parsed("{\"type\":\"limit\",\"lane\":\"operator\",\"speed\":null,\"floor\":-1,\"ceiling\":null}");
    cr_assert(m.limit.lane == LANE_OPERATOR && isnan(m.limit.speed_mps) && m.limit.floor_m == -1);
    static const char *const plain[] = {"stop", "take", "release", "head-home"};
    static const enum desk_type types[] = {DESK_STOP, DESK_TAKE, DESK_RELEASE, DESK_HEAD_HOME};
    for (size_t i = 0; i < sizeof plain / sizeof plain[0]; i++) {
        char text[64];
        snprintf(text, sizeof text, "{\"type\":\"%s\"}", plain[i]);
        cr_assert_eq(parsed(text).type, types[i]);
        cr_assert_str_eq(desk_message_name(types[i]), plain[i]);
    }
}

static const struct {
    const char *text;
    enum desk_parse as;
} bad[] = {
    {"", DESK_NOT_JSON},
    {"stop", DESK_NOT_JSON},
    {"[\"stop\"]", DESK_NOT_JSON},
    {"{\"type\":\"go\"} {}", DESK_NOT_JSON},
    {"{\"type\":\"go\",\"type\":\"stop\"}", DESK_NOT_JSON},
    {"{\"type\":\"scale\",\"value\":1,\"value\":0}", DESK_NOT_JSON},
    {"{\"type\":\"scale\",\"value\":NaN}", DESK_NOT_JSON},
    {"{\"type\":\"scale\",\"value\":1e999}", DESK_NOT_JSON},
    {"{\"type\":\"hello\",\"pass\":\"\\u0000\"}", DESK_NOT_JSON},
    {"{\"type\":\"hello\",\"pass\":\"\xff\"}", DESK_NOT_JSON},
    {"{}", DESK_NO_TYPE},
    {"{\"type\":7}", DESK_NO_TYPE},
    {"{\"type\":\"Stop\"}", DESK_NO_TYPE},
    {"{\"type\":\"vote\",\"choice\":\"stay\"}", DESK_NO_TYPE},
    {"{\"type\":\"go\",\"stop\":1,\"now\":true}", DESK_BAD_FIELDS},
    {"{\"type\":\"go\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"reset\",\"stop\":-1}", DESK_BAD_FIELDS},
    {"{\"type\":\"reset\",\"stop\":\"1\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"stop\",\"x\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"beat\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"beat\",\"n\":-1}", DESK_BAD_FIELDS},
    {"{\"type\":\"beat\",\"n\":1.5}", DESK_BAD_FIELDS},
    {"{\"type\":\"beat\",\"n\":9007199254740992}", DESK_BAD_FIELDS},
    {"{\"type\":\"beat\",\"m\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"stick\",\"x\":0,\"y\":0}", DESK_BAD_FIELDS},
    {"{\"type\":\"stick\",\"x\":1.0001,\"y\":0,\"z\":0}", DESK_BAD_FIELDS},
    {"{\"type\":\"stick\",\"x\":\"1\",\"y\":0,\"z\":0}", DESK_BAD_FIELDS},
    {"{\"type\":\"stick\",\"x\":null,\"y\":0,\"z\":0}", DESK_BAD_FIELDS},
    {"{\"type\":\"mode\",\"mode\":\"turns\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"mode\",\"mode\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"scale\",\"value\":1.01}", DESK_BAD_FIELDS},
    {"{\"type\":\"scale\",\"value\":-0.01}", DESK_BAD_FIELDS},
    {"{\"type\":\"scale\",\"value\":true}", DESK_BAD_FIELDS},
    {"{\"type\":\"hello\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"enable\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"enable\",\"on\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"enable\",\"on\":null}", DESK_BAD_FIELDS},
    {"{\"type\":\"hold\",\"on\":true}", DESK_BAD_FIELDS},
    {"{\"type\":\"arm\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"park\",\"stop\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"setup\",\"on\":\"true\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"head\",\"pan\":0,\"tilt\":0,\"roll\":0}", DESK_BAD_FIELDS},
    {"{\"type\":\"head\",\"pan\":0,\"tilt\":0,\"roll\":0,\"zoom\":1.1}", DESK_BAD_FIELDS},
    {"{\"type\":\"head-home\",\"now\":true}", DESK_BAD_FIELDS},
    {"{\"type\":\"limit\",\"lane\":\"idle\",\"speed\":0,\"floor\":0,\"ceiling\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"limit\",\"lane\":2,\"speed\":0,\"floor\":0,\"ceiling\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"limit\",\"speed\":0,\"floor\":0,\"ceiling\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"limit\",\"lane\":\"operator\",\"speed\":-0.1,\"floor\":0,\"ceiling\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"limit\",\"lane\":\"operator\",\"speed\":11,\"floor\":0,\"ceiling\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"limit\",\"lane\":\"operator\",\"speed\":1,\"floor\":-101,\"ceiling\":1}", DESK_BAD_FIELDS},
    {"{\"type\":\"limit\",\"lane\":\"operator\",\"speed\":1,\"floor\":0,\"ceiling\":\"1\"}", DESK_BAD_FIELDS},
    {"{\"type\":\"limit\",\"lane\":\"operator\",\"speed\":1,\"floor\":0}", DESK_BAD_FIELDS},
    {"{\"type\":\"hello\",\"pass\":1}", DESK_BAD_FIELDS},
};

Test(desk_message, what_is_not_the_protocol_is_refused_and_changes_nothing)
{
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct desk_message m, before;
        enum desk_type type = DESK_TYPE_COUNT;
        memset(&m, 0x5a, sizeof m);
        before = m;
        cr_assert_eq(parse(bad[i].text, &m, &type), bad[i].as, "%s", bad[i].text);
        cr_assert_eq(memcmp(&m, &before, sizeof m), 0);
        cr_assert_eq(type != DESK_TYPE_COUNT, bad[i].as == DESK_BAD_FIELDS, "%s", bad[i].text);
    }
}

Test(desk_message, a_message_too_long_is_refused)
{
    char text[DESK_MESSAGE_MAX + 2];
    struct desk_message m;
    enum desk_type type;
    memset(text, ' ', sizeof text);
    memcpy(text, "{\"type\":\"stop\"}", 15);
    cr_assert_eq(desk_message_parse(text, DESK_MESSAGE_MAX, &m, &type), DESK_PARSED);
    cr_assert(desk_message_is_stop(text, DESK_MESSAGE_MAX));
    cr_assert_eq(desk_message_parse(text, DESK_MESSAGE_MAX + 1, &m, &type), DESK_NOT_JSON);
    cr_assert_not(desk_message_is_stop(text, DESK_MESSAGE_MAX + 1));
    memset(text, 0, sizeof text);
    snprintf(text, sizeof text, "{\"type\":\"hello\",\"pass\":\"%0*d\"}", PASS_MAX, 1);
    cr_assert_eq(desk_message_parse(text, strlen(text), &m, &type), DESK_BAD_FIELDS, "a pass of %d characters",
                 PASS_MAX);
}

Test(desk_message, a_stop_is_known_at_a_glance)
{
    static const char *const yes[] = {"{\"type\":\"stop\"}", " { \"type\" :\t\"stop\"\r\n} "};
    static const char *const no[] = {"",
                                     "{",
                                     "{\"type\":\"stop\"",
                                     "{\"type\":\"stop\"}}",
                                     "{\"type\":\"stop\"}x",
                                     "{\"type\":\"stops\"}",
                                     "{\"type\":\"go\"}",
                                     "{\"type\":\"stop\",}",
                                     "{'type':'stop'}",
                                     "{\"Type\":\"stop\"}",
                                     "{\"type\":\"stop\",\"n\":1}",
                                     "{\"pass\":\"{\\\"type\\\":\\\"stop\\\"}\"}"};
    for (size_t i = 0; i < sizeof yes / sizeof yes[0]; i++)
        cr_assert(desk_message_is_stop(yes[i], strlen(yes[i])), "%s", yes[i]);
    for (size_t i = 0; i < sizeof no / sizeof no[0]; i++)
        cr_assert_not(desk_message_is_stop(no[i], strlen(no[i])), "%s", no[i]);
    for (size_t n = 0; n < strlen(yes[0]); n++)
        cr_assert_not(desk_message_is_stop(yes[0], n), "cut to %zu", n);
    cr_assert_eq(parsed("{\"t\\u0079pe\":\"st\\u006fp\"}").type, DESK_STOP, "an escaped stop is found by the parser");
}

/* The whole table of who may what: a viewer nothing; everybody stop, hold and tighten; a spotter enable, and nobody
 * else; a moderator the audience; an operator all but that. */
Test(desk_message, roles)
{
    for (int t = 0; t < DESK_TYPE_COUNT; t++) {
        enum desk_type type = (enum desk_type)t;
        bool anyone =
            type == DESK_HELLO || type == DESK_BEAT || type == DESK_STOP || type == DESK_HOLD || type == DESK_LIMIT;
        bool house = anyone || type == DESK_MODE || type == DESK_SCALE;
        cr_assert_not(desk_message_allowed(type, PASS_NONE));
        cr_assert_not(desk_message_allowed(type, PASS_VIEWER));
        cr_assert_eq(desk_message_allowed(type, PASS_SPOTTER), anyone || type == DESK_ENABLE);
        cr_assert_eq(desk_message_allowed(type, PASS_MODERATOR), house);
        cr_assert_eq(desk_message_allowed(type, PASS_OPERATOR), type != DESK_ENABLE);
        cr_assert_not(desk_message_allowed(type, PASS_ROLE_COUNT));
        cr_assert_not(desk_message_allowed(type, (enum pass_role)99));
    }
    cr_assert_not(desk_message_allowed(DESK_TYPE_COUNT, PASS_OPERATOR));
    cr_assert_str_eq(desk_message_name((enum desk_type)99), "message");
}
