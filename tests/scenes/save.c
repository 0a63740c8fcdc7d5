/* Shots as cameras write them, and the truth beside them. */
#include <errno.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

#include "scenes/scene.h"

static sl_status fail(sl_error *err, sl_status status, const char *path, const char *what)
{
    if (err != NULL) {
        err->status = status;
        err->stage = "scene";
        (void)snprintf(err->detail, sizeof err->detail, "%s: %s", path, what);
    }
    return status;
}

/* ---- Exif ------------------------------------------------------------------------------------ */

enum { TEXT_MOST = 64, TAGS_MOST = 8 };

typedef struct block {
    unsigned char data[1024];
    size_t        size;
} block;

/* Little-endian, as many cameras write it. */
static void put(block *b, unsigned long value, int bytes)
{
    for (int i = 0; i < bytes; i++)
        b->data[b->size++] = (unsigned char)(value >> (8 * i));
}

/* A directory in the making; its texts go behind both directories. */
typedef struct directory {
    block    entries;
    unsigned count;
} directory;

static void add_number(directory *d, unsigned tag, unsigned type, unsigned long value)
{
    put(&d->entries, tag, 2);
    put(&d->entries, type, 2);
    put(&d->entries, 1, 4);
    put(&d->entries, value, 4);
    d->count++;
}

static void add_text(directory *d, unsigned tag, const char *text, block *texts, size_t texts_at)
{
    const size_t length = strlen(text) < TEXT_MOST - 1 ? strlen(text) : TEXT_MOST - 1;

    put(&d->entries, tag, 2);
    put(&d->entries, 2, 2);
    put(&d->entries, length + 1, 4);
    put(&d->entries, texts_at + texts->size, 4);
    d->count++;
    memcpy(texts->data + texts->size, text, length);
    memset(texts->data + texts->size + length, 0, 2);
    texts->size += (length + 2) / 2 * 2; /* values begin at even places */
}

static void close_directory(block *out, const directory *d)
{
    put(out, d->count, 2);
    memcpy(out->data + out->size, d->entries.data, d->entries.size);
    out->size += d->entries.size;
    put(out, 0, 4);
}

/* IFD0 with the camera, then the Exif directory: CIPA DC-008. */
static void make_exif(block *out, size_t width, size_t height, const scene_exif *exif)
{
    enum { SHORT = 3, LONG = 4, ENTRY = 12, AROUND = 6 };
    const unsigned in_first = 1u + (exif->make != NULL) + (exif->model != NULL)
                              + (exif->orientation != 0);
    const unsigned in_second = 2u + (exif->date != NULL) + (exif->focal_35mm > 0);
    const size_t second_at = 8 + AROUND + ENTRY * in_first;
    const size_t texts_at = second_at + AROUND + ENTRY * in_second;
    directory first = { { { 0 }, 0 }, 0 };
    directory second = { { { 0 }, 0 }, 0 };
    block texts = { { 0 }, 0 };

    if (exif->make != NULL)
        add_text(&first, 0x010f, exif->make, &texts, texts_at);
    if (exif->model != NULL)
        add_text(&first, 0x0110, exif->model, &texts, texts_at);
    if (exif->orientation != 0)
        add_number(&first, 0x0112, SHORT, exif->orientation);
    add_number(&first, 0x8769, LONG, second_at);
    if (exif->date != NULL)
        add_text(&second, 0x9003, exif->date, &texts, texts_at);
    add_number(&second, 0xa002, LONG, width);
    add_number(&second, 0xa003, LONG, height);
    if (exif->focal_35mm > 0)
        add_number(&second, 0xa405, SHORT, (unsigned long)(exif->focal_35mm + 0.5));

    out->size = 0;
    memcpy(out->data, "Exif\0\0II*\0\x08\0\0\0", 14);
    out->size = 14;
    close_directory(out, &first);
    close_directory(out, &second);
    memcpy(out->data + out->size, texts.data, texts.size);
    out->size += texts.size;
}

/* ---- JPEG ------------------------------------------------------------------------------------ */

/* The px that is stored at (x,y) so that a reader who applies `orientation` sees the upright
   image: Exif 2.3, table of the tag Orientation. */
