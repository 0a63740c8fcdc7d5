#include "squareleaf.h"

const char *sl_version(void)
{
    return "squareleaf " SL_VERSION "\n"
           "reads JPEG (libjpeg-turbo), PNG (libpng), TIFF (libtiff)\n"
           "writes TIFF, PNG, JPEG";
}
