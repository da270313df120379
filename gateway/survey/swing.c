/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The verb `swing`: how the body really swings, from a recording, as the show file wants to be told. */
#include <errno.h>
#include <math.h>
#include <string.h>

#include "gateway/survey/swing_record.h"
#include "gateway/verbs.h"
#include "policy/motion/units.h"

#define LEAST_SIGMA  0.0002 /* rad: of a tilt that the show file says nothing of, or nothing is wrong with */
#define FLOOR_SIGMAS 10

static void tell(const struct show *show, const struct swing_decay *found)
{
    const struct swing_mode *mode = &found->mode;
    double boom_m = show->policy.guard.volume.outline.boom_m;
    printf("swing     %.4f Hz +- %.4f (one in %.2f s), from %d half swings\n", mode->omega_radps / UNITS_TURN,
           found->omega_sigma / UNITS_TURN, UNITS_TURN / mode->omega_radps, found->halves);
    printf("damping   %.4f +- %.4f\n", mode->damping, found->damping_sigma);
    printf("begins at %.2f deg; %.3f deg of it unexplained\n", found->amplitude_rad * UNITS_DEG_PER_RAD,
           found->unexplained_rad * UNITS_DEG_PER_RAD);
    printf("at rest   %.2f deg towards x, %.2f deg towards y, as the sensor says\n",
           found->zero.x_rad * UNITS_DEG_PER_RAD, found->zero.y_rad * UNITS_DEG_PER_RAD);
    if (boom_m > 0)
        printf("boom_m    %.3f m would swing at %.4f Hz\n", boom_m,
               swing_shaper_mode(boom_m, mode->damping).omega_radps / UNITS_TURN);
    printf("\nIn the show file, at /rig/swing: \"frequency_hz\": %.4f, \"damping\": %.4f\n",
           mode->omega_radps / UNITS_TURN, mode->damping);
}

static int identify(const struct show *show, const char *path, const struct swing_record *record)
{
    const struct show_sensor *tilt = &show->sensor[SHOW_TILT];
    double sigma = tilt->there ? fmax(tilt->sigma, LEAST_SIGMA) : LEAST_SIGMA;
    const struct swing_decay_record samples = {record->tilt, record->count, record->dt_s, FLOOR_SIGMAS * sigma};
    struct swing_decay found;
    enum swing_decay_verdict verdict = swing_decay_identify(&samples, &found);
    if (verdict != SWING_DECAY_OK) {
        fprintf(stderr, "steadyhand: %s: %s\n", path, swing_decay_text(verdict));
        return 1;
    }
    tell(show, &found);
    return 0;
}

int swing_main(const struct show *show, const struct verb_options *opt)
{
    struct swing_record record;
    if (!opt->record_path) {
        fprintf(stderr, "steadyhand: swing: expected --record FILE, a recording of the body's tilt. "
                        "See: steadyhand swing --help\n");
        return 2;
    }
    FILE *in = fopen(opt->record_path, "r");
    if (!in) {
        fprintf(stderr, "steadyhand: --record: expected a file that can be read, found \"%s\" (%s)\n", opt->record_path,
                strerror(errno));
        return 2;
    }
    int status = 1;
    if (swing_record_read(in, opt->record_path, &record, stderr)) {
        status = identify(show, opt->record_path, &record);
        swing_record_free(&record);
    }
    fclose(in);
    return status;
}
