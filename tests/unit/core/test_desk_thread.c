/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The desk thread with its real server, a real link and a least rig; the test plays the tick. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "gateway/core/desk_thread.h"
#include "stand.h"
#include "tests/bench/ws_client.h"

enum { TURNS = 4000, TURN_MS = 5 }; /* as long as anything is waited for */

struct trial {
    struct stand *stand;
    struct desk_thread *desk;
    pthread_t thread;
    struct ws_client ws[2];
};

static void poll_link(struct trial *t)
{
    struct rig_report report;
    bool began;
    link_poll(&t->stand->shared.link, stand_now_ns(), false, &report, &began);
}

static struct trial begin(void)
{
    struct trial t = {.stand = stand_new(), .desk = calloc(1, sizeof *t.desk), .ws = {{.fd = -1}, {.fd = -1}}};
    cr_assert(desk_thread_open(t.desk, &t.stand->shared, t.stand->files.secrets.passes, NULL));
    cr_assert_eq(pthread_create(&t.thread, NULL, desk_thread_run, t.desk), 0);
    for (int i = 0; i < TURNS && atomic_load(&t.stand->shared.link.session) == 0; i++) {
        poll_link(&t);
        stand_sleep_ms(TURN_MS);
    }
    cr_assert_neq(atomic_load(&t.stand->shared.link.session), 0u);
    return t;
}

static void end(struct trial *t)
{
    ws_client_close(&t->ws[0]);
    ws_client_close(&t->ws[1]);
    serve_stop(t->desk->serve);
    pthread_join(t->thread, NULL);
    desk_thread_close(t->desk);
    free(t->desk);
    stand_free(t->stand);
}

static void connect_to(struct trial *t, int i)
{
    cr_assert(ws_client_open(&t->ws[i], t->stand->show.desk.port, "/desk", "steadyhand.desk.1"));
}

/* The next message that holds `part`, while the link is polled as the tick would. */
static const char *wait_for(struct trial *t, int i, const char *part)
{
    for (int n = 0; n < TURNS; n++) {
        const char *text = ws_client_next(&t->ws[i], 5);
        poll_link(t);
        if (text && strstr(text, part))
            return text;
        if (!text && t->ws[i].fd < 0)
            return NULL;
    }
    return NULL;
}

static void greet(struct trial *t, int i, enum pass_role role, const char *name)
{
    char pass[PASS_MAX], hello[PASS_MAX + 64];
    stand_pass(t->stand, role, name, (uint64_t)time(NULL) + 60, pass);
    snprintf(hello, sizeof hello, "{\"type\":\"hello\",\"pass\":\"%s\"}", pass);
    connect_to(t, i);
    cr_assert(ws_client_send(&t->ws[i], hello));
    cr_assert_not_null(wait_for(t, i, "\"type\":\"welcome\""));
    cr_assert_not_null(wait_for(t, i, "\"type\":\"room\""));
}

static void say(struct trial *t, int i, const char *text)
{
    cr_assert(ws_client_send(&t->ws[i], text));
}

static struct desk_orders orders_where(struct trial *t, bool (*good)(const struct desk_orders *))
{
    struct desk_orders orders = {0};
    for (int i = 0; i < TURNS; i++) {
        mailbox_get(&t->stand->shared.orders, &orders);
        if (good(&orders))
            return orders;
        stand_sleep_ms(TURN_MS);
    }
    cr_assert_fail("the orders never came to that");
    return orders;
}

static int closed_after(struct trial *t, const char *first)
{
    connect_to(t, 0);
    say(t, 0, first);
    while (t->ws[0].close_code == 0 && t->ws[0].fd >= 0)
        (void)ws_client_next(&t->ws[0], 500);
    int code = t->ws[0].close_code;
    ws_client_close(&t->ws[0]);
    return code;
}

Test(desk_thread, only_a_good_pass_gets_in)
{
    struct trial t = begin();
    char pass[PASS_MAX], hello[PASS_MAX + 64];
    static const char *const no_pass[] = {"{\"type\":\"stop\"}", "{\"type\":\"beat\",\"n\":1}", "rubbish",
                                          "{\"type\":\"hello\"}", "{\"type\":\"hello\",\"pass\":\"sh1.operator.x.1\"}"};
    for (size_t i = 0; i < sizeof no_pass / sizeof no_pass[0]; i++)
        cr_assert_eq(closed_after(&t, no_pass[i]), SERVE_CLOSE_PASS, "%s", no_pass[i]);
    stand_pass(t.stand, PASS_OPERATOR, "dana", (uint64_t)time(NULL) - 1, pass);
    snprintf(hello, sizeof hello, "{\"type\":\"hello\",\"pass\":\"%s\"}", pass);
    cr_assert_eq(closed_after(&t, hello), SERVE_CLOSE_PASS, "expired");
    stand_pass(t.stand, PASS_VIEWER, "v", (uint64_t)time(NULL) + 60, pass);
    snprintf(hello, sizeof hello, "{\"type\":\"hello\",\"pass\":\"%s\"}", pass);
    cr_assert_eq(closed_after(&t, hello), SERVE_CLOSE_PASS, "a viewer");
    cr_assert_eq(atomic_load(&t.stand->rig.stops), 0u, "a stranger's stop does nothing");
    cr_assert_eq(stop_line_asked(&t.stand->shared.stops), 0u);
    end(&t);
}

