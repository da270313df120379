/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/reason.h"

#include <criterion/criterion.h>
#include <string.h>

Test(reason, every_one_has_a_code_of_its_own)
{
    for (int r = 0; r < REASON_COUNT; r++) {
        const char *code = reason_code((enum reason)r);
        cr_assert_gt(strlen(code), 0);
        cr_assert_eq(strspn(code, "abcdefghijklmnopqrstuvwxyz-"), strlen(code), "%s", code);
        for (int other = 0; other < r; other++)
            cr_assert_str_neq(code, reason_code((enum reason)other));
    }
    cr_assert_str_eq(reason_code(REASON_KEEPOUT), "keepout");
    cr_assert_str_eq(reason_code(REASON_RIG_LOST), "rig-lost");
    cr_assert_str_eq(reason_code(REASON_RIG_TAKEN), "rig-taken");
    cr_assert_str_eq(reason_code(REASON_RIG_STOPPED), "rig-stopped");
}

/* Plain sentences: they go into pages and JSON as they are. */
Test(reason, every_one_has_a_sentence_for_each_reader)
{
    for (int r = REASON_NONE + 1; r < REASON_COUNT; r++) {
        const char *texts[] = {reason_for_viewers((enum reason)r), reason_for_desk((enum reason)r)};
        for (int i = 0; i < 2; i++) {
            size_t length = strlen(texts[i]);
            cr_assert(length > 10 && texts[i][length - 1] == '.', "%s: \"%s\"", reason_code((enum reason)r), texts[i]);
            cr_assert_null(strpbrk(texts[i], "\"\\\n"));
        }
    }
    cr_assert_str_eq(reason_for_viewers(REASON_NONE), "");
    cr_assert_str_eq(reason_for_desk(REASON_NONE), "");
}

Test(reason, a_value_out_of_range_is_unknown)
{
    static const int wild[] = {REASON_COUNT, -1, 1000};
    for (int i = 0; i < 3; i++) {
        cr_assert_str_eq(reason_code((enum reason)wild[i]), "unknown");
        cr_assert_gt(strlen(reason_for_viewers((enum reason)wild[i])), 0);
        cr_assert_gt(strlen(reason_for_desk((enum reason)wild[i])), 0);
    }
}

Test(reason, the_first_in_precedence_is_shown)
{
    cr_assert_eq(reason_first(0), REASON_NONE);
    for (int a = REASON_NONE + 1; a < REASON_COUNT; a++)
        for (int b = a; b < REASON_COUNT; b++)
            cr_assert_eq(reason_first(reason_bit((enum reason)a) | reason_bit((enum reason)b)), (enum reason)a);
    cr_assert_eq(reason_bit(REASON_NONE), 0u);
}

/* What a number means, and what an index counts. */
Test(reason, numbers_have_units_and_indices_a_kind)
{
    cr_assert_str_eq(reason_unit(REASON_KEEPOUT), "m");
    cr_assert_str_eq(reason_unit(REASON_CORD_SLACK), "N");
    cr_assert_str_eq(reason_unit(REASON_LAG_LIMIT), "m/s");
    cr_assert_str_eq(reason_unit(REASON_SWING), "rad");
    cr_assert_str_eq(reason_unit(REASON_TICK_LATE), "s");
    cr_assert_str_eq(reason_unit(REASON_DESK_LOST), "");
    cr_assert_str_eq(reason_unit(REASON_COUNT), "");
    cr_assert_eq(reason_index(REASON_KEEPOUT), REASON_INDEX_KEEPOUT);
    cr_assert_eq(reason_index(REASON_ANCHOR_MOVED), REASON_INDEX_CORD);
    cr_assert_eq(reason_index(REASON_SLOW_ZONE), REASON_INDEX_ZONE);
    cr_assert_eq(reason_index(REASON_VIEW), REASON_INDEX_VIEW);
    cr_assert_eq(reason_index(REASON_HEAD_LOST), REASON_INDEX_AXIS);
    cr_assert_eq(reason_index(REASON_POSITION_FROZEN), REASON_INDEX_SOURCE);
    cr_assert_eq(reason_index(REASON_STAGE_EDGE), REASON_INDEX_NONE);
    cr_assert_eq(reason_index((enum reason) - 1), REASON_INDEX_NONE);
    cr_assert_eq(reason_bit(REASON_SPEED_LIMIT) >> 32 != 0, REASON_SPEED_LIMIT >= 32, "all 64 bits count");
}
