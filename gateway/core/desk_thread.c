/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/desk_thread.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "gateway/clock.h"
#include "gateway/core/desk_peer.h"
#include "gateway/core/realtime.h"
#include "gateway/desk/desk_answer.h"
#include "gateway/show/room_json.h"

/* Far more than a page sends; a stop is never limited. */
static const struct pace_config desk_pace = {.interval_ns = 5000000, .tolerance_ns = 1000000000};

static void put_orders(struct desk_thread *d)
{
    d->state.orders.alive_ns = clock_now_ns();
    mailbox_put(&d->shared->orders, &d->state.orders);
}

static enum reason stop_reason(enum pass_role role)
{
    return role == PASS_OPERATOR  ? REASON_STOP_OPERATOR
           : role == PASS_SPOTTER ? REASON_STOP_SPOTTER
                                  : REASON_STOP_MODERATOR;
}

static enum stop_category stop_category(const struct show_stop *by, enum pass_role role)
{
    return role == PASS_OPERATOR ? by->operator: role == PASS_SPOTTER ? by->spotter : by->moderator;
}

/* First the rig, then everything else. */
static void press_stop(struct desk_thread *d, struct desk_peer *p)
{
    enum reason why = stop_reason(p->member.role);
    enum stop_category category = stop_category(&d->shared->show->stop, p->member.role);
    bool open = d->stop_count != 0 && !link_stop_confirmed(&d->shared->link, d->stop_count);
    category = open ? stop_severer(category, d->stop_category) : category;
    uint64_t count = stop_line_press(&d->shared->stops, why, category);
    (void)link_send_stop(&d->shared->link, count, why, category);
    d->stop_count = count;
    d->stop_why = why;
    d->stop_category = category;
    p->stop_wait = count;
    p->heard_ns = clock_now_ns();
}

/* The stop goes out again and again until the rig has said that it heard it; then whoever pressed is told. */
static void repeat_stop(void *ctx)
{
    struct desk_thread *d = ctx;
    if (d->stop_count != 0 && !link_stop_confirmed(&d->shared->link, d->stop_count))
        (void)link_send_stop(&d->shared->link, d->stop_count, d->stop_why, d->stop_category);
    for (struct desk_peer *p = d->peers; p; p = p->next)
        if (p->stop_wait != 0 && link_stop_confirmed(&d->shared->link, p->stop_wait)) {
            p->stopped = p->stop_wait;
            p->stop_wait = 0;
            serve_want_write(p->socket);
        }
}

static const char *pass_complaint(enum pass_error error)
{
    switch (error) {
    case PASS_FORGED:
        return "this pass is not of this show";
    case PASS_EXPIRED:
        return "this pass has expired";
    case PASS_OK:
        return "this pass is not for the desk";
    case PASS_MALFORMED:
        break;
    }
    return "this is not a pass";
}

/* The first message must bring a pass that may be here; nothing else of a stranger is looked at. */
static void greet(struct desk_thread *d, struct desk_peer *p, const char *text, size_t len)
{
    struct desk_message m;
    enum desk_type type = DESK_TYPE_COUNT;
    struct pass pass;
    if (desk_message_parse(text, len, &m, &type) != DESK_PARSED || type != DESK_HELLO) {
        serve_close(p->socket, SERVE_CLOSE_PASS, "say hello with a pass first");
        return;
    }
    const struct desk_moment at = {.now_ns = p->heard_ns, .unix_s = (uint64_t)time(NULL)};
    enum pass_error error = pass_check(d->pass_secret, m.pass, strlen(m.pass), at.unix_s, &pass);
    if (error != PASS_OK || !desk_message_allowed(DESK_HELLO, pass.role)) {
        serve_close(p->socket, SERVE_CLOSE_PASS, pass_complaint(error));
        return;
    }
    if (!serve_accept(p->socket))
        return;
    desk_state_join(&d->state, &pass, &at, &p->member);
    p->greeted = p->owe_welcome = p->owe_room = true;
    p->scene_seq = d->scene_seq; /* its first scene is the next one, which counts this desk */
    serve_want_write(p->socket);
}

static void refuse(struct desk_peer *p, enum desk_type type, enum desk_verdict verdict)
{
    desk_peer_refuse(p, desk_message_name(type), desk_state_code(verdict), desk_state_text(verdict));
}

