/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/place.h"

#include <stdio.h>
#include <string.h>

enum { DEEPEST = 32 }; /* each level is scanned to its end once more; a show file has six */

struct cursor {
    const char *text;
    size_t len, at;
};

/* One member of an object or element of an array, as it is met. */
struct member {
    bool keyed;      /* in an object */
    const char *key; /* NULL in an array, or where a key is missing */
    size_t key_len, index;
    size_t start, value, end; /* start: of the key, or of the value where there is none */
};

static bool at_end(const struct cursor *c)
{
    return c->at >= c->len;
}

static char peek(const struct cursor *c)
{
    return at_end(c) ? '\0' : c->text[c->at];
}

static void skip_space(struct cursor *c)
{
    while (!at_end(c) && strchr(" \t\r\n", c->text[c->at]) && c->text[c->at])
        c->at++;
}

static void skip_string(struct cursor *c)
{
    for (c->at++; !at_end(c) && c->text[c->at] != '"'; c->at++)
        if (c->text[c->at] == '\\' && c->at + 1 < c->len)
            c->at++;
    if (!at_end(c))
        c->at++;
}

/* Brackets are counted, not matched, so nesting costs no stack. */
static void skip_value(struct cursor *c)
{
    size_t depth = 0;
    do {
        char ch = peek(c);
        if (ch == '"') {
            skip_string(c);
            continue;
        }
        if (ch == '{' || ch == '[')
            depth++;
        else if ((ch == '}' || ch == ']') && depth > 0)
            depth--;
        else if (depth == 0 && (ch == '\0' || strchr(",:}] \t\r\n", ch)))
            return;
        c->at++;
        if (depth == 0 && (ch == '}' || ch == ']'))
            return;
    } while (!at_end(c) && (depth > 0 || peek(c) != '"'));
}

/* Reads the key, if any, of the member at the cursor, then skips its value. */
static void take_member(struct cursor *c, bool keyed, struct member *m)
{
    m->keyed = keyed;
    m->key = NULL;
    m->key_len = 0;
    m->start = c->at;
    if (keyed && peek(c) == '"') {
        skip_string(c);
        m->key = c->text + m->start + 1;
        m->key_len = c->at - m->start >= 2 ? c->at - m->start - 2 : 0;
        skip_space(c);
        if (peek(c) == ':')
            c->at++;
        skip_space(c);
    }
    m->value = c->at;
    skip_value(c);
    m->end = c->at;
}

/* Steps to the next member of the container the cursor is in. False at its end. */
static bool next_member(struct cursor *c, bool keyed, struct member *m)
{
    skip_space(c);
    if (peek(c) == ',') {
        c->at++;
        skip_space(c);
    }
    if (at_end(c) || peek(c) == '}' || peek(c) == ']')
        return false;
    size_t before = c->at;
    take_member(c, keyed, m);
    return c->at > before;
}

/* Walks the members of the container at the cursor until wanted() says yes. */
static bool find_member(struct cursor *c, bool (*wanted)(const struct member *m, const void *what), const void *what,
                        struct member *m)
{
    skip_space(c);
    bool keyed = peek(c) == '{';
    if (!keyed && peek(c) != '[')
        return false;
    c->at++;
    for (m->index = 0; next_member(c, keyed, m); m->index++)
        if (wanted(m, what))
            return true;
    return false;
}

static bool key_equals(const struct member *m, const char *token, size_t len)
{
    size_t i = 0, k = 0;
    for (; i < len && k < m->key_len; i++, k++) {
        char ch = token[i];
        if (ch == '~' && i + 1 < len)
            ch = token[++i] == '1' ? '/' : '~';
        if (ch != m->key[k])
            return false;
    }
    return i == len && k == m->key_len;
}

static bool is_named(const struct member *m, const void *what)
{
    const char *token = what;
    size_t len = strcspn(token, "/");
    if (m->key)
        return key_equals(m, token, len);
    char number[24];
    int n = snprintf(number, sizeof number, "%zu", m->index);
    return (size_t)n == len && memcmp(number, token, len) == 0;
}

static size_t line_of(const char *text, size_t at)
{
    size_t line = 1;
    for (size_t i = 0; i < at; i++)
        line += text[i] == '\n';
    return line;
}

bool place_find(const char *text, size_t len, const char *pointer, struct place *out)
{
    struct cursor c = {text, len, 0};
    struct member m;
    while (*pointer == '/') {
        pointer++;
        if (!find_member(&c, is_named, pointer, &m))
            return false;
        pointer += strcspn(pointer, "/");
        c.at = m.value;
    }
    skip_space(&c);
    size_t start = c.at;
    skip_value(&c);
    *out = (struct place){.line = line_of(text, start), .start = start, .len = c.at - start};
    return true;
}

static bool covers(const struct member *m, const void *what)
{
    const size_t *at = what;
    return m->start <= *at && *at <= m->end;
}

void place_pointer(const char *text, size_t len, size_t at, char pointer[PLACE_POINTER])
{
    struct cursor c = {text, len, 0};
    struct member m;
    pointer[0] = '\0';
    for (int depth = 0; depth < DEEPEST && find_member(&c, covers, &at, &m); depth++) {
        if (m.key) {
            char key[PLACE_POINTER];
            snprintf(key, sizeof key, "%.*s", (int)(m.key_len < sizeof key ? m.key_len : sizeof key - 1), m.key);
            place_push_key(pointer, key);
        } else if (!m.keyed) {
            place_push_index(pointer, m.index);
        }
        if (at < m.value || (m.keyed && !m.key))
            return;
        c.at = m.value;
    }
}

size_t place_push_key(char pointer[PLACE_POINTER], const char *key)
{
    size_t was = strlen(pointer), at = was;
    if (at + 3 >= PLACE_POINTER)
        return was;
    pointer[at++] = '/';
    for (; *key && at + 3 < PLACE_POINTER; key++) {
        if (*key == '~' || *key == '/') {
            pointer[at++] = '~';
            pointer[at++] = *key == '~' ? '0' : '1';
        } else {
            pointer[at++] = *key;
        }
    }
    pointer[at] = '\0';
    return was;
}

size_t place_push_index(char pointer[PLACE_POINTER], size_t index)
{
    char number[24];
    snprintf(number, sizeof number, "%zu", index);
    return place_push_key(pointer, number);
}