Test(desk_thread, a_stop_reaches_the_rig_and_whoever_pressed_is_told)
{
    struct trial t = begin();
    greet(&t, 0, PASS_SPOTTER, "sam");
    greet(&t, 1, PASS_OPERATOR, "dana");
    stop_line_publish(&t.stand->shared.stops, 40);
    say(&t, 0, "{\"type\":\"stop\"}");
    cr_assert_not_null(wait_for(&t, 0, "{\"type\":\"stopped\",\"count\":41}"));
    cr_assert_eq(atomic_load(&t.stand->rig.stop_seen), 41u);
    struct stop_input in;
    stop_line_take(&t.stand->shared.stops, &in);
    cr_assert_eq(in.asked, 40u);
    cr_assert_eq(in.asked_why, REASON_STOP_SPOTTER);
    say(&t, 1, "{ \"t\\u0079pe\" : \"stop\" }"); /* spelled so that only the parser knows it */
    cr_assert_not_null(wait_for(&t, 1, "{\"type\":\"stopped\",\"count\":42}"));
    end(&t);
}

Test(desk_thread, a_stop_is_repeated_until_the_rig_has_heard_it)
{
    struct trial t = begin();
    greet(&t, 0, PASS_OPERATOR, "dana");
    atomic_store(&t.stand->rig.mute, true);
    say(&t, 0, "{\"type\":\"stop\"}");
    uint64_t from_ns = stand_now_ns(), sent = 0;
    for (int i = 0; i < 30 || (i < TURNS && sent < 5); i++) {
        const char *text = ws_client_next(&t.ws[0], TURN_MS);
        poll_link(&t);
        cr_assert(!text || !strstr(text, "stopped\",\"count"), "not confirmed, and not said to be");
        sent = atomic_load(&t.stand->shared.link.stops_sent);
    }
    uint64_t ms = (stand_now_ns() - from_ns) / 1000000;
    cr_assert(sent >= 5 && sent <= 5 + ms / 5, "%llu sent in %llu ms", (unsigned long long)sent,
              (unsigned long long)ms);
    atomic_store(&t.stand->rig.mute, false);
    cr_assert_not_null(wait_for(&t, 0, "\"type\":\"stopped\""));
    sent = atomic_load(&t.stand->shared.link.stops_sent);
    stand_sleep_ms(100);
    cr_assert_leq(atomic_load(&t.stand->shared.link.stops_sent), sent + 1, "and no longer");
    end(&t);
}

static bool has_stick(const struct desk_orders *o)
{
    return o->held && o->stick_ns != 0 && o->stick.x == 0.5;
}

static bool is_free(const struct desk_orders *o)
{
    return !o->held && o->stick_ns == 0;
}

static bool is_lost(const struct desk_orders *o)
{
    return o->held && o->stick_ns == 0;
}

static bool has_two_events(const struct desk_orders *o)
{
    return o->events == 2;
}

static bool is_blend_at_quarter(const struct desk_orders *o)
{
    return o->mode == CROWD_BLEND && o->audience_scale == 0.25;
}

Test(desk_thread, orders_reach_the_tick)
{
    struct trial t = begin();
    greet(&t, 0, PASS_OPERATOR, "dana");
    say(&t, 0, "{\"type\":\"take\"}");
    say(&t, 0, "{\"type\":\"stick\",\"x\":0.5,\"y\":0,\"z\":0}");
    orders_where(&t, has_stick);
    say(&t, 0, "{\"type\":\"release\"}");
    orders_where(&t, is_free);
    say(&t, 0, "{\"type\":\"mode\",\"mode\":\"blend\"}");
    say(&t, 0, "{\"type\":\"scale\",\"value\":0.25}");
    orders_where(&t, is_blend_at_quarter);
    say(&t, 0, "{\"type\":\"stop\"}");
    say(&t, 0, "{\"type\":\"reset\",\"stop\":2}");
    say(&t, 0, "{\"type\":\"go\",\"stop\":2}");
    struct desk_orders o = orders_where(&t, has_two_events);
    cr_assert_eq(o.event[0].what, STOP_EVENT_RESET);
    cr_assert_eq(o.event[0].asked, stop_line_asked(&t.stand->shared.stops));
    cr_assert_neq(o.event[0].asked, 0u);
    cr_assert_eq(o.event[1].count, 2u);
    cr_assert_neq(o.alive_ns, 0u);
    cr_assert_neq(o.presence_ns, 0u);
    say(&t, 0, "{\"type\":\"beat\",\"n\":77}");
    cr_assert_not_null(wait_for(&t, 0, "{\"type\":\"beat\",\"n\":77}"));
    end(&t);
}