static void act(struct desk_thread *d, struct desk_peer *p, const struct desk_message *m)
{
    struct desk_moment at = {.now_ns = p->heard_ns};
    at.asked = stop_line_asked(&d->shared->stops);
    mailbox_get(&d->shared->report, &d->report);
    at.running = d->report.scene.stop_state == STOP_RUNNING;
    at.armed = stop_is_armed(d->report.scene.stop_state);
    at.limits = d->report.limits;
    enum desk_verdict verdict = desk_state_take(&d->state, &p->member, m, &at);
    if (verdict != DESK_DONE)
        refuse(p, m->type, verdict);
    else if (m->type == DESK_ARM || m->type == DESK_RESET || m->type == DESK_GO || m->type == DESK_PARK)
        d->pressed_by[(d->state.orders.events - 1) % DESK_ORDERS_EVENTS] = p->member.id;
    else if (m->type == DESK_LIMIT)
        d->limited_by[(d->state.orders.limits - 1) % DESK_ORDERS_EVENTS] = p->member.id;
    else if (m->type == DESK_BEAT) {
        p->owe_beat = true;
        p->beat = m->n;
        serve_want_write(p->socket);
    }
    put_orders(d);
}

static void on_message(void *ctx, struct serve_peer *socket, void *user, const char *text, size_t len)
{
    struct desk_thread *d = ctx;
    struct desk_peer *p = user;
    struct desk_message m;
    enum desk_type type = DESK_TYPE_COUNT;
    if (p->greeted && desk_message_is_stop(text, len)) {
        press_stop(d, p);
        return;
    }
    p->heard_ns = clock_now_ns();
    if (!p->greeted) {
        if (!serve_is_closing(socket))
            greet(d, p, text, len);
        return;
    }
    enum desk_parse parsed = desk_message_parse(text, len, &m, &type);
    if (parsed == DESK_PARSED && type == DESK_STOP)
        press_stop(d, p);
    else if (serve_is_closing(socket))
        return; /* nothing counts that late, but a stop */
    else if (!pace_arrive(&desk_pace, &p->pace, p->heard_ns, NULL))
        serve_close(socket, SERVE_CLOSE_BUSY, "too many messages");
    else if (parsed == DESK_PARSED)
        act(d, p, &m);
    else
        refuse(p, type, parsed == DESK_NO_TYPE ? DESK_UNKNOWN : DESK_MALFORMED);
}

static bool on_open(void *ctx, struct serve_peer *socket, void *user)
{
    struct desk_thread *d = ctx;
    struct desk_peer *p = user;
    p->socket = socket;
    p->heard_ns = clock_now_ns();
    p->next = d->peers;
    p->link = &d->peers;
    if (p->next)
        p->next->link = &p->next;
    d->peers = p;
    return true;
}

static void on_closed(void *ctx, struct serve_peer *socket, void *user)
{
    struct desk_thread *d = ctx;
    struct desk_peer *p = user;
    (void)socket;
    *p->link = p->next;
    if (p->next)
        p->next->link = p->link;
    if (p->greeted)
        desk_state_leave(&d->state, &p->member);
    put_orders(d);
}

static bool on_compose(void *ctx, struct serve_peer *socket, void *user, struct serve_message *out)
{
    (void)socket;
    return desk_peer_compose(ctx, user, out);
}

/* NULL: gone meanwhile. */
static struct desk_peer *find(struct desk_thread *d, uint32_t id)
{
    struct desk_peer *p = d->peers;
    while (p && !(p->greeted && p->member.id == id))
        p = p->next;
    return p;
}

/* Tells whoever pressed what did nothing why it did nothing. */
static void tell_answer(struct desk_thread *d, uint64_t n)
{
    static const enum desk_type type[STOP_EVENT_COUNT] = {
        [STOP_EVENT_ARM] = DESK_ARM,
        [STOP_EVENT_RESET] = DESK_RESET,
        [STOP_EVENT_GO] = DESK_GO,
        [STOP_EVENT_PARK] = DESK_PARK,
    };
    const struct shared_answer *a = &d->report.answer[n % DESK_ORDERS_EVENTS];
    struct desk_peer *p = find(d, d->pressed_by[n % DESK_ORDERS_EVENTS]);
    if (!p || a->answer == STOP_DONE)
        return;
    const char *of = desk_message_name(type[a->what]);
    struct desk_answer said = desk_answer_of(a->what, a->answer, a->state, a->reason);
    if (a->overtaken)
        desk_peer_refuse(p, of, "overtaken", "It was stopped or held since you pressed. Look, then go on from there.");
    else
        desk_peer_refuse(p, of, said.code, said.text);
}

static void tell_answers(struct desk_thread *d)
{
    if (d->report.answers - d->answers_told > DESK_ORDERS_EVENTS)
        d->answers_told = d->report.answers - DESK_ORDERS_EVENTS;
    for (; d->answers_told < d->report.answers; d->answers_told++)
        tell_answer(d, d->answers_told);
}

