/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "gateway/bus/json_text.h"
#include "tests/unit/crowd/random.h"

static const char *real(double value, int decimals)
{
    static char buf[64];
    struct json_text t;
    json_text_begin(&t, buf, sizeof buf - 1);
    json_text_real(&t, value, decimals);
    buf[json_text_len(&t)] = 0;
    return buf;
}

Test(json_text, numbers_are_short_and_always_numbers)
{
    cr_assert_str_eq(real(0, 4), "0");
    cr_assert_str_eq(real(-0.0, 4), "0");
    cr_assert_str_eq(real(-0.00004, 4), "0");
    cr_assert_str_eq(real(-0.00006, 4), "-0.0001");
    cr_assert_str_eq(real(1.5, 4), "1.5");
    cr_assert_str_eq(real(0.99996, 4), "1");
    cr_assert_str_eq(real(12.0305, 4), "12.0305");
    cr_assert_str_eq(real(-3.2, 0), "-3");
    cr_assert_str_eq(real(0.000001, 6), "0.000001");
    cr_assert_str_eq(real(NAN, 4), "0");
    cr_assert_str_eq(real(INFINITY, 4), "1000000000");
    cr_assert_str_eq(real(-INFINITY, 6), "-1000000000");
    cr_assert_str_eq(real(-1e300, 2), "-1000000000");
    cr_assert_str_eq(real(5e-324, 6), "0");
}

Test(json_text, numbers_are_the_nearest_and_as_json_reads_them)
{
    struct random r = {1};
    for (int run = 0; run < 200000; run++) {
        int decimals = (int)random_below(&r, 7);
        double value = random_between(&r, -1, 1) * pow(10, random_below(&r, 9));
        json_t *read = json_loads(real(value, decimals), JSON_DECODE_ANY, NULL);
        cr_assert(json_is_number(read), "%s", real(value, decimals));
        cr_assert_leq(fabs(json_number_value(read) - value), 0.5000001 * pow(10, -decimals) + fabs(value) * 0x1p-52,
                      "%.17g", value);
        json_decref(read);
    }
}

static json_t *string(const char *s, size_t max, char *buf, size_t size)
{
    struct json_text t;
    json_text_begin(&t, buf, size);
    json_text_string(&t, s, max);
    return json_loadb(buf, json_text_len(&t), JSON_DECODE_ANY, NULL);
}

Test(json_text, strings_come_back_whatever_is_in_them)
{
    char every[256], buf[2048];
    for (int c = 1; c < 128; c++)
        every[c - 1] = (char)c;
    every[127] = 0;
    const char *texts[] = {"", "signal box", "\"quoted\" \\ back", "Gleis 3 – Weiche ü 東 🚂", "</script>", every};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        json_t *read = string(texts[i], 256, buf, sizeof buf);
        cr_assert(json_is_string(read), "text %zu", i);
        cr_assert_str_eq(json_string_value(read), texts[i]);
        json_decref(read);
    }
    json_t *cut = string("abcdef", 3, buf, sizeof buf), *none = string(NULL, 3, buf, sizeof buf);
    cr_assert_str_eq(json_string_value(cut), "abc");
    cr_assert(json_is_null(none));
    json_decref(cut);
    json_decref(none);
}

Test(json_text, whole_numbers_to_the_last)
{
    char buf[32] = {0};
    const uint64_t value[] = {0, 9, 10, 4294967296, UINT64_MAX};
    const char *text[] = {"0", "9", "10", "4294967296", "18446744073709551615"};
    for (int i = 0; i < 5; i++) {
        struct json_text t;
        json_text_begin(&t, buf, sizeof buf);
        json_text_unsigned(&t, value[i]);
        cr_assert_eq(json_text_len(&t), strlen(text[i]));
        cr_assert_arr_eq(buf, text[i], strlen(text[i]));
    }
}

Test(json_text, no_room_is_said_not_overrun)
{
    const char *whole = "{\"a\":\"x\\\"y\",\"b\":-1.25}";
    for (size_t size = 0; size <= strlen(whole); size++) {
        char buf[64];
        struct json_text t;
        memset(buf, '#', sizeof buf);
        json_text_begin(&t, buf, size);
        json_text_raw(&t, "{\"a\":");
        json_text_string(&t, "x\"y", 9);
        json_text_raw(&t, ",\"b\":");
        json_text_real(&t, -1.25, 3);
        json_text_raw(&t, "}");
        cr_assert_eq(json_text_len(&t), size < strlen(whole) ? 0 : size);
        for (size_t i = size; i < sizeof buf; i++)
            cr_assert_eq(buf[i], '#');
    }
}

Test(json_text, an_object_can_be_gone_on_with)
{
    char buf[64] = "{\"a\":1}";
    struct json_text t;
    json_text_resume(&t, buf, 7, sizeof buf);
    json_text_raw(&t, ",\"b\":2}");
    cr_assert_eq(json_text_len(&t), 13);
    cr_assert_arr_eq(buf, "{\"a\":1,\"b\":2}", 13);
    json_text_resume(&t, buf, 13, 12);
    cr_assert_eq(json_text_len(&t), 0, "an object longer than its buffer");
    json_text_resume(&t, buf, 0, sizeof buf);
    json_text_raw(&t, "}");
    cr_assert_eq(json_text_len(&t), 0, "an object that did not fit stays one that did not fit");
}
