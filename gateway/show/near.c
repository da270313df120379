/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/near.h"

#include <string.h>

enum { NEAR_WORD = 48 };

struct unit {
    const char *suffix;
    const char *base; /* the SI unit (or degrees) it measures in */
    double factor;    /* one of it, in the base */
};

static const struct unit units[] = {
    {"_mm", "m", 0.001},      {"_cm", "m", 0.01},        {"_m", "m", 1},           {"_km", "m", 1000},
    {"_in", "m", 0.0254},     {"_ft", "m", 0.3048},      {"_mps", "m/s", 1},       {"_ms", "s", 0.001},
    {"_cmps", "m/s", 0.01},   {"_mmps", "m/s", 0.001},   {"_kmh", "m/s", 1 / 3.6}, {"_kph", "m/s", 1 / 3.6},
    {"_mph", "m/s", 0.44704}, {"_fps", "m/s", 0.3048},   {"_mps2", "m/s2", 1},     {"_g", "m/s2", 9.80665},
    {"_deg", "deg", 1},       {"_rad", "deg", 57.29578}, {"_s", "s", 1},           {"_us", "s", 1e-6},
    {"_ns", "s", 1e-9},       {"_min", "s", 60},         {"_h", "s", 3600},        {"_kg", "kg", 1},
    {"_grams", "kg", 0.001},  {"_lb", "kg", 0.45359237}, {"_n", "n", 1},           {"_kn", "n", 1000},
    {"_npm", "n/m", 1},       {"_nspm", "n s/m", 1},     {"_per_s", "1/s", 1},     {"_per_min", "1/s", 1 / 60.0},
    {"_hz", "1/s", 1},
};

static int least(int a, int b)
{
    return a < b ? a : b;
}

int near_edits(const char *a, const char *b, int limit)
{
    int rows[3][NEAR_WORD + 1];
    int la = (int)strnlen(a, NEAR_WORD + 1), lb = (int)strnlen(b, NEAR_WORD + 1);
    if (la > NEAR_WORD || lb > NEAR_WORD)
        return limit + 1;
    for (int j = 0; j <= lb; j++)
        rows[0][j] = j;
    for (int i = 1; i <= la; i++) {
        int *row = rows[i % 3];
        const int *above = rows[(i + 2) % 3], *above2 = rows[(i + 1) % 3];
        row[0] = i;
        for (int j = 1; j <= lb; j++) {
            row[j] = least(least(above[j], row[j - 1]) + 1, above[j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = least(row[j], above2[j - 2] + 1);
        }
    }
    return least(rows[la % 3][lb], limit + 1);
}

/* The longest unit the key ends in, NULL if none; *stem gets the length of what stands before it. */
static const struct unit *unit_of(const char *key, size_t *stem)
{
    const struct unit *found = NULL;
    size_t len = strlen(key);
    *stem = len;
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        size_t n = strlen(units[i].suffix);
        if (n < len && len - n < *stem && strcmp(key + len - n, units[i].suffix) == 0) {
            found = &units[i];
            *stem = len - n;
        }
    }
    return found;
}

bool near_same_but_unit(const char *written, const char *known, double *factor)
{
    size_t stem, known_stem;
    const struct unit *from = unit_of(written, &stem), *to = unit_of(known, &known_stem);
    *factor = 0;
    if (stem != known_stem || strncmp(written, known, stem) != 0 || from == to)
        return false;
    if (from && to && strcmp(from->base, to->base) == 0)
        *factor = from->factor / to->factor;
    return true;
}
