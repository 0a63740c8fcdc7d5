/*
 * libheif, loaded when the first HEIF file comes: with the decoders that hang on it, it takes 6 ms
 * to start, and most albums have no such file.
 */
#ifndef SL_DECODE_HEIF_CALLS_H
#define SL_DECODE_HEIF_CALLS_H

#include <stdbool.h>

#include <libheif/heif.h>

/* What we call of it, without the "heif_" that they begin with. */
#define SL_HEIF_CALLS(CALL)                                                                   \
    CALL(context_alloc)                                                                       \
    CALL(context_free)                                                                        \
    CALL(context_get_number_of_top_level_images)                                              \
    CALL(context_get_primary_image_handle)                                                    \
    CALL(context_read_from_memory_without_copy)                                               \
    CALL(context_set_max_decoding_threads)                                                    \
    CALL(context_set_maximum_image_size_limit)                                                \
    CALL(decode_image)                                                                        \
    CALL(decoding_options_alloc)                                                              \
    CALL(decoding_options_free)                                                               \
    CALL(deinit)                                                                              \
    CALL(image_get_bits_per_pixel_range)                                                      \
    CALL(image_get_decoding_warnings)                                                         \
    CALL(image_get_height)                                                                    \
    CALL(image_get_plane_readonly)                                                            \
    CALL(image_get_width)                                                                     \
    CALL(image_handle_get_height)                                                             \
    CALL(image_handle_get_list_of_metadata_block_IDs)                                         \
    CALL(image_handle_get_luma_bits_per_pixel)                                                \
    CALL(image_handle_get_metadata)                                                           \
    CALL(image_handle_get_metadata_size)                                                      \
    CALL(image_handle_get_nclx_color_profile)                                                 \
    CALL(image_handle_get_raw_color_profile)                                                  \
    CALL(image_handle_get_raw_color_profile_size)                                             \
    CALL(image_handle_get_width)                                                              \
    CALL(image_handle_has_alpha_channel)                                                      \
    CALL(image_handle_is_premultiplied_alpha)                                                 \
    CALL(image_handle_release)                                                                \
    CALL(image_release)                                                                       \
    CALL(init)                                                                                \
    CALL(nclx_color_profile_free)

/* Their types are those that its header declares. */
typedef struct sl_heif_calls {
#define CALL(name) __typeof__(heif_##name) *name;
    SL_HEIF_CALLS(CALL)
#undef CALL
} sl_heif_calls;

/* False where the library is not there or lacks a call. It stays loaded to the program's end. */
bool sl_heif_load(sl_heif_calls *out);

#endif
