/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/survey/swing_record.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RAD_PER_DEG 0.017453292519943295
#define HEADER      "t_s,tilt_x_deg,tilt_y_deg"
#define UNEVEN      0.2 /* of a spacing: so much a sample may be off its time */

enum { LINE_MAX_BYTES = 256, FIRST_ROOM = 1024 };

/* Three numbers with commas, and nothing else. */
static bool numbers(const char *line, double value[3])
{
    char *end;
    for (int i = 0; i < 3; i++) {
        value[i] = strtod(line, &end);
        if (end == line || !isfinite(value[i]) || *end != (i < 2 ? ',' : '\0'))
            return false;
        line = end + 1;
    }
    return true;
}

static bool told(FILE *err, const char *name, int line, const char *expected, const char *found)
{
    fprintf(err, "%s:%d: expected %s, found \"%.60s\"\n", name, line, expected, found);
    return false;
}

/* False at the end, or if the line is too long or not text. */
static bool next_line(FILE *in, char line[LINE_MAX_BYTES], bool *bad)
{
    *bad = false;
    if (!fgets(line, LINE_MAX_BYTES, in))
        return false;
    size_t n = strlen(line);
    *bad = n + 1 == LINE_MAX_BYTES && line[n - 1] != '\n';
    while (n > 0 && (line[n - 1] == '\n' || line[n - 1] == '\r'))
        line[--n] = '\0';
    for (size_t i = 0; i < n; i++) {
        if (line[i] < ' ' || line[i] > '~')
            *bad = true;
    }
    if (*bad)
        line[0] = '\0';
    return true;
}

static bool keep(struct swing_record *record, int *room, const double value[3])
{
    if (record->count == *room) {
        int more = *room > 0 ? 2 * *room : FIRST_ROOM;
        struct swing_tilt *grown = realloc(record->tilt, (size_t)more * sizeof *grown);
        if (!grown)
            return false;
        record->tilt = grown;
        *room = more;
    }
    record->tilt[record->count++] = (struct swing_tilt){value[1] * RAD_PER_DEG, value[2] * RAD_PER_DEG};
    return true;
}

/* The first two samples say what the spacing is; all later ones, at their own time, that it stays so. */
static bool in_time(struct swing_record *record, double t_s, double *begin_s)
{
    if (record->count == 0)
        *begin_s = t_s;
    if (record->count == 1)
        record->dt_s = t_s - *begin_s;
    if (record->count >= 1 && !(record->dt_s > 0))
        return false;
    if (record->count < 2)
        return true;
    double mean_s = (t_s - *begin_s) / record->count;
    bool even = fabs(t_s - *begin_s - record->count * record->dt_s) <= UNEVEN * record->dt_s * sqrt(record->count);
    record->dt_s = mean_s;
    return even && mean_s > 0;
}

static bool read_samples(FILE *in, const char *name, struct swing_record *record, FILE *err)
{
    char line[LINE_MAX_BYTES];
    double value[3], begin_s = 0;
    int room = 0, at = 1;
    bool bad;
    while (next_line(in, line, &bad)) {
        at++;
        if (bad || !numbers(line, value))
            return told(err, name, at, "three numbers, " HEADER, line);
        if (!in_time(record, value[0], &begin_s))
            return told(err, name, at, "times that rise by the same step each line", line);
        if (record->count == SWING_DECAY_SAMPLES_MAX)
            return told(err, name, at, "no more samples than 1048576", line);
        if (!keep(record, &room, value))
            return told(err, name, at, "memory for so many samples", line);
    }
    return ferror(in) ? told(err, name, at, "a file that can be read", "an error of it") : true;
}

bool swing_record_read(FILE *in, const char *name, struct swing_record *record, FILE *err)
{
    char line[LINE_MAX_BYTES] = "";
    bool bad;
    *record = (struct swing_record){.tilt = NULL};
    if (!next_line(in, line, &bad) || bad || strcmp(line, HEADER) != 0)
        return told(err, name, 1, "the heading " HEADER, line);
    if (read_samples(in, name, record, err))
        return true;
    swing_record_free(record);
    return false;
}

void swing_record_free(struct swing_record *record)
{
    free(record->tilt);
    *record = (struct swing_record){.tilt = NULL};
}
