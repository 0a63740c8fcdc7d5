/*
 * The same in vectors: the lanes are pixels for the places, and floats that lie side by side in
 * a row of the tile for the sums. One text serves vectors of 4 floats, which about every machine
 * has, and of 8 with AVX2.
 */
#include "resample/paths.h"

#include "base/compiler.h"

#if SL_VECTORS

enum {
    TAPS = 2 * SL_RADIUS,
    WHOLE_LANES = 8,
    RUN = 64,
    KEPT = 16 * SL_LANES     /* weights made once for a place; the rest for each row again */
};
_Static_assert(TAPS == 6, "the rows are written out");

typedef sl_f4_near vector_near;
typedef sl_i4_near vector_near_ints;
#define LANES 4
#define IOTA ((sl_i4){ 0, 1, 2, 3 })
#define NAME(x) vector_##x
#define TARGET
#define FLOATS sl_f4
#define INTS sl_i4
#define TO_INTS SL_TO_INT4
#define TO_FLOATS SL_TO_FLOAT4
#include "resample/paths_lanes.h"
#undef LANES
#undef IOTA
#undef NAME
#undef TARGET
#undef FLOATS
#undef INTS
#undef TO_INTS
#undef TO_FLOATS

#define NAME(x) vector_##x
#define TARGET
#define MIX(a, b) (((a) & SL_ALL4(0xffff)) | ((b) & ~SL_ALL4(0xffff)))
#include "resample/paths_whole.h"
#undef NAME
#undef TARGET
#undef MIX

static const sl_path path_vector = { "vector", vector_places, vector_taps, vector_band,
                                     vector_whole };

#endif

#if SL_AVX2

typedef sl_f8_near avx2_near;
typedef sl_i8_near avx2_near_ints;
#define LANES 8
#define IOTA ((sl_i8){ 0, 1, 2, 3, 4, 5, 6, 7 })
#define NAME(x) avx2_##x
#define TARGET SL_TARGET_AVX2
#define FLOATS sl_f8
#define INTS sl_i8
#define TO_INTS SL_TO_INT8
#define TO_FLOATS SL_TO_FLOAT8
#include "resample/paths_lanes.h"

#include "resample/paths_narrow.h"
#define NARROW
#define MIX(a, b) ((sl_i4)__builtin_ia32_pblendw128((sl_s8)(a), (sl_s8)(b), 0xAA))
#include "resample/paths_whole.h"

static const sl_path path_avx2 = { "avx2", avx2_places, avx2_taps, avx2_band, avx2_whole };

#endif

const sl_path *sl_path_get(sl_path_kind kind)
{
    switch (kind) {
    case SL_PATH_PLAIN:
        return &sl_path_plain;
#if SL_VECTORS
    case SL_PATH_VECTOR:
        return &path_vector;
#endif
#if SL_AVX2
    case SL_PATH_AVX2:
        return SL_CPU_HAS_AVX2() ? &path_avx2 : NULL;
#endif
    default:
        return NULL;
    }
}
