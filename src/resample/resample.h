/* What tests may see and choose inside a resampler. */
#ifndef SL_RESAMPLE_RESAMPLE_H
#define SL_RESAMPLE_RESAMPLE_H

#include "resample/grid.h"
#include "resample/paths.h"
#include "squareleaf.h"

void sl_resampler_force_path(sl_resampler *resampler, const sl_path *path);
const sl_grid *sl_resampler_grid(const sl_resampler *resampler);

#endif
