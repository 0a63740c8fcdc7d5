#include "book/pdf_calls.h"

#include <dlfcn.h>
#include <string.h>

/* Its own calls, and those of cairo, Pango and GObject that come with it. */
static const char LIBRARY[] = "libpangocairo-1.0.so.0";

bool sl_pdf_load(sl_pdf_calls *out)
{
    void *const library = dlopen(LIBRARY, RTLD_LAZY | RTLD_LOCAL);
    void *symbol;

    if (library == NULL)
        return false;
    /* by memcpy(): ISO C has no conversion from data to functions, POSIX has their sizes equal */
#define CALL(name)                          \
    symbol = dlsym(library, #name);         \
    if (symbol == NULL)                     \
        return false;                       \
    memcpy(&out->name, &symbol, sizeof symbol);
    SL_PDF_CALLS(CALL)
#undef CALL
    return true;
}
