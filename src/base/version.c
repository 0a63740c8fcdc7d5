#include "squareleaf.h"

const char *sl_version(void)
{
    return "squareleaf " SL_VERSION "\n"
           "reads JPEG (libjpeg-turbo), PNG (libpng), TIFF (libtiff)"
#if defined(SL_HEIF)
           ", HEIC (libheif)\n"
#else
           "; HEIC not in this build\n"
#endif
           "writes TIFF, PNG, JPEG; PDF (cairo, Pango)";
}
