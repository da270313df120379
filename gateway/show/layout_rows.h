/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How the rows of the tables in layout*.c are written. */
#ifndef STEADYHAND_SHOW_LAYOUT_ROWS_H
#define STEADYHAND_SHOW_LAYOUT_ROWS_H

#include <math.h>

#include "gateway/show/layout.h"

enum { LAYOUT_ROOM_M = 500 }; /* nothing lies further from the origin */

#define AT(member) offsetof(struct layout_draft, member)
#define TABLE(rows)                                                                                                    \
    {                                                                                                                  \
        .fields = rows, .count = sizeof(rows) / sizeof(rows[0])                                                        \
    }

#define ROW(kind_, key_, min_, max_, unit_, offset_, what_)                                                            \
    .key = key_, .kind = kind_, .min = min_, .max = max_, .unit = unit_, .offset = offset_, .what = what_
#define SPARE(fallback_) .optional = true, .fallback = fallback_

#define NUMBER(key, min, max, unit, offset, what)                                                                      \
    {                                                                                                                  \
        ROW(FIELD_NUMBER, key, min, max, unit, offset, what)                                                           \
    }
/* The same, but the file may be silent: `fallback`, NAN where it depends on something else, as `what` then says. */
#define SPARE_NUMBER(key, min, max, unit, fallback, offset, what)                                                      \
    {                                                                                                                  \
        ROW(FIELD_NUMBER, key, min, max, unit, offset, what), SPARE(fallback)                                          \
    }
#define DEGREES(key, min, max, offset, what)                                                                           \
    {                                                                                                                  \
        ROW(FIELD_DEGREES, key, min, max, "deg", offset, what)                                                         \
    }
#define SPARE_DEGREES(key, min, max, fallback, offset, what)                                                           \
    {                                                                                                                  \
        ROW(FIELD_DEGREES, key, min, max, "deg", offset, what), SPARE(fallback)                                        \
    }
#define SECONDS(key, min, max, offset, what)                                                                           \
    {                                                                                                                  \
        ROW(FIELD_SECONDS, key, min, max, "s", offset, what)                                                           \
    }
#define WHOLE(key, min, max, offset, what)                                                                             \
    {                                                                                                                  \
        ROW(FIELD_WHOLE, key, min, max, NULL, offset, what)                                                            \
    }
#define SPARE_WHOLE(key, min, max, fallback, offset, what)                                                             \
    {                                                                                                                  \
        ROW(FIELD_WHOLE, key, min, max, NULL, offset, what), SPARE(fallback)                                           \
    }
#define TEXT(key, min, size, offset, what)                                                                             \
    {                                                                                                                  \
        ROW(FIELD_TEXT, key, min, (size)-1, NULL, offset, what)                                                        \
    }
#define HOST(offset)                                                                                                   \
    {                                                                                                                  \
        ROW(FIELD_HOST, "host", 7, 15, NULL, offset, "the address, four numbers with dots")                            \
    }
#define FLAG(key, offset, what)                                                                                        \
    {                                                                                                                  \
        ROW(FIELD_FLAG, key, 0, 1, NULL, offset, what)                                                                 \
    }
#define SPARE_FLAG(key, offset, what)                                                                                  \
    {                                                                                                                  \
        ROW(FIELD_FLAG, key, 0, 1, NULL, offset, what), SPARE(0)                                                       \
    }
#define WORD(key, offset, what, ...)                                                                                   \
    {                                                                                                                  \
        ROW(FIELD_WORD, key, 0, 0, NULL, offset, what), .words = (const char *const[])                                 \
        {                                                                                                              \
            __VA_ARGS__, NULL                                                                                          \
        }                                                                                                              \
    }
#define SPARE_WORD(key, fallback, offset, what, ...)                                                                   \
    {                                                                                                                  \
        ROW(FIELD_WORD, key, 0, 0, NULL, offset, what), SPARE(fallback), .words = (const char *const[])                \
        {                                                                                                              \
            __VA_ARGS__, NULL                                                                                          \
        }                                                                                                              \
    }
#define PLACE(key, n, offset, what)                                                                                    \
    {                                                                                                                  \
        ROW(FIELD_POINT, key, -LAYOUT_ROOM_M, LAYOUT_ROOM_M, "m", offset, what), .items = n                            \
    }
#define OBJECT(key, rows, what)                                                                                        \
    {                                                                                                                  \
        ROW(FIELD_OBJECT, key, 0, 0, NULL, 0, what), .table = &rows                                                    \
    }
/* `given` gets whether it was there. */
#define SPARE_OBJECT(key, rows, given, what)                                                                           \
    {                                                                                                                  \
        ROW(FIELD_OBJECT, key, 0, 0, NULL, given, what), .table = &rows, .optional = true                              \
    }
/* Of a struct `type` with a member `count` and an array `first_`. */
#define LIST(type, key, min, max, count, item_, first_, what)                                                          \
    {                                                                                                                  \
        ROW(FIELD_LIST, key, min, max, NULL, offsetof(type, count), what),                                             \
            .item = &item_, .first = offsetof(type, first_), .stride = sizeof(((type *)0)->first_[0])                  \
    }
#define SPARE_LIST(type, key, max, count, item_, first_, what)                                                         \
    {                                                                                                                  \
        ROW(FIELD_LIST, key, 0, max, NULL, offsetof(type, count), what),                                               \
            .item = &item_, .first = offsetof(type, first_), .stride = sizeof(((type *)0)->first_[0]),                 \
            .optional = true                                                                                           \
    }

#endif
