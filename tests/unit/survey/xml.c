/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/survey/xml.h"

#include <ctype.h>
#include <stddef.h>
#include <string.h>

enum { DEEPEST = 64, MOST_IDS = 256, MOST_ATTRIBUTES = 16 };

struct piece {
    const char *start;
    size_t len;
};

struct reader {
    const char *p;
    const char *why;
    struct piece open[DEEPEST], id[MOST_IDS];
    int depth, ids;
};

static bool refuse(struct reader *r, const char *why)
{
    if (!r->why)
        r->why = why;
    return false;
}

static bool same(struct piece a, struct piece b)
{
    return a.len == b.len && memcmp(a.start, b.start, a.len) == 0;
}

static bool is_in(struct piece what, const struct piece *list, int n)
{
    for (int i = 0; i < n; i++)
        if (same(what, list[i]))
            return true;
    return false;
}

static struct piece read_name(struct reader *r)
{
    struct piece name = {r->p, 0};
    while (isalnum((unsigned char)*r->p) || strchr("-_:.", *r->p)) {
        if (!*r->p)
            break;
        r->p++;
    }
    name.len = (size_t)(r->p - name.start);
    if (name.len == 0 || !isalpha((unsigned char)name.start[0]))
        refuse(r, "a name");
    return name;
}

static bool blank(struct reader *r)
{
    const char *from = r->p;
    r->p += strspn(r->p, " \t\n");
    return r->p > from;
}

/* &#60; and the five named ones. */
static bool reference(struct reader *r)
{
    static const char *const named[] = {"&amp;", "&lt;", "&gt;", "&quot;", "&apos;"};
    for (size_t i = 0; i < 5; i++)
        if (strncmp(r->p, named[i], strlen(named[i])) == 0) {
            r->p += strlen(named[i]);
            return true;
        }
    size_t digits = r->p[1] == '#' ? strspn(r->p + 2, "0123456789") : 0;
    if (digits == 0 || digits > 6 || r->p[2 + digits] != ';')
        return refuse(r, "a reference");
    r->p += 3 + digits;
    return true;
}

/* Strict UTF-8, and of that only production [2]. */
static bool character(struct reader *r)
{
    const unsigned char *s = (const unsigned char *)r->p;
    int n = s[0] < 0x80 ? 1 : s[0] < 0xC2 ? 0 : s[0] < 0xE0 ? 2 : s[0] < 0xF0 ? 3 : s[0] < 0xF5 ? 4 : 0;
    for (int i = 1; i < n; i++)
        n = (s[i] & 0xC0) == 0x80 ? n : 0;
    bool control = s[0] < 0x20 && !strchr("\t\n\r", s[0]);
    bool surrogate = s[0] == 0xED && s[1] >= 0xA0, overlong = s[0] == 0xE0 && s[1] < 0xA0;
    bool beyond = (s[0] == 0xF0 && s[1] < 0x90) || (s[0] == 0xF4 && s[1] > 0x8F);
    bool none = s[0] == 0xEF && s[1] == 0xBF && s[2] >= 0xBE;
    if (n == 0 || control || surrogate || overlong || beyond || none)
        return refuse(r, "a character that XML has");
    r->p += n;
    return true;
}

static bool text_until(struct reader *r, char end)
{
    while (*r->p && *r->p != end) {
        if (*r->p == '<' || strncmp(r->p, "]]>", 3) == 0)
            return refuse(r, "no markup within a text");
        if (!(*r->p == '&' ? reference(r) : character(r)))
            return false;
    }
    return true;
}

static bool attribute(struct reader *r, struct piece *seen, int *count)
{
    struct piece name = read_name(r);
    if (r->why || is_in(name, seen, *count) || *count == MOST_ATTRIBUTES)
        return refuse(r, "an attribute once");
    seen[(*count)++] = name;
    if (*r->p++ != '=' || *r->p++ != '"')
        return refuse(r, "=\"");
    struct piece value = {r->p, 0};
    if (!text_until(r, '"') || *r->p != '"')
        return refuse(r, "the end of a value");
    value.len = (size_t)(r->p++ - value.start);
    if (name.len != 2 || memcmp(name.start, "id", 2) != 0)
        return true;
    if (is_in(value, r->id, r->ids) || r->ids == MOST_IDS)
        return refuse(r, "an id once");
    r->id[r->ids++] = value;
    return true;
}

static bool close_tag(struct reader *r)
{
    r->p += 2;
    struct piece name = read_name(r);
    if (r->why || r->depth == 0 || !same(name, r->open[r->depth - 1]) || *r->p++ != '>')
        return refuse(r, "the end of what was begun last");
    r->depth--;
    return true;
}

static bool open_tag(struct reader *r)
{
    struct piece seen[MOST_ATTRIBUTES];
    int count = 0;
    r->p++;
    struct piece name = read_name(r);
    while (!r->why && blank(r) && *r->p != '>' && *r->p != '/')
        attribute(r, seen, &count);
    bool empty = *r->p == '/';
    r->p += empty;
    if (r->why || *r->p++ != '>' || r->depth == DEEPEST)
        return refuse(r, "the end of a tag");
    if (!empty)
        r->open[r->depth++] = name;
    return true;
}

bool xml_well_formed(const char *text, const char **why, const char **at)
{
    static const char head[] = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
    struct reader r = {.p = text};
    bool good = strncmp(text, head, sizeof head - 1) == 0 || refuse(&r, "an XML declaration");
    r.p += good ? sizeof head - 1 : 0;
    good = good && *r.p == '<' && open_tag(&r);
    while (good && r.depth > 0 && *r.p)
        good = *r.p != '<' ? text_until(&r, '<') : r.p[1] == '/' ? close_tag(&r) : open_tag(&r);
    good = good && (r.depth == 0 || refuse(&r, "the end of the root"));
    blank(&r);
    good = good && (!*r.p || refuse(&r, "nothing after the root"));
    *why = good ? "" : r.why ? r.why : "a root";
    *at = r.p;
    return good;
}
