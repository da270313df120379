/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The layout of each message stands here once and is walked in both directions, so that what is written and what is
 * read cannot drift apart. Freestanding: no header but those a compiler brings along. */
#include "gateway/rig/wire.h"

_Static_assert(sizeof(double) == 8 && sizeof(float) == 4, "the wire carries IEEE 754 binary64 and binary32");

enum { MAGIC = 0x4c524853 /* "SHRL" read as a little-endian number */, MOST_CATEGORY = 2 };

/* One of `out` and `in` is set. The caller has checked that the whole message fits. */
struct walk {
    uint8_t *out;
    const uint8_t *in;
    size_t at;
};

static void walk_bytes(struct walk *w, uint8_t *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++, w->at++) {
        if (w->out)
            w->out[w->at] = bytes[i];
        else
            bytes[i] = w->in[w->at];
    }
}

static uint64_t walk_word(struct walk *w, uint64_t value, unsigned bytes)
{
    uint64_t read = 0;
    for (unsigned i = 0; i < bytes; i++, w->at++) {
        if (w->out)
            w->out[w->at] = (uint8_t)(value >> (8 * i));
        else
            read |= (uint64_t)w->in[w->at] << (8 * i);
    }
    return w->out ? value : read;
}

static void walk_u8(struct walk *w, uint8_t *v)
{
    *v = (uint8_t)walk_word(w, *v, 1);
}

static void walk_u16(struct walk *w, uint16_t *v)
{
    *v = (uint16_t)walk_word(w, *v, 2);
}

static void walk_u32(struct walk *w, uint32_t *v)
{
    *v = (uint32_t)walk_word(w, *v, 4);
}

static void walk_u64(struct walk *w, uint64_t *v)
{
    *v = walk_word(w, *v, 8);
}

union bits32 {
    float f;
    uint32_t u;
};

union bits64 {
    double f;
    uint64_t u;
};

static void walk_f32(struct walk *w, float *v, unsigned n)
{
    for (unsigned i = 0; i < n; i++) {
        union bits32 b = {.f = v[i]};
        walk_u32(w, &b.u);
        v[i] = b.f;
    }
}

static void walk_f64(struct walk *w, double *v, unsigned n)
{
    for (unsigned i = 0; i < n; i++) {
        union bits64 b = {.f = v[i]};
        walk_u64(w, &b.u);
        v[i] = b.f;
    }
}

static void walk_intent(struct walk *w, struct wire_intent *i)
{
    walk_u64(w, &i->expires_rig_ns);
    walk_u64(w, &i->stop_count);
    walk_u64(w, &i->permit);
    walk_u8(w, &i->motion);
    walk_u8(w, &i->power);
    walk_u8(w, &i->category);
    walk_f64(w, i->velocity, 3);
    walk_u8(w, &i->cords);
    walk_f32(w, i->cord_rate, WIRE_MAX_CORDS);
    walk_f32(w, i->cord_tension, WIRE_MAX_CORDS);
    walk_f32(w, i->head_rate, WIRE_HEAD_AXES);
}

static void walk_telemetry(struct walk *w, struct wire_telemetry *t)
{
    walk_u64(w, &t->rig_ns);
    walk_u64(w, &t->last_intent_seq);
    walk_u64(w, &t->stop_count);
    walk_u32(w, &t->flags);
    walk_u16(w, &t->sources);
    walk_f64(w, t->position, 3);
    walk_f64(w, t->velocity, 3);
    walk_f32(w, &t->uncertainty_m, 1);
    walk_f32(w, &t->swing_rad, 1);
    walk_u8(w, &t->cords);
    walk_f32(w, t->cord_length, WIRE_MAX_CORDS);
    walk_f32(w, t->cord_tension, WIRE_MAX_CORDS);
    walk_f32(w, &t->range_m, 1);
    walk_f32(w, t->tilt_rad, 2);
    walk_f32(w, &t->yaw_rad, 1);
    walk_f32(w, &t->yaw_off_rad, 1);
    walk_f32(w, t->head, WIRE_HEAD_AXES);
    walk_f64(w, t->subject, 3);
    walk_f32(w, &t->subject_age_s, 1);
    walk_u32(w, &t->refused_tag);
    walk_u32(w, &t->refused_session);
    walk_u32(w, &t->refused_seq);
    walk_u32(w, &t->refused_late);
    walk_u32(w, &t->refused_form);
}

