/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What an edge does with the bytes of core: whatever decodes can be shown, as strict JSON. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/bus/scene_json.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void shows(const struct scene *s)
{
    static struct show show;
    char text[SCENE_JSON_MAX];
    show.policy.guard.volume.keepouts = 2;
    memcpy(show.keepout_name[0], "\"signal\" box", 13);
    size_t len = scene_json(s, &show, s->rig_fresh, text, sizeof text);
    json_t *root = json_loadb(text, len, JSON_REJECT_DUPLICATES, NULL);
    must(len > 0 && json_is_object(root));
    json_decref(root);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct scene s, untouched;
    uint8_t again[BUS_FRAME_MAX];
    memset(&s, 0x5a, sizeof s);
    memset(&untouched, 0x5a, sizeof untouched);
    if (!frames_decode_scene(data, size, &s)) {
        must(memcmp(&s, &untouched, sizeof s) == 0);
        return 0;
    }
    must(frames_encode_scene(&s, again, sizeof again) == size && memcmp(again, data, size) == 0);
    shows(&s);
    return 0;
}
