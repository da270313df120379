/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/edge/wish.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* Every field the protocol has. A bit each says which were seen; which ones a type wants is a table. */
enum field { FIELD_TYPE, FIELD_ROUND, FIELD_CHOICE, FIELD_X, FIELD_Y, FIELD_Z, FIELD_COUNT };

#define BIT(f) (1u << (f))

static const char *const field_name[FIELD_COUNT] = {"type", "round", "choice", "x", "y", "z"};

static const struct {
    const char *name;
    unsigned fields;
} types[WISH_TYPE_COUNT] = {
    [WISH_NOTHING] = {"message", 0},
    [WISH_VOTE] = {"vote", BIT(FIELD_TYPE) | BIT(FIELD_ROUND) | BIT(FIELD_CHOICE)},
    [WISH_STICK] = {"stick", BIT(FIELD_TYPE) | BIT(FIELD_X) | BIT(FIELD_Y) | BIT(FIELD_Z)},
    [WISH_RELEASE] = {"release", BIT(FIELD_TYPE)},
};

static const char *const fault_text[] = {
    [WISH_FINE] = "Understood.",
    [WISH_TOO_BIG] = "The message is too big: a wish is at most 512 bytes.",
    [WISH_NOT_JSON] = "The message is not one JSON object (RFC 8259).",
    [WISH_UNKNOWN_TYPE] = "\"type\" must be \"vote\", \"stick\" or \"release\".",
    [WISH_UNKNOWN_FIELD] = "The message has a field its type does not have.",
    [WISH_TWICE] = "The message has the same field twice.",
    [WISH_MISSING_FIELD] =
        "A field is missing: a vote has \"round\" and \"choice\", a stick has \"x\", \"y\" and \"z\".",
    [WISH_BAD_ROUND] = "\"round\" must be an integer from 0 to 4294967295.",
    [WISH_BAD_CHOICE] = "\"choice\" must be one of the room's choices.",
    [WISH_BAD_AXIS] = "\"x\", \"y\" and \"z\" must be numbers from -1 to 1.",
};
_Static_assert(sizeof fault_text / sizeof *fault_text == WISH_FAULT_COUNT, "a sentence a fault");

const char *wish_fault_text(enum wish_fault fault)
{
    return (unsigned)fault < WISH_FAULT_COUNT ? fault_text[fault] : fault_text[WISH_NOT_JSON];
}

const char *wish_type_name(enum wish_type type)
{
    return (unsigned)type < WISH_TYPE_COUNT ? types[type].name : types[WISH_NOTHING].name;
}

struct scan {
    const char *at, *end;
    unsigned seen; /* bits of enum field */
    struct wish_message message;
};

enum { WORD_MAX = 24 }; /* no word of the protocol is longer */

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static void skip_space(struct scan *s)
{
    while (s->at < s->end && (*s->at == ' ' || *s->at == '\t' || *s->at == '\n' || *s->at == '\r'))
        s->at++;
}

static bool take(struct scan *s, char c)
{
    if (s->at == s->end || *s->at != c)
        return false;
    s->at++;
    return true;
}

static int hex_value(char c)
{
    if (is_digit(c))
        return c - '0';
    char lower = (char)(c | 0x20);
    return lower >= 'a' && lower <= 'f' ? lower - 'a' + 10 : -1;
}

/* The four digits of \uXXXX, as a printable ASCII character or 0: no word of the protocol holds another. */
static char take_unicode(struct scan *s)
{
    int code = 0;
    if (s->end - s->at < 4)
        return 0;
    for (int i = 0; i < 4; i++) {
        int digit = hex_value(*s->at++);
        if (digit < 0)
            return 0;
        code = code * 16 + digit;
    }
    return code >= 0x20 && code < 0x7f ? (char)code : 0;
}

/* One character after a backslash, or 0 if no word can hold it. */
static char take_escape(struct scan *s)
{
    if (s->at == s->end)
        return 0;
    char c = *s->at++;
    if (c == 'u')
        return take_unicode(s);
    return c == '"' || c == '\\' || c == '/' ? c : 0;
}

/* A string that might be one of our words, decoded. False: it cannot be one (or is no string), so the message is to be
 * refused whatever follows. */
static bool take_word(struct scan *s, char word[WORD_MAX])
{
    size_t n = 0;
    if (!take(s, '"'))
        return false;
    while (s->at < s->end && *s->at != '"') {
        char c = *s->at++;
        if (c == '\\')
            c = take_escape(s);
        if ((unsigned char)c < 0x20 || (unsigned char)c >= 0x7f || n == WORD_MAX - 1)
            return false; /* a control character, or a byte of UTF-8 beyond ASCII */
        word[n++] = c;
    }
    word[n] = '\0';
    return take(s, '"');
}

static size_t take_digits(struct scan *s)
{
    const char *from = s->at;
    while (s->at < s->end && is_digit(*s->at))
        s->at++;
    return (size_t)(s->at - from);
}

/* RFC 8259, section 6: -? int frac? exp?. */
static bool take_number(struct scan *s, bool *whole)
{
    *whole = true;
    take(s, '-');
    bool zero = s->at < s->end && *s->at == '0';
    size_t digits = take_digits(s);
    if (digits == 0 || (zero && digits > 1))
        return false;
    if (take(s, '.')) {
        *whole = false;
        if (take_digits(s) == 0)
            return false;
    }
    if (take(s, 'e') || take(s, 'E')) {
        *whole = false;
        if (!take(s, '+'))
            take(s, '-');
        return take_digits(s) > 0;
    }
    return true;
}