static void walk_body(struct walk *w, struct wire_message *m)
{
    switch (m->type) {
    case WIRE_HELLO:
        walk_bytes(w, m->body.hello.core_nonce, WIRE_NONCE);
        break;
    case WIRE_CHALLENGE:
        walk_bytes(w, m->body.challenge.core_nonce, WIRE_NONCE);
        walk_bytes(w, m->body.challenge.rig_nonce, WIRE_NONCE);
        walk_u64(w, &m->body.challenge.session);
        break;
    case WIRE_CONFIRM:
        walk_bytes(w, m->body.confirm.rig_nonce, WIRE_NONCE);
        break;
    case WIRE_INTENT:
        walk_intent(w, &m->body.intent);
        break;
    case WIRE_STOP:
        walk_u64(w, &m->body.stop.stop_count);
        walk_u8(w, &m->body.stop.reason);
        walk_u8(w, &m->body.stop.category);
        break;
    case WIRE_TELEMETRY:
        walk_telemetry(w, &m->body.telemetry);
        break;
    }
}

static size_t body_length(unsigned type)
{
    switch (type) {
    case WIRE_HELLO:
    case WIRE_CONFIRM:
        return WIRE_NONCE;
    case WIRE_CHALLENGE:
        return 2 * WIRE_NONCE + 8;
    case WIRE_INTENT:
        return 3 * 8 + 3 + 3 * 8 + 1 + 2 * WIRE_MAX_CORDS * 4 + WIRE_HEAD_AXES * 4;
    case WIRE_STOP:
        return 8 + 2;
    case WIRE_TELEMETRY:
        return 3 * 8 + 4 + 2 + 6 * 8 + 2 * 4 + 1 + 2 * WIRE_MAX_CORDS * 4 + 5 * 4 + WIRE_HEAD_AXES * 4 + 3 * 8 + 4 +
               5 * 4;
    default:
        return 0;
    }
}

static bool finite32(const float *v, unsigned n)
{
    for (unsigned i = 0; i < n; i++) {
        union bits32 b = {.f = v[i]};
        if ((b.u & 0x7f800000u) == 0x7f800000u)
            return false;
    }
    return true;
}

/* Finite and not negative, minus zero included: below +infinity as a bit pattern. No float comparison, so that a core
 * without an FPU needs no helper for it. */
static bool positive32(float v)
{
    union bits32 b = {.f = v};
    return b.u < 0x7f800000u;
}

static bool finite64(const double *v, unsigned n)
{
    for (unsigned i = 0; i < n; i++) {
        union bits64 b = {.f = v[i]};
        if ((b.u & 0x7ff0000000000000u) == 0x7ff0000000000000u)
            return false;
    }
    return true;
}

/* All bits zero: a negative zero would be a second encoding of the same message. */
static bool zero32(const float *v, unsigned n)
{
    for (unsigned i = 0; i < n; i++) {
        union bits32 b = {.f = v[i]};
        if (b.u != 0)
            return false;
    }
    return true;
}

static bool zero64(const double *v, unsigned n)
{
    for (unsigned i = 0; i < n; i++) {
        union bits64 b = {.f = v[i]};
        if (b.u != 0)
            return false;
    }
    return true;
}

/* What is said is finite, what is not is zero. */
static bool said32(bool there, const float *v, unsigned n)
{
    return there ? finite32(v, n) : zero32(v, n);
}

static bool said64(bool there, const double *v, unsigned n)
{
    return there ? finite64(v, n) : zero64(v, n);
}

static bool cords_valid(const float *v, unsigned used)
{
    return used <= WIRE_MAX_CORDS && finite32(v, used) && zero32(v + used, WIRE_MAX_CORDS - used);
}

static bool says(const struct wire_telemetry *t, enum wire_source source)
{
    return (t->sources >> source & 1u) != 0;
}

static bool place_valid(const struct wire_telemetry *t)
{
    bool pose = says(t, WIRE_POSE);
    return said64(pose, t->position, 3) && said64(pose, t->velocity, 3) && said32(pose, &t->uncertainty_m, 1) &&
           positive32(t->uncertainty_m) && positive32(t->swing_rad);
}

