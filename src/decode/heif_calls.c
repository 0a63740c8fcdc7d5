#include "decode/heif_calls.h"

#include <dlfcn.h>
#include <string.h>

/* The name that programs built with libheif 1.x ask for. */
static const char LIBRARY[] = "libheif.so.1";

bool sl_heif_load(sl_heif_calls *out)
{
    void *const library = dlopen(LIBRARY, RTLD_LAZY | RTLD_LOCAL);
    void *symbol;

    if (library == NULL)
        return false;
    /* by memcpy(): ISO C has no conversion from data to functions, POSIX has their sizes equal */
#define CALL(name)                            \
    symbol = dlsym(library, "heif_" #name);   \
    if (symbol == NULL)                       \
        return false;                         \
    memcpy(&out->name, &symbol, sizeof symbol);
    SL_HEIF_CALLS(CALL)
#undef CALL
    return true;
}