static enum wish_fault take_round(struct scan *s, uint32_t *round)
{
    const char *from = s->at;
    bool whole;
    if (!take_number(s, &whole) || !whole)
        return WISH_BAD_ROUND;
    bool negative = *from == '-';
    uint64_t value = 0;
    for (const char *c = from + negative; c < s->at; c++) {
        value = value * 10 + (uint64_t)(*c - '0');
        if (value > UINT32_MAX)
            return WISH_BAD_ROUND;
    }
    if (negative && value > 0)
        return WISH_BAD_ROUND;
    *round = (uint32_t)value;
    return WISH_FINE;
}

/* Exact where a double holds the digits and the power of ten (Clinger 1990: both exact, so one rounding); anything
 * longer goes to strtod. */
static double to_double(const char *text, size_t len)
{
    static const double power[] = {1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    bool negative = *text == '-';
    int64_t digits = 0;
    size_t places = 0, i = negative, point = len;
    for (; i < len && i <= 16 && (is_digit(text[i]) || text[i] == '.'); i++) {
        if (text[i] == '.')
            point = i;
        else
            digits = digits * 10 + (text[i] - '0');
    }
    if (i == len) {
        places = point < len ? len - point - 1 : 0;
        double value = (double)digits / power[places];
        return negative ? -value : value;
    }
    char copy[WISH_TEXT_MAX + 1];
    memcpy(copy, text, len);
    copy[len] = '\0';
    return strtod(copy, NULL);
}

static enum wish_fault take_axis(struct scan *s, double *axis)
{
    const char *from = s->at;
    bool whole;
    if (!take_number(s, &whole))
        return WISH_BAD_AXIS;
    double value = to_double(from, (size_t)(s->at - from));
    if (value != value || value < -1.0 || value > 1.0)
        return WISH_BAD_AXIS;
    *axis = value;
    return WISH_FINE;
}

static enum wish_fault take_choice(struct scan *s, enum choice *choice)
{
    char word[WORD_MAX];
    if (!take_word(s, word))
        return WISH_BAD_CHOICE;
    for (int c = 0; c < CHOICE_COUNT; c++) {
        *choice = (enum choice)c;
        if (strcmp(word, choice_name(*choice)) == 0)
            return WISH_FINE;
    }
    return WISH_BAD_CHOICE;
}

static enum wish_fault take_type(struct scan *s, enum wish_type *type)
{
    char word[WORD_MAX];
    if (!take_word(s, word))
        return WISH_UNKNOWN_TYPE;
    for (int t = WISH_VOTE; t < WISH_TYPE_COUNT; t++) {
        *type = (enum wish_type)t;
        if (strcmp(word, types[t].name) == 0)
            return WISH_FINE;
    }
    return WISH_UNKNOWN_TYPE;
}

static enum wish_fault take_value(struct scan *s, enum field field)
{
    switch (field) {
    case FIELD_TYPE:
        return take_type(s, &s->message.type);
    case FIELD_ROUND:
        return take_round(s, &s->message.round);
    case FIELD_CHOICE:
        return take_choice(s, &s->message.choice);
    case FIELD_X:
    case FIELD_Y:
    case FIELD_Z:
    default:
        return take_axis(s, &s->message.axis[field - FIELD_X]);
    }
}

static enum wish_fault take_member(struct scan *s)
{
    char name[WORD_MAX];
    skip_space(s);
    if (s->at < s->end && *s->at != '"')
        return WISH_NOT_JSON;
    if (!take_word(s, name))
        return WISH_UNKNOWN_FIELD;
    int field = 0;
    while (field < FIELD_COUNT && strcmp(name, field_name[field]) != 0)
        field++;
    if (field == FIELD_COUNT)
        return WISH_UNKNOWN_FIELD;
    if (s->seen & BIT(field))
        return WISH_TWICE;
    s->seen |= BIT(field);
    skip_space(s);
    if (!take(s, ':'))
        return WISH_NOT_JSON;
    skip_space(s);
    enum wish_fault fault = take_value(s, (enum field)field);
    skip_space(s);
    return fault;
}

static enum wish_fault take_object(struct scan *s)
{
    skip_space(s);
    if (!take(s, '{'))
        return WISH_NOT_JSON;
    skip_space(s);
    if (s->at < s->end && *s->at == '}')
        return WISH_UNKNOWN_TYPE;
    do {
        enum wish_fault fault = take_member(s);
        if (fault != WISH_FINE)
            return fault;
    } while (take(s, ','));
    if (!take(s, '}'))
        return WISH_NOT_JSON;
    skip_space(s);
    return s->at == s->end ? WISH_FINE : WISH_NOT_JSON;
}

enum wish_fault wish_parse(const char *text, size_t len, struct wish_message *out)
{
    struct scan s = {.at = text, .end = text + len};
    if (len > WISH_TEXT_MAX)
        return WISH_TOO_BIG;
    enum wish_fault fault = take_object(&s);
    if (fault != WISH_FINE)
        return fault;
    if (!(s.seen & BIT(FIELD_TYPE)))
        return WISH_UNKNOWN_TYPE;
    if (s.seen & ~types[s.message.type].fields)
        return WISH_UNKNOWN_FIELD;
    if (s.seen != types[s.message.type].fields)
        return WISH_MISSING_FIELD;
    *out = s.message;
    return WISH_FINE;
}
