/* What tests may choose inside a resampler. */
#ifndef SL_RESAMPLE_RESAMPLE_H
#define SL_RESAMPLE_RESAMPLE_H

#include "resample/paths.h"
#include "squareleaf.h"

void sl_resampler_force_path(sl_resampler *resampler, const sl_path *path);

#endif
