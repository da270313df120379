/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Any bytes as a show file: refused with at least one printable line and the show untouched, or taken as a show that
 * the policy accepts and that can be drawn. The place finder is asked on whatever the bytes are. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/show/place.h"
#include "gateway/show/room_json.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void require(int holds)
{
    if (!holds)
        abort();
}

static int is_untouched(const struct show *show)
{
    const unsigned char *bytes = (const unsigned char *)show;
    for (size_t i = 0; i < sizeof *show; i++)
        if (bytes[i] != 0xa5)
            return 0;
    return 1;
}

static int is_printable(const char *text)
{
    for (const unsigned char *c = (const unsigned char *)text; *c; c++)
        if ((*c < 0x20 && *c != '\n') || *c == 0x7f || (c[0] == 0xc2 && c[1] >= 0x80 && c[1] < 0xa0))
            return 0;
    return 1;
}

/* A place that is found names itself again, or what holds it. */
static void check_places(const char *text, size_t len)
{
    char pointer[PLACE_POINTER];
    struct place place;
    size_t step = len / 16 + 1;
    for (size_t at = 0; at < len; at += step) {
        place_pointer(text, len, at, pointer);
        require(strlen(pointer) < PLACE_POINTER);
        if (place_find(text, len, pointer, &place))
            require(place.start <= len && place.len <= len - place.start && place.line >= 1);
    }
}

static void check_good(const struct show *show)
{
    require(policy_config_valid(&show->policy) && crowd_config_valid(&show->crowd));
    require(show->edges >= 1 && show->edges <= 16 && show->rig_port > 0);
    char *room = room_json_new(show);
    require(room != NULL);
    free(room);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct show show;
    char *said = NULL, *text = malloc(size ? size : 1);
    size_t said_len;
    int warnings;
    FILE *err = open_memstream(&said, &said_len);
    if (!text || !err)
        abort();
    memcpy(text, data, size); /* a buffer of exactly this size: reading past it is seen */
    memset(&show, 0xa5, sizeof show);
    int errors = show_parse("show.json", text, size, &show, err, &warnings);
    fclose(err);
    require(is_printable(said));
    if (errors > 0)
        require(is_untouched(&show) && strstr(said, "show.json") == said);
    else
        check_good(&show);
    check_places(text, size);
    free(said);
    free(text);
    return 0;
}