static void tell_limit(struct desk_thread *d, uint64_t n)
{
    struct desk_peer *p = find(d, d->limited_by[n % DESK_ORDERS_EVENTS]);
    if (!p)
        return;
    switch (d->report.limit_answer[n % DESK_ORDERS_EVENTS]) {
    case LIMITS_TAKEN:
        break;
    case LIMITS_IS_ARMED:
        refuse(p, DESK_LIMIT, DESK_WHILE_MOVING);
        break;
    case LIMITS_NOT_OPERATOR:
        refuse(p, DESK_LIMIT, DESK_ONLY_TIGHTEN);
        break;
    case LIMITS_BAD:
        refuse(p, DESK_LIMIT, DESK_NO_LIMITS);
        break;
    }
}

static void tell_limits(struct desk_thread *d)
{
    for (; d->limits_told < d->report.limits; d->limits_told++)
        tell_limit(d, d->limits_told);
}

static void dismiss_silent(struct desk_thread *d, uint64_t now)
{
    for (struct desk_peer *p = d->peers; p; p = p->next) {
        uint64_t silent_ns = now > p->heard_ns ? now - p->heard_ns : 0;
        if (!p->greeted && silent_ns > DESK_THREAD_HELLO_S * 1000000000ull)
            serve_close(p->socket, SERVE_CLOSE_PASS, "no pass in time");
        else if (silent_ns > DESK_THREAD_SILENT_S * 1000000000ull)
            serve_close(p->socket, SERVE_CLOSE_BAD, "no beat for too long");
    }
}

static void make_scenes(struct desk_thread *d)
{
    for (int holds = 0; holds < 2; holds++)
        d->scene_len[holds] = desk_json_scene(&d->report.scene, d->shared->show, &d->report.view, &d->state, holds == 1,
                                              d->scene[holds] + SERVE_PRE, DESK_JSON_SCENE);
    d->scene_seq = d->report.scene.seq;
}

static void on_period(void *ctx)
{
    struct desk_thread *d = ctx;
    uint64_t now = clock_now_ns();
    mailbox_get(&d->shared->report, &d->report);
    (void)desk_state_lapse(&d->state, now);
    put_orders(d); /* with nothing new in it, it still says that this thread lives */
    dismiss_silent(d, now);
    tell_answers(d);
    tell_limits(d);
    if (d->report.scene.seq == d->scene_seq)
        return;
    make_scenes(d);
    serve_want_write_all(d->serve);
}

static bool make_room(struct desk_thread *d)
{
    char *text = room_json_new(d->shared->show);
    d->room_len = text ? strlen(text) : 0;
    d->room = text ? malloc(SERVE_PRE + d->room_len) : NULL;
    if (d->room)
        memcpy(d->room + SERVE_PRE, text, d->room_len);
    free(text);
    return d->room != NULL;
}

bool desk_thread_open(struct desk_thread *d, struct shared *shared, const uint8_t pass_secret[PASS_SECRET],
                      const char *web_root)
{
    const struct show *show = shared->show;
    memset(d, 0, sizeof *d);
    d->shared = shared;
    d->pass_secret = pass_secret;
    desk_state_init(&d->state, show->first_mode, show->audience_scale, show->operator_lease_ns);
    put_orders(d);
    const struct serve_config cfg = {
        .listen = &show->desk,
        .path = "/desk",
        .subprotocol = "steadyhand.desk.1",
        .web_root = web_root,
        .index = "desk.html",
        .admission = {.max_viewers = DESK_THREAD_DESKS,
                      .max_per_address = DESK_THREAD_DESKS / 2, /* nobody fills the room alone */
                      .message_bytes = DESK_MESSAGE_MAX,
                      .header_bytes = 4096,
                      .handshake_s = DESK_THREAD_HANDSHAKE_S},
        .strangers = DESK_THREAD_STRANGERS,
        .hear_to_the_end = true,
        .one_request = true,
        .accepts_a_turn = DESK_THREAD_ACCEPTS,
        .user_bytes = sizeof(struct desk_peer),
        .handlers = {on_open, on_message, on_closed, on_compose},
        .ctx = d,
    };
    if (!make_room(d)) {
        fprintf(stderr, "core: out of memory\n");
        return false;
    }
    d->serve = serve_open(&cfg);
    if (d->serve && serve_every(d->serve, DESK_THREAD_STOP_MS, repeat_stop, d) &&
        serve_every(d->serve, DESK_THREAD_PERIOD_MS, on_period, d))
        return true;
    desk_thread_close(d);
    return false;
}

void desk_thread_close(struct desk_thread *d)
{
    serve_free(d->serve);
    d->serve = NULL;
    free(d->room);
    d->room = NULL;
}

void *desk_thread_run(void *arg)
{
    struct desk_thread *d = arg;
    realtime_touch_stack();
    serve_run(d->serve);
    return NULL;
}
