/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_session.h"

#include <sodium.h>
#include <string.h>

#include "policy/crowd/saturate.h"

void sim_session_init(struct sim_session *s, const uint8_t master[SEAL_KEY], const uint8_t nonce_key[SEAL_KEY],
                      uint64_t lease_ns)
{
    memset(s, 0, sizeof *s);
    seal_derive(&s->keys, master);
    memcpy(s->nonce_key, nonce_key, SEAL_KEY);
    s->longest_ns = lease_ns > UINT64_MAX / 2 ? UINT64_MAX : 2 * lease_ns;
}

bool sim_session_genuine(struct sim_session *s, const uint8_t *bytes, size_t len)
{
    bool genuine = len <= WIRE_MAX && seal_check(s->keys.to_rig, bytes, len);
    s->refused.tag += !genuine;
    return genuine;
}

static enum sim_verdict refuse(uint32_t *counter)
{
    ++*counter;
    return SIM_REFUSED;
}

/* A new offer is drawn only when the last one has been taken up: see wire.h, replayed hellos. */
static void draw_offer(struct sim_session *s)
{
    struct {
        uint8_t nonce[WIRE_NONCE];
        uint64_t id;
    } drawn = {.id = 0};
    while (drawn.id == 0 || sodium_is_zero(drawn.nonce, WIRE_NONCE)) {
        uint64_t nth = ++s->draws;
        crypto_generichash((uint8_t *)&drawn, sizeof drawn, (const uint8_t *)&nth, sizeof nth, s->nonce_key, SEAL_KEY);
    }
    memcpy(s->pending_nonce, drawn.nonce, WIRE_NONCE);
    s->pending = drawn.id;
}

static bool taken(const struct sim_session *s, uint64_t now_ns)
{
    return s->elsewhere && s->id != 0 && now_ns < s->held_ns;
}

static void offer(struct sim_session *s, struct wire_challenge *challenge)
{
    if (s->pending == 0)
        draw_offer(s);
    memcpy(challenge->rig_nonce, s->pending_nonce, WIRE_NONCE);
    challenge->session = s->pending;
}

static enum sim_verdict take_hello(struct sim_session *s, uint64_t now_ns, const struct wire_message *m,
                                   struct sim_reply *reply)
{
    struct wire_message answer = {.type = WIRE_CHALLENGE};
    memcpy(answer.body.challenge.core_nonce, m->body.hello.core_nonce, WIRE_NONCE);
    answer.body.challenge.session = s->id;
    if (!taken(s, now_ns))
        offer(s, &answer.body.challenge);
    reply->len = wire_encode(&answer, reply->bytes, sizeof reply->bytes);
    seal_write(s->keys.to_core, reply->bytes, reply->len);
    return SIM_ANSWER;
}

static enum sim_verdict take_confirm(struct sim_session *s, uint64_t now_ns, const struct wire_message *m)
{
    bool good = s->pending != 0 && m->session == s->pending && !taken(s, now_ns) &&
                sodium_memcmp(m->body.confirm.rig_nonce, s->pending_nonce, WIRE_NONCE) == 0;
    if (!good)
        return refuse(&s->refused.session);
    s->held_ns = saturate_add64(now_ns, s->longest_ns);
    s->id = s->pending;
    s->pending = 0;
    s->stop_count = 1;
    s->intent_seq = s->stop_seq = s->sent_seq = 0;
    return SIM_STARTED;
}

static enum sim_verdict take_intent(struct sim_session *s, uint64_t now_ns, struct wire_message *m)
{
    struct wire_intent *i = &m->body.intent;
    if (m->seq <= s->intent_seq)
        return refuse(&s->refused.seq);
    if (i->expires_rig_ns <= now_ns)
        return refuse(&s->refused.late);
    if (i->expires_rig_ns - now_ns > s->longest_ns)
        i->expires_rig_ns = now_ns + s->longest_ns;
    s->intent_seq = m->seq;
    s->held_ns = i->expires_rig_ns;
    if (i->stop_count > s->stop_count)
        s->stop_count = i->stop_count;
    return SIM_INTENT;
}

static enum sim_verdict take_stop(struct sim_session *s, const struct wire_message *m)
{
    bool news = m->body.stop.stop_count > s->stop_count;
    if (!news && m->seq <= s->stop_seq)
        return refuse(&s->refused.seq);
    if (news)
        s->stop_count = m->body.stop.stop_count;
    if (m->seq > s->stop_seq)
        s->stop_seq = m->seq;
    return SIM_STOP;
}

static enum sim_verdict judge(struct sim_session *s, uint64_t now_ns, struct wire_message *m, struct sim_reply *reply)
{
    if (m->type == WIRE_HELLO)
        return take_hello(s, now_ns, m, reply);
    if (m->type == WIRE_CONFIRM)
        return take_confirm(s, now_ns, m);
    if (m->type != WIRE_INTENT && m->type != WIRE_STOP)
        return refuse(&s->refused.form); /* genuine, yet nothing a core says */
    if (s->id == 0 || m->session != s->id)
        return refuse(&s->refused.session);
    return m->type == WIRE_INTENT ? take_intent(s, now_ns, m) : take_stop(s, m);
}

enum sim_verdict sim_session_receive(struct sim_session *s, uint64_t now_ns, const uint8_t *bytes, size_t len,
                                     struct wire_message *m, struct sim_reply *reply)
{
    struct wire_message said;
    reply->len = 0;
    if (!sim_session_genuine(s, bytes, len))
        return SIM_REFUSED;
    if (!wire_decode(bytes, len, &said))
        return refuse(&s->refused.form);
    enum sim_verdict verdict = judge(s, now_ns, &said, reply);
    if (verdict != SIM_REFUSED)
        *m = said;
    return verdict;
}

size_t sim_session_telemetry(struct sim_session *s, const struct wire_telemetry *t, uint8_t *buf, size_t size)
{
    if (s->id == 0)
        return 0;
    struct wire_message m = {.type = WIRE_TELEMETRY, .session = s->id, .seq = s->sent_seq + 1, .body.telemetry = *t};
    struct wire_telemetry *own = &m.body.telemetry;
    own->last_intent_seq = s->intent_seq;
    own->stop_count = s->stop_count;
    own->refused_tag = s->refused.tag;
    own->refused_session = s->refused.session;
    own->refused_seq = s->refused.seq;
    own->refused_late = s->refused.late;
    own->refused_form = s->refused.form;
    size_t len = wire_encode(&m, buf, size);
    if (len == 0)
        return 0;
    s->sent_seq++;
    seal_write(s->keys.to_core, buf, len);
    return len;
}
