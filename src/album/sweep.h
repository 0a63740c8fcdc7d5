/* What a killed run left half made in OUT_DIR. */
#ifndef SL_ALBUM_SWEEP_H
#define SL_ALBUM_SWEEP_H

#include "album/work.h"

/*
 * Removes files in the making that no run is making any more: PAGE.*.part in the folders of pages,
 * those of the reports, of the review page, of optics and corrections beside them. To be called under
 * the lock. Never removes a shot, nor anything but a regular file; what cannot be removed stays,
 * and is told of when its name is needed.
 */
void sl_sweep(const sl_run *run);

#endif
