/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/swing.h"

#include <assert.h>

/* Weights add up to this, short of 1 by more than six products and sums can be rounded up. */
#define TOTAL 0.999999999999996

static const struct vec3 zero = {0, 0, 0};

static const char *const texts[] = {
    [SWING_OK] = "the shaper is ready",
    [SWING_BAD_SHAPER] = "there is no such shaper: choose none, zv, zvd or ei",
    [SWING_BAD_MODE] = ("the swing's frequency must be above 0 and its damping ratio within 0 and 0.3: measure them, "
                        "or give the length of the boom"),
    [SWING_BAD_SHARE] = "the vibration that the ei shaper puts up with must be within 0.005 and 0.2: 0.05 is usual",
    [SWING_BAD_TICK] = "a swing takes fewer than twelve ticks: tick faster, or shape nothing on so short a boom",
    [SWING_TOO_LONG] = "a swing takes too many ticks to be shaped: check the length of the boom, or choose zv",
    [SWING_NO_SOLUTION] = "no ei shaper was found for this swing: choose zvd",
};
static_assert(sizeof texts / sizeof *texts == SWING_FAULTS, "every fault has its text");

const char *swing_fault_text(enum swing_fault fault)
{
    return (unsigned)fault < SWING_FAULTS ? texts[fault] : "unknown";
}

static enum swing_fault fault_of(const struct swing_config *cfg)
{
    if ((unsigned)cfg->shaper >= SWING_SHAPER_KINDS)
        return SWING_BAD_SHAPER;
    if (cfg->shaper == SWING_SHAPER_NONE)
        return SWING_OK;
    if (!swing_shaper_mode_valid(cfg->mode))
        return SWING_BAD_MODE;
    bool share_counts = cfg->shaper == SWING_SHAPER_EI;
    if (share_counts && !(cfg->share >= SWING_SHAPER_SHARE_MIN && cfg->share <= SWING_SHAPER_SHARE_MAX))
        return SWING_BAD_SHARE;
    if (!(cfg->dt_s > 0 && cfg->mode.omega_radps * cfg->dt_s <= SWING_TICK_MAX))
        return SWING_BAD_TICK;
    return SWING_OK;
}

static void add_tap(struct swing_plan *plan, int delay, double weight)
{
    if (!(weight > 0))
        return;
    plan->delay[plan->taps] = delay;
    plan->weight[plan->taps++] = weight;
}

/* One impulse over the ticks around it, by the model's own motion. */
static void split(struct swing_plan *plan, const struct swing_config *cfg, double amplitude, double ticks)
{
    double whole = floor(ticks), f = ticks - whole;
    double sigma = cfg->mode.damping * cfg->mode.omega_radps * cfg->dt_s;
    double turn = cfg->mode.omega_radps * sqrt(1 - cfg->mode.damping * cfg->mode.damping) * cfg->dt_s;
    add_tap(plan, (int)whole, amplitude * exp(sigma * f) * sin(turn * (1 - f)) / sin(turn));
    add_tap(plan, (int)whole + 1, amplitude * exp(-sigma * (1 - f)) * sin(turn * f) / sin(turn));
}

static void normalise(struct swing_plan *plan)
{
    double sum = 0;
    for (int i = 0; i < plan->taps; i++)
        sum += plan->weight[i];
    for (int i = 0; i < plan->taps; i++)
        plan->weight[i] *= TOTAL / sum;
}

enum swing_fault swing_make_plan(const struct swing_config *cfg, struct swing_plan *plan)
{
    struct swing_plan made = {.taps = 0};
    *plan = (struct swing_plan){.shaper = {.impulses = 1, .amplitude = {1}}, .taps = 1, .weight = {1}};
    enum swing_fault fault = fault_of(cfg);
    if (fault != SWING_OK || cfg->shaper == SWING_SHAPER_NONE)
        return fault;
    if (!swing_shaper_design(cfg->shaper, cfg->mode, cfg->share, &made.shaper))
        return SWING_NO_SOLUTION;
    for (int i = 0; i < made.shaper.impulses; i++) {
        double ticks = made.shaper.time_s[i] / cfg->dt_s;
        if (!(ticks >= 0 && ticks < SWING_WINDOW - 1))
            return SWING_TOO_LONG;
        split(&made, cfg, made.shaper.amplitude[i], ticks);
    }
    normalise(&made);
    *plan = made;
    return SWING_OK;
}

void swing_reset(struct swing *swing, struct vec3 velocity)
{
    swing->before = vec_finite(velocity) ? velocity : zero;
    swing->next = 0;
    swing->filled = 0;
}

/* The wish `delay` ticks ago, 0 the one just taken in. */
static struct vec3 recall(const struct swing *swing, int delay)
{
    if (delay >= swing->filled)
        return swing->before;
    return swing->wish[(unsigned)(swing->next - 1 - delay) % SWING_WINDOW];
}

struct vec3 swing_step(const struct swing_plan *plan, struct swing *swing, struct vec3 wish)
{
    swing->wish[swing->next] = vec_finite(wish) ? wish : zero;
    swing->next = (swing->next + 1) % SWING_WINDOW;
    swing->filled += swing->filled < SWING_WINDOW;
    struct vec3 shaped = zero;
    for (int i = 0; i < plan->taps; i++)
        shaped = vec_along(shaped, recall(swing, plan->delay[i]), plan->weight[i]);
    return shaped;
}

double swing_residual(const struct swing_plan *plan, struct swing_mode mode, double dt_s)
{
    double c = 0, s = 0, last = plan->shaper.time_s[plan->shaper.impulses - 1];
    double turn = mode.omega_radps * sqrt(1 - mode.damping * mode.damping);
    for (int i = 0; i < plan->taps; i++) {
        double t = plan->delay[i] * dt_s;
        double size = plan->weight[i] * exp(mode.damping * mode.omega_radps * (t - last));
        c += size * cos(turn * t);
        s += size * sin(turn * t);
    }
    return sqrt(c * c + s * s);
}
