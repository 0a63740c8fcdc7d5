/* Advice in the words of whoever took the picture: a camera or a flatbed scanner. */
#ifndef SL_INSPECT_SOURCE_H
#define SL_INSPECT_SOURCE_H

#include "squareleaf.h"

/* Rewrites the reasons' sentences, which speak of a camera, for another source. */
void sl_source_reword(sl_inspection *inspection, sl_source source);

#endif
