/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Memory that runs out at the first allocation of the JSON library, at the second, and so on until there is enough:
 * each time the file is refused, the show is untouched and nothing leaks. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/show/room_json.h"
#include "told.h"

static long left, live;

static void *scarce_malloc(size_t size)
{
    if (left == 0)
        return NULL;
    left--;
    live++;
    return malloc(size);
}

static void scarce_free(void *p)
{
    live -= p != NULL;
    free(p);
}

Test(memory, the_loader_survives_every_failing_allocation)
{
    char *text = told_file("plain.json"); /* the work goes with the square of what a file holds */
    int refused = 0, said = 0, errors;
    json_object_seed(1);
    json_set_alloc_funcs(scarce_malloc, scarce_free);
    do {
        left = refused;
        live = 0;
        struct told *told = told_of(text, strlen(text));
        errors = told->errors;
        cr_assert_eq(live, 0, "%ld allocations leaked after %d", live, refused);
        if (errors > 0) {
            cr_assert(told_untouched(told));
            said += strstr(told->text, "enough memory") != NULL;
            refused++;
        }
        told_free(told);
    } while (errors > 0 && refused < 100000);
    json_set_alloc_funcs(malloc, free);
    cr_assert_gt(refused, 200); /* so many allocations does this file need */
    cr_assert_gt(said, refused / 2);
    free(text);
}

Test(memory, the_room_survives_every_failing_allocation)
{
    char *text = told_edited(NULL), *room = NULL;
    struct told *told = told_of(text, strlen(text));
    int refused = 0;
    json_object_seed(1);
    json_set_alloc_funcs(scarce_malloc, scarce_free);
    for (; !room && refused < 100000; refused++) {
        left = refused;
        live = 0;
        room = room_json_new(&told->show);
        cr_assert_eq(live, room != NULL, "%ld allocations leaked after %d", live, refused);
    }
    json_set_alloc_funcs(malloc, free);
    cr_assert(room);
    cr_assert_gt(refused, 50);
    free(room);
    told_free(told);
    free(text);
}
