/*
 * The ICC profile of a page: the shot's own, byte for byte, or sRGB where the shot has none. A
 * TIFF file has no other word that readers agree on for "this is sRGB", and guidelines ask for
 * an embedded profile (FADGI 2016). A grey page gets the same curve between black and D50.
 */
#include "base/icc.h"
#include "encode/encode.h"

bool sl_icc_carried(const sl_page_info *info)
{
    return info->icc != NULL && info->icc_size > 0;
}

void sl_icc_write(sl_bytes *out, const sl_encode_params *params, const sl_page_info *info)
{
    if (sl_icc_carried(info))
        sl_bytes_add(out, info->icc, info->icc_size);
    else
        (void)sl_icc_build(out, params->channels == 1 ? &sl_icc_grey : &sl_icc_srgb);
}
