/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/volume.h"

static bool cut(struct volume *vol, int k)
{
    const struct volume_keepout *keepout = &vol->keepout[k];
    if (!shape_valid(&keepout->shape))
        return false;
    int made = shape_pieces(&keepout->shape, &vol->piece[vol->pieces], VOLUME_MAX_PIECES - vol->pieces);
    if (made < 0)
        return false;
    for (int i = 0; i < made; i++)
        vol->piece_of[vol->pieces + i] = (uint8_t)k;
    vol->pieces += made;
    return true;
}

bool volume_prepare(struct volume *vol)
{
    vol->pieces = 0;
    bool all = vol->keepouts >= 0 && vol->keepouts <= VOLUME_MAX_KEEPOUTS;
    for (int k = 0; all && k < vol->keepouts; k++)
        all = cut(vol, k);
    if (!all)
        vol->pieces = 0;
    return all;
}
