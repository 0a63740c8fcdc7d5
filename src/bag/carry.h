/* Reading files for their sums, and copying them on the way. */
#ifndef SL_BAG_CARRY_H
#define SL_BAG_CARRY_H

#include "base/sums.h"
#include "squareleaf.h"

typedef struct sl_carrier {
    sl_sums              *sums;
    unsigned char        *buffer;
    const sl_keep_events *events;
    const volatile int   *stop;
    double                done;   /* bytes, for the bar */
    double                total;
} sl_carrier;

sl_status sl_carrier_new(sl_carrier *out, double total, const sl_keep_events *events,
                         const volatile int *stop, sl_error *err);
void sl_carrier_clear(sl_carrier *carrier);

typedef struct sl_carried {
    char     sha256[SL_SHA256_HEX];
    char     sha512[SL_SHA512_HEX];
    uint64_t size;
} sl_carried;

/*
 * Reads a plain file to its end. Pipes and devices are never waited for.
 * to  a file to make with the same bytes, flushed to disk; NULL: none. It must not be there.
 * SL_ERR_FORMAT (no plain file), SL_ERR_IO, SL_ERR_PERMISSION of `from`; SL_ERR_SPACE, SL_ERR_IO
 * of `to`; SL_ERR_CANCELLED.
 */
sl_status sl_carry(sl_carrier *carrier, sl_carried *out, const char *from, const char *to,
                   sl_error *err);

#endif
