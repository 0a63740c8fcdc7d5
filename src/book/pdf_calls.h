/*
 * cairo and Pango, loaded when a book is made: with all that they hang on they take 5 ms to start,
 * and every other run does without.
 */
#ifndef SL_BOOK_PDF_CALLS_H
#define SL_BOOK_PDF_CALLS_H

#include <stdbool.h>

#include <cairo-pdf.h>
#include <pango/pangocairo.h>

/* What we call of them. */
#define SL_PDF_CALLS(CALL)                                 \
    CALL(cairo_create)                                     \
    CALL(cairo_destroy)                                    \
    CALL(cairo_image_surface_create)                       \
    CALL(cairo_move_to)                                    \
    CALL(cairo_paint)                                      \
    CALL(cairo_pdf_surface_add_outline)                    \
    CALL(cairo_pdf_surface_create_for_stream)              \
    CALL(cairo_pdf_surface_set_metadata)                   \
    CALL(cairo_pdf_surface_set_page_label)                 \
    CALL(cairo_pdf_surface_set_size)                       \
    CALL(cairo_rectangle)                                  \
    CALL(cairo_restore)                                    \
    CALL(cairo_save)                                       \
    CALL(cairo_scale)                                      \
    CALL(cairo_set_line_width)                             \
    CALL(cairo_set_source_rgb)                             \
    CALL(cairo_set_source_surface)                         \
    CALL(cairo_show_page)                                  \
    CALL(cairo_status)                                     \
    CALL(cairo_status_to_string)                           \
    CALL(cairo_stroke)                                     \
    CALL(cairo_surface_destroy)                            \
    CALL(cairo_surface_finish)                             \
    CALL(cairo_surface_set_mime_data)                      \
    CALL(cairo_surface_status)                             \
    CALL(cairo_translate)                                  \
    CALL(g_object_unref)                                   \
    CALL(pango_cairo_font_map_new)                         \
    CALL(pango_cairo_show_layout)                          \
    CALL(pango_cairo_update_context)                       \
    CALL(pango_font_description_free)                      \
    CALL(pango_font_description_from_string)               \
    CALL(pango_font_map_create_context)                    \
    CALL(pango_layout_get_extents)                         \
    CALL(pango_layout_get_unknown_glyphs_count)            \
    CALL(pango_layout_is_ellipsized)                       \
    CALL(pango_layout_new)                                 \
    CALL(pango_layout_set_alignment)                       \
    CALL(pango_layout_set_ellipsize)                       \
    CALL(pango_layout_set_font_description)                \
    CALL(pango_layout_set_height)                          \
    CALL(pango_layout_set_text)                            \
    CALL(pango_layout_set_width)                           \
    CALL(pango_layout_set_wrap)                            \
    CALL(pango_units_from_double)                          \
    CALL(pango_units_to_double)

/* Their types are those that their headers declare. */
typedef struct sl_pdf_calls {
#define CALL(name) __typeof__(name) *name;
    SL_PDF_CALLS(CALL)
#undef CALL
} sl_pdf_calls;

/* False where they are not there or lack a call. They stay loaded to the program's end. */
bool sl_pdf_load(sl_pdf_calls *out);

#endif