static bool lines_valid(const struct wire_telemetry *t)
{
    bool length = says(t, WIRE_LENGTH), tension = says(t, WIRE_TENSION);
    return (length || tension || t->cords == 0) && cords_valid(t->cord_length, length ? t->cords : 0) &&
           cords_valid(t->cord_tension, tension ? t->cords : 0);
}

static bool body_valid(const struct wire_telemetry *t)
{
    bool yaw = says(t, WIRE_YAW);
    return said32(says(t, WIRE_RANGE), &t->range_m, 1) && said32(says(t, WIRE_TILT), t->tilt_rad, 2) &&
           said32(yaw, &t->yaw_rad, 1) && said32(yaw, &t->yaw_off_rad, 1) && positive32(t->yaw_off_rad) &&
           said32(says(t, WIRE_HEAD), t->head, WIRE_HEAD_AXES);
}

static bool subject_valid(const struct wire_telemetry *t)
{
    bool subject = says(t, WIRE_SUBJECT);
    return said64(subject, t->subject, 3) && said32(subject, &t->subject_age_s, 1) && positive32(t->subject_age_s);
}

static bool telemetry_valid(const struct wire_telemetry *t)
{
    return (t->flags & ~(uint32_t)WIRE_RIG_FLAGS) == 0 && t->sources < 1u << WIRE_SOURCES && place_valid(t) &&
           lines_valid(t) && body_valid(t) && subject_valid(t);
}

static bool intent_valid(const struct wire_intent *i)
{
    return i->motion <= 1 && i->power <= 1 && i->category <= MOST_CATEGORY &&
           (i->motion == 0 || (i->power == 1 && i->category == MOST_CATEGORY)) && finite64(i->velocity, 3) &&
           cords_valid(i->cord_rate, i->cords) && cords_valid(i->cord_tension, i->cords) &&
           finite32(i->head_rate, WIRE_HEAD_AXES);
}

/* The same judgement on the way out and on the way in. */
static bool message_valid(const struct wire_message *m)
{
    bool outside_session = m->type == WIRE_HELLO || m->type == WIRE_CHALLENGE;
    if (outside_session ? (m->session != 0 || m->seq != 0) : (m->session == 0 || m->seq == 0))
        return false;
    switch (m->type) {
    case WIRE_CHALLENGE:
        return m->body.challenge.session != 0;
    case WIRE_INTENT:
        return intent_valid(&m->body.intent);
    case WIRE_STOP:
        return m->body.stop.category <= MOST_CATEGORY;
    case WIRE_TELEMETRY:
        return telemetry_valid(&m->body.telemetry);
    default:
        return true;
    }
}

size_t wire_encode(const struct wire_message *m, uint8_t *buf, size_t size)
{
    size_t body = body_length((unsigned)m->type);
    if (body == 0 || size < WIRE_HEADER + body + WIRE_TAG || !message_valid(m))
        return 0;
    struct wire_message copy = *m; /* the walk wants something it could write to */
    struct walk w = {.out = buf};
    walk_word(&w, MAGIC, 4);
    walk_word(&w, WIRE_VERSION, 1);
    walk_word(&w, (uint64_t)m->type, 1);
    walk_word(&w, body, 2);
    walk_u64(&w, &copy.session);
    walk_u64(&w, &copy.seq);
    walk_body(&w, &copy);
    return WIRE_HEADER + body + WIRE_TAG;
}

bool wire_decode(const uint8_t *buf, size_t len, struct wire_message *m)
{
    if (len < WIRE_HEADER + WIRE_TAG || len > WIRE_MAX)
        return false;
    struct wire_message read = {0};
    struct walk w = {.in = buf};
    uint64_t magic = walk_word(&w, 0, 4), version = walk_word(&w, 0, 1), type = walk_word(&w, 0, 1);
    uint64_t named = walk_word(&w, 0, 2);
    size_t body = body_length((unsigned)type);
    if (magic != MAGIC || version != WIRE_VERSION || body == 0 || named != body || len != WIRE_HEADER + body + WIRE_TAG)
        return false;
    read.type = (enum wire_type)type;
    walk_u64(&w, &read.session);
    walk_u64(&w, &read.seq);
    walk_body(&w, &read);
    if (!message_valid(&read))
        return false;
    *m = read;
    return true;
}
