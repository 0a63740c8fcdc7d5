/* Where it first grows lighter beyond a dark page: the beginning of its own shadow's fall-off. */
#ifndef SL_BORDER_ONSET_H
#define SL_BORDER_ONSET_H

#include <stdbool.h>

enum {
    SL_PROFILE_PER_PX = 4,   /* bins */
    SL_PROFILE_HALF = 48,    /* px on either side */
    SL_PROFILE_BINS = 2 * SL_PROFILE_HALF * SL_PROFILE_PER_PX
};

/* A mean profile across an edge, linear light, in order of t. */
typedef struct sl_light_profile {
    double t[SL_PROFILE_BINS];      /* px outward */
    double value[SL_PROFILE_BINS];
    double weight[SL_PROFILE_BINS]; /* px in the bin */
    int    count;
} sl_light_profile;

/*
 * The light beyond the page's edge, as it begins: a step and a ramp from there, seen by a camera.
 * The step is below 0 where the darkest shadow is darker than the page.
 */
typedef struct sl_onset {
    double place;            /* of the page's edge, px */
    double camera;           /* sigma of the blur, px */
    double step;             /* linear light */
    double ramp;             /* ... per px outward */
    double bend;             /* ... and per px squared */
    double cost;             /* mean squared residual, weighted */
    double bare;             /* that of a bare step to the table's light, as soft or little softer */
} sl_onset;

/*
 * camera   sigma of the camera's blur, px
 * supple   fit a supple model: the ramp may bend, the step may be a dip, the blur differ; for a
 *          profile with little noise. Else out->bare is not known: INFINITY
 * height   light of the table over that of the page, linear
 * pattern  share of the table's light that its pattern makes up in such a profile
 * False where the profile does not show it.
 */
bool sl_onset_find(sl_onset *out, const sl_light_profile *p, double camera, bool supple,
                   double height, double pattern);

/* The place alone, px, of light that begins as `like`'s does, more or less of it. */
bool sl_onset_place(double *place, const sl_light_profile *p, const sl_onset *like, double height,
                    double pattern);

#endif