static const unsigned char *stored(const sl_image *image, unsigned orientation, size_t x, size_t y)
{
    const size_t right = image->width - 1;
    const size_t low = image->height - 1;
    size_t ux = x;
    size_t uy = y;

    switch (orientation) {
    case 2: ux = right - x; break;
    case 3: ux = right - x; uy = low - y; break;
    case 4: uy = low - y; break;
    case 5: ux = y; uy = x; break;
    case 6: ux = right - y; uy = x; break;
    case 7: ux = right - y; uy = low - x; break;
    case 8: ux = y; uy = low - x; break;
    default: break;
    }
    return image->data + uy * image->stride + 3 * ux;
}

typedef struct trap {
    struct jpeg_error_mgr base;
    jmp_buf               jump;
    char                  message[JMSG_LENGTH_MAX];
} trap;

static void leave(j_common_ptr c)
{
    trap *t = (trap *)(void *)c->err;

    c->err->format_message(c, t->message);
    longjmp(t->jump, 1);
}

static bool write_jpeg(FILE *file, trap *t, const sl_image *image, const scene_exif *exif,
                       unsigned char *row)
{
    const bool upended = exif->orientation >= 5 && exif->orientation <= 8;
    const size_t width = upended ? image->height : image->width;
    const size_t height = upended ? image->width : image->height;
    struct jpeg_compress_struct c;
    block app1;

    make_exif(&app1, width, height, exif);
    c.err = jpeg_std_error(&t->base);
    t->base.error_exit = leave;
    if (setjmp(t->jump) != 0) {
        jpeg_destroy_compress(&c);
        return false;
    }
    jpeg_create_compress(&c);
    jpeg_stdio_dest(&c, file);
    c.image_width = (JDIMENSION)width;
    c.image_height = (JDIMENSION)height;
    c.input_components = 3;
    c.in_color_space = JCS_RGB;
    jpeg_set_defaults(&c);
    jpeg_set_quality(&c, exif->quality > 0 ? exif->quality : 92, TRUE);
    if (exif->full_colour)
        c.comp_info[0].h_samp_factor = c.comp_info[0].v_samp_factor = 1;
    c.write_JFIF_header = FALSE;
    jpeg_start_compress(&c, TRUE);
    jpeg_write_marker(&c, JPEG_APP0 + 1, app1.data, (unsigned)app1.size);
    for (size_t y = 0; y < height; y++) {
        JSAMPROW line = row;

        for (size_t x = 0; x < width; x++)
            memcpy(row + 3 * x, stored(image, exif->orientation, x, y), 3);
        (void)jpeg_write_scanlines(&c, &line, 1);
    }
    jpeg_finish_compress(&c);
    jpeg_destroy_compress(&c);
    return true;
}

sl_status scene_save_jpeg(const char *path, const sl_image *image, const scene_exif *exif,
                          sl_error *err)
{
    const size_t longest = image->width > image->height ? image->width : image->height;
    unsigned char *row = NULL;
    trap *t = NULL;
    FILE *file = NULL;
    sl_status st = SL_OK;

    if (image->channels != 3 || image->bits != 8 || exif->orientation > 8 || exif->quality > 100)
        return fail(err, SL_ERR_ARG, path, "8-bit RGB, orientation 0..8, quality 0..100 expected");
    row = malloc(3 * longest);
    t = malloc(sizeof *t);
    if (row == NULL || t == NULL) {
        st = fail(err, SL_ERR_NOMEM, path, "out of memory");
        goto done;
    }
    file = fopen(path, "wb");
    if (file == NULL) {
        st = fail(err, SL_ERR_IO, path, strerror(errno));
        goto done;
    }
    if (!write_jpeg(file, t, image, exif, row))
        st = fail(err, SL_ERR_IO, path, t->message);
    if (fclose(file) != 0 && st == SL_OK)
        st = fail(err, SL_ERR_IO, path, strerror(errno));
done:
    free(t);
    free(row);
    return st;
}

/* ---- truth ----------------------------------------------------------------------------------- */

static void print_points(FILE *out, const sl_point *p, size_t count)
{
    (void)fputc('[', out);
    for (size_t i = 0; i < count; i++)
        (void)fprintf(out, "%s[%.6f, %.6f]", i > 0 ? ", " : "", p[i].x, p[i].y);
    (void)fputc(']', out);
}

