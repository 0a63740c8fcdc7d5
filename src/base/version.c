#include "squareleaf.h"

const char *sl_version(void)
{
    return "squareleaf " SL_VERSION "\n"
           "reads JPEG (libjpeg-turbo), PNG (libpng), TIFF (libtiff)"
#if defined(SL_HEIF)
           ", HEIC (libheif, where it is installed)\n"
#else
           "; HEIC not in this build\n"
#endif
           "writes TIFF, PNG, JPEG; PDF (cairo and Pango, where they are installed)";
}