Test(desk_thread, control_is_lost_when_the_holder_s_socket_closes)
{
    struct trial t = begin();
    greet(&t, 0, PASS_OPERATOR, "dana");
    greet(&t, 1, PASS_OPERATOR, "kim");
    say(&t, 0, "{\"type\":\"take\"}");
    say(&t, 0, "{\"type\":\"stick\",\"x\":0.5,\"y\":0,\"z\":0}");
    orders_where(&t, has_stick);
    say(&t, 1, "{\"type\":\"take\"}");
    cr_assert_not_null(wait_for(&t, 1, "\"of\":\"take\",\"code\":\"held\""));
    ws_client_close(&t.ws[0]);
    orders_where(&t, is_lost);
    say(&t, 1, "{\"type\":\"release\"}");
    orders_where(&t, is_free);
    end(&t);
}

Test(desk_thread, what_is_not_allowed_or_not_understood_is_said_so)
{
    struct trial t = begin();
    greet(&t, 0, PASS_SPOTTER, "sam");
    say(&t, 0, "{\"type\":\"reset\",\"stop\":1}");
    cr_assert_not_null(wait_for(&t, 0, "\"of\":\"reset\",\"code\":\"not-allowed\""));
    say(&t, 0, "{\"type\":\"scale\",\"value\":2}");
    cr_assert_not_null(wait_for(&t, 0, "\"of\":\"scale\",\"code\":\"malformed\""));
    say(&t, 0, "{\"type\":\"dance\"}");
    cr_assert_not_null(wait_for(&t, 0, "\"of\":\"message\",\"code\":\"unknown\""));
    say(&t, 0, "nonsense");
    cr_assert_not_null(wait_for(&t, 0, "\"of\":\"message\",\"code\":\"malformed\""));
    struct desk_orders o = {0};
    mailbox_get(&t.stand->shared.orders, &o);
    cr_assert_eq(o.events, 0u);
    end(&t);
}

/* The test plays the tick that did not honour a go. */
Test(desk_thread, a_go_that_does_nothing_is_explained_to_whoever_pressed_it)
{
    struct trial t = begin();
    struct shared_report report = {.scene = {.seq = 1}, .answers = 2};
    greet(&t, 0, PASS_OPERATOR, "dana");
    say(&t, 0, "{\"type\":\"go\",\"stop\":1}");
    say(&t, 0, "{\"type\":\"reset\",\"stop\":0}");
    say(&t, 0, "{\"type\":\"beat\",\"n\":1}");
    cr_assert_not_null(wait_for(&t, 0, "\"type\":\"beat\""));
    report.answer[1] = (struct shared_answer){.what = STOP_EVENT_RESET, .overtaken = true};
    report.answer[0] = (struct shared_answer){.what = STOP_EVENT_GO, .answer = STOP_OUT_OF_TURN, .state = STOP_LATCHED};
    mailbox_put(&t.stand->shared.report, &report);
    cr_assert_not_null(wait_for(&t, 0, "\"of\":\"go\",\"code\":\"not-reset\""));
    cr_assert_not_null(wait_for(&t, 0, "\"of\":\"reset\",\"code\":\"overtaken\""));
    cr_assert_not_null(wait_for(&t, 0, "\"type\":\"scene\""));
    end(&t);
}

Test(desk_thread, a_flood_from_a_desk_is_cut_off_but_its_stop_is_not)
{
    struct trial t = begin();
    greet(&t, 0, PASS_OPERATOR, "dana");
    for (int i = 0; i < 1000; i++)
        say(&t, 0, "{\"type\":\"stop\"}");
    cr_assert_not_null(wait_for(&t, 0, "{\"type\":\"stopped\",\"count\":1001}"));
    for (int i = 0; i < 1000 && t.ws[0].fd >= 0; i++)
        if (!ws_client_send(&t.ws[0], "{\"type\":\"beat\",\"n\":1}"))
            break;
    while (t.ws[0].close_code == 0 && t.ws[0].fd >= 0)
        (void)ws_client_next(&t.ws[0], 500);
    int code = t.ws[0].close_code; /* lost where the kernel resets the connection for what was still unread */
    cr_assert(code == SERVE_CLOSE_BUSY || (code == 0 && t.ws[0].fd < 0), "closed with %d", code);
    end(&t);
}

Test(desk_thread, a_port_in_use_is_an_error)
{
    struct trial t = begin();
    struct desk_thread *second = calloc(1, sizeof *second);
    cr_assert_not(desk_thread_open(second, &t.stand->shared, t.stand->files.secrets.passes, NULL));
    free(second);
    end(&t);
}