static void print_page(FILE *out, const scene *s, const scene_truth *t)
{
    static const char *const side[4] = { "top", "right", "bottom", "left" };

    (void)fprintf(out, "\"page_mm\": [%.6f, %.6f], \"corners_px\": ", s->sheet[0].mm[0],
                  s->sheet[0].mm[1]);
    print_points(out, t->corner, 4);
    (void)fputs(", \"edges_px\": {", out);
    for (int k = 0; k < 4; k++) {
        (void)fprintf(out, "%s\"%s\": ", k > 0 ? ", " : "", side[k]);
        print_points(out, t->edge[k], SCENE_EDGE);
    }
    (void)fputs("}, \"grid_px\": ", out);
    print_points(out, t->grid[0], (size_t)SCENE_GRID * SCENE_GRID);
    (void)fprintf(out, ", \"focal_px\": %.6f, ", t->focal_px);
}

/* What a reader of results wants to sort by. */
static void print_scene(FILE *out, const scene *s, double inside)
{
    const double degrees = 57.295779513082321;
    const scene_sheet *p = &s->sheet[0];

    (void)fprintf(out, "\"scene\": {\"seed\": %llu, \"sheets\": %zu, \"inside\": %.6f, "
                       "\"camera_px\": [%zu, %zu], \"focal_35mm\": %.6f, ",
                  (unsigned long long)s->seed, s->sheets, inside, s->width, s->height,
                  s->focal_35mm);
    (void)fprintf(out, "\"pitch_deg\": %.6f, \"yaw_deg\": %.6f, \"roll_deg\": %.6f, "
                       "\"fill\": %.6f, \"k1\": %.6f, \"k2\": %.6f, "
                       "\"centre_off_px\": [%.6f, %.6f], ",
                  s->pitch * degrees, s->yaw * degrees, s->roll * degrees, s->fill, s->k1, s->k2,
                  s->centre_px[0], s->centre_px[1]);
    (void)fprintf(out, "\"paper\": %d, \"table\": %d, \"bend\": %d, \"bend_rad\": %.6f, "
                       "\"across_deg\": %.6f, \"rounded_mm\": %.6f, \"holes\": %u, "
                       "\"frame_mm\": %.6f, \"prints\": %zu, ",
                  (int)p->paper, (int)s->table, (int)p->bend, p->bend_rad, p->across * degrees,
                  p->rounded_mm, p->holes, p->frame_mm, p->prints);
    (void)fprintf(out, "\"lower\": %u, \"tab_mm\": %.6f, \"weight\": %d, \"clutter\": %zu, "
                       "\"lamps\": [%.6f, %.6f], \"bar\": %.6f, \"glare\": %.6f, "
                       "\"blur_px\": %.6f, \"motion_px\": %.6f, \"shot_noise\": %.6f}",
                  s->lower, s->tab_mm, (int)s->weight, s->clutters, s->lamp[0], s->lamp[1], s->bar,
                  s->glare, s->blur_px, s->motion_px, s->shot_noise);
}

sl_status scene_save_truth(const char *path, const scene *s, sl_error *err)
{
    scene_truth *t = malloc(sizeof *t);
    FILE *file;
    sl_status st = SL_OK;
    bool whole;

    if (t == NULL)
        return fail(err, SL_ERR_NOMEM, path, "out of memory");
    if (s->sheets > 0)
        st = scene_truth_of(t, s, err);
    if (st != SL_OK)
        goto done;
    file = fopen(path, "w");
    if (file == NULL) {
        st = fail(err, SL_ERR_IO, path, strerror(errno));
        goto done;
    }
    (void)fputc('{', file);
    if (s->sheets > 0)
        print_page(file, s, t);
    else
        (void)fputs("\"page_mm\": null, ", file);
    print_scene(file, s, s->sheets > 0 ? t->inside : 0);
    (void)fputs("}\n", file);
    whole = ferror(file) == 0;
    if (fclose(file) != 0 || !whole)
        st = fail(err, SL_ERR_IO, path, strerror(errno));
done:
    free(t);
    return st;
}
