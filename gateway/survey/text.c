/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/text.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* The character that begins here and how many bytes it has; 0 bytes if it is not UTF-8. */
static uint32_t decode(const unsigned char *s, int *bytes)
{
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    int n = s[0] < 0x80 ? 1 : s[0] >= 0xC2 && s[0] < 0xE0 ? 2 : s[0] >= 0xE0 && s[0] < 0xF0 ? 3 : 4;
    uint32_t c = n == 1 ? s[0] : s[0] & (0xFFu >> (n + 1));
    *bytes = 0;
    if (s[0] >= 0x80 && (s[0] < 0xC2 || s[0] > 0xF4))
        return 0;
    for (int i = 1; i < n; i++) {
        if ((s[i] & 0xC0) != 0x80)
            return 0;
        c = c << 6 | (s[i] & 0x3Fu);
    }
    *bytes = c >= least[n] && c <= 0x10FFFF && (c < 0xD800 || c > 0xDFFF) ? n : 0;
    return c;
}

static bool shows(uint32_t c)
{
    bool control = c < 0x20 || (c >= 0x7F && c < 0xA0) || (c & 0xFFFE) == 0xFFFE;
    bool reorders = c == 0x200E || c == 0x200F || c == 0x061C || (c >= 0x202A && c <= 0x202E) ||
                    (c >= 0x2066 && c <= 0x2069) || c == 0x2028 || c == 0x2029;
    return !control && !reorders;
}

const char *text_next(const char *text, char bytes[TEXT_BYTES])
{
    int n;
    uint32_t c = decode((const unsigned char *)text, &n);
    if (n > 0 && shows(c)) {
        memcpy(bytes, text, (size_t)n);
        bytes[n] = '\0';
    } else {
        memcpy(bytes, "\xEF\xBF\xBD", 4);
    }
    return text + (n > 0 ? n : 1);
}

void text_put(FILE *out, const char *text)
{
    char bytes[TEXT_BYTES];
    while (*text) {
        text = text_next(text, bytes);
        fputs(bytes, out);
    }
}
