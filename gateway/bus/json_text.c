/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/bus/json_text.h"

#include <math.h>
#include <string.h>

#define REAL_MAX 1e9

enum { DECIMALS_MAX = 6 };

void json_text_begin(struct json_text *t, char *buf, size_t size)
{
    *t = (struct json_text){.start = buf, .at = buf, .end = buf + size};
}

void json_text_resume(struct json_text *t, char *buf, size_t len, size_t size)
{
    json_text_begin(t, buf, size);
    t->full = len == 0 || len > size;
    if (!t->full)
        t->at += len - 1;
}

size_t json_text_len(const struct json_text *t)
{
    return t->full ? 0 : (size_t)(t->at - t->start);
}

static void put(struct json_text *t, const char *s, size_t n)
{
    if (t->full || (size_t)(t->end - t->at) < n) {
        t->full = true;
        return;
    }
    memcpy(t->at, s, n);
    t->at += n;
}

void json_text_raw(struct json_text *t, const char *s)
{
    put(t, s, strlen(s));
}

static void put_escaped(struct json_text *t, unsigned char c)
{
    static const char hex[] = "0123456789abcdef";
    const char quoted[] = {'\\', (char)c};
    const char control[] = {'\\', 'u', '0', '0', hex[c >> 4], hex[c & 15]};
    if (c == '"' || c == '\\')
        put(t, quoted, sizeof quoted);
    else if (c < 0x20)
        put(t, control, sizeof control);
    else
        put(t, (const char *)&c, 1);
}

void json_text_string(struct json_text *t, const char *s, size_t max)
{
    if (!s) {
        json_text_raw(t, "null");
        return;
    }
    put(t, "\"", 1);
    for (size_t i = 0; i < max && s[i]; i++)
        put_escaped(t, (unsigned char)s[i]);
    put(t, "\"", 1);
}

void json_text_unsigned(struct json_text *t, uint64_t value)
{
    char digits[20];
    size_t first = sizeof digits;
    do
        digits[--first] = (char)('0' + value % 10);
    while (value /= 10);
    put(t, digits + first, sizeof digits - first);
}

/* `count` digits after the point, leading zeros kept and trailing ones left out. */
static void put_fraction(struct json_text *t, uint64_t fraction, int count)
{
    char digits[1 + DECIMALS_MAX] = {'.'};
    if (fraction == 0)
        return;
    for (int i = count; i > 0; i--, fraction /= 10)
        digits[i] = (char)('0' + fraction % 10);
    while (digits[count] == '0')
        count--;
    put(t, digits, (size_t)count + 1);
}

void json_text_real(struct json_text *t, double value, int decimals)
{
    static const uint64_t powers[DECIMALS_MAX + 1] = {1, 10, 100, 1000, 10000, 100000, 1000000};
    uint64_t scale = powers[decimals];
    double bounded = isnan(value) ? 0 : fmin(fmax(value, -REAL_MAX), REAL_MAX);
    uint64_t scaled = (uint64_t)llround(fabs(bounded) * (double)scale);
    if (bounded < 0 && scaled != 0) /* never "-0" */
        put(t, "-", 1);
    json_text_unsigned(t, scaled / scale);
    put_fraction(t, scaled % scale, decimals);
}
