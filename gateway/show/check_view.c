/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the camera must not see, and whether it sees it at home: there it would be held for good. */
#include <math.h>

#include "gateway/show/check.h"
#include "gateway/show/place.h"

static struct view_range about(double angle)
{
    static const double off = 0.01; /* a head is never quite where it should be */
    return (struct view_range){angle - off, angle + off};
}

/* At home, looking where the head looks at home, with the margin kept that the guard keeps at least. */
static void home_sees(const struct show *show, struct faults *faults)
{
    const struct policy_head *head = &show->policy.head;
    const struct head_axis_config *axis = head->config.axis;
    struct view_span span = {
        .from = show->home,
        .to = show->home,
        .azimuth_rad = about(axis[HEAD_PAN].home),
        .tilt_rad = about(axis[HEAD_TILT].home),
        .roll_rad = about(axis[HEAD_ROLL].home),
        .hfov_rad = head_hfov(&head->config, axis[HEAD_ZOOM].home),
        .off_m = show->policy.guard.margin_m,
    };
    span.vfov_rad = view_vfov(span.hfov_rad, head->aspect);
    struct view_answer seen = view_look(&show->policy.view, &span, 1);
    if (seen.distance_m <= 0 && seen.shape >= 0)
        faults_error(faults, "/room/home_m",
                     "expected a place from which the camera does not see \"%s\" while its head is at home, found that "
                     "it may. Hint: pan 0 looks along x, and turns towards y; move home_deg of pan or tilt, or home_m.",
                     show->view_name[seen.shape]);
}

void check_view(const struct show *show, struct faults *faults)
{
    const struct policy_config *policy = &show->policy;
    enum volume_yaw yaw = policy->guard.volume.outline.yaw;
    if (policy->view.shapes == 0 || !policy->head.there || !head_config_valid(&policy->head.config) ||
        !view_valid(&policy->view) || !(policy->head.aspect > 0) || !vec_finite(show->home))
        return;
    if (yaw == VOLUME_YAW_UNKNOWN)
        faults_error(faults, "/rig/yaw",
                     "expected \"fixed\", \"reported\" or \"pan\" beside view keep-outs, found \"unknown\". Hint: a "
                     "camera on a body that turns as it likes may look anywhere, so it could never move.");
    else if (yaw != VOLUME_YAW_REPORTED)
        home_sees(show, faults);
}
