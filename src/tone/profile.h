/* What this folder's sources share of LittleCMS. */
#ifndef SL_TONE_PROFILE_H
#define SL_TONE_PROFILE_H

#include <lcms2.h>

#include "base/inks.h"

/* A LittleCMS context that keeps its complaints to itself; NULL when out of memory. */
cmsContext sl_tone_context(void);

#endif
