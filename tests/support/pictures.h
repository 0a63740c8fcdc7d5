/*
 * Small picture files made in memory, for tests of the decoder: each sample is a known function
 * of its place, so that what comes back can be checked by construction. The files are written
 * by libjpeg, libpng and libtiff, the tags by hand.
 */
#ifndef TESTS_PICTURES_H
#define TESTS_PICTURES_H

#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jpeglib.h>
#include <png.h>
#include <tiffio.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

typedef struct bytes {
    unsigned char *data;
    size_t         size;
} bytes;

static inline void bytes_append(bytes *to, const void *data, size_t size)
{
    to->data = realloc(to->data, to->size + size + 1);
    assert_non_null(to->data);
    if (size > 0)
        memcpy(to->data + to->size, data, size);
    to->size += size;
}

static inline void bytes_insert(bytes *to, size_t at, const void *data, size_t size)
{
    bytes tail = { NULL, 0 };

    bytes_append(&tail, to->data + at, to->size - at);
    to->size = at;
    bytes_append(to, data, size);
    bytes_append(to, tail.data, tail.size);
    free(tail.data);
}

/* Sample c of pixel (x,y), 0 .. 2^bits - 1: no symmetry, neighbours differ. */
static inline unsigned sample_at(size_t x, size_t y, unsigned c, unsigned bits)
{
    const uint32_t mix = (uint32_t)(x * 2654435761u + y * 40503u + c * 97u + 12345u);

    return ((mix ^ mix >> 13) * 2246822519u) >> (32 - bits);
}

/* The same, but smooth: what a JPEG can hold. */
static inline unsigned smooth_at(size_t x, size_t y, unsigned c)
{
    return (unsigned)((x * 5 + y * 2 + c * 40) % 512 < 256 ? (x * 5 + y * 2 + c * 40) % 256
                                                           : 255 - (x * 5 + y * 2 + c * 40) % 256);
}

/* ---- Exif ------------------------------------------------------------------------------------ */

/* What a block says; raw values, so that a test can lie. */
typedef struct exif_tags {
    int         big_endian;
    unsigned    orientation;     /* 0: no such tag */
    const char *make;            /* written without a closing NUL; NULL: no such tag */
    const char *model;
    const char *date;
    uint32_t    focal[2];        /* numerator, denominator; 0/0 is written as such */
    uint32_t    zoom[2];
    unsigned    focal_35mm;
    uint32_t    pixel_x;
    uint32_t    pixel_y;
} exif_tags;

typedef struct exif_writer {
    bytes block;                 /* from the TIFF header on */
    int   big_endian;
} exif_writer;

static inline void exif_put(exif_writer *w, size_t at, uint32_t value, unsigned width)
{
    for (unsigned i = 0; i < width; i++)
        w->block.data[at + i]
            = (unsigned char)(value >> 8 * (w->big_endian ? width - 1 - i : i));
}

static inline size_t exif_grow(exif_writer *w, size_t size)
{
    static const unsigned char zeros[512];
    const size_t at = w->block.size;

    assert_true(size <= sizeof zeros);
    bytes_append(&w->block, zeros, size);
    return at;
}

/* One directory entry at `at`; text and fractions go to the block's end. */
static inline void exif_entry(exif_writer *w, size_t at, unsigned tag, unsigned type,
                              uint32_t count, uint32_t value)
{
    exif_put(w, at, tag, 2);
    exif_put(w, at + 2, type, 2);
    exif_put(w, at + 4, count, 4);
    exif_put(w, at + 8, value, type == 3 ? 2 : 4);
}

static inline void exif_text(exif_writer *w, size_t at, unsigned tag, const char *text)
{
    const size_t length = strlen(text);

    if (length <= 4) {
        exif_entry(w, at, tag, 2, (uint32_t)length, 0);
        memcpy(w->block.data + at + 8, text, length);
    } else {
        const size_t place = exif_grow(w, length);

        memcpy(w->block.data + place, text, length);
        exif_entry(w, at, tag, 2, (uint32_t)length, (uint32_t)place);
    }
}

static inline void exif_fraction(exif_writer *w, size_t at, unsigned tag, const uint32_t f[2])
{
    const size_t place = exif_grow(w, 8);

    exif_put(w, place, f[0], 4);
    exif_put(w, place + 4, f[1], 4);
    exif_entry(w, at, tag, 5, 1, (uint32_t)place);
}

/* "Exif\0\0" and a TIFF structure with IFD0 and the Exif IFD (CIPA DC-008, 4.5 and 4.6). */
static inline bytes make_exif(const exif_tags *tags)
{
    exif_writer w = { { NULL, 0 }, tags->big_endian };
    const unsigned first = (tags->make != NULL ? 1u : 0u) + (tags->model != NULL ? 1u : 0u)
                           + (tags->orientation != 0 ? 1u : 0u) + 1u;
    const unsigned second = (tags->date != NULL ? 1u : 0u) + 5u;
    bytes whole = { NULL, 0 };
    size_t at;

    (void)exif_grow(&w, 8 + 2 + 12 * first + 4 + 2 + 12 * second + 4);
    memcpy(w.block.data, tags->big_endian ? "MM" : "II", 2);
    exif_put(&w, 2, 42, 2);
    exif_put(&w, 4, 8, 4);
    exif_put(&w, 8, first, 2);
    at = 10;
    if (tags->make != NULL) {
        exif_text(&w, at, 0x010F, tags->make);
        at += 12;
    }
    if (tags->model != NULL) {
        exif_text(&w, at, 0x0110, tags->model);
        at += 12;
    }
    if (tags->orientation != 0) {
        exif_entry(&w, at, 0x0112, 3, 1, tags->orientation);
        at += 12;
    }
    exif_entry(&w, at, 0x8769, 4, 1, (uint32_t)(at + 12 + 4));
    at += 12 + 4;
    exif_put(&w, at, second, 2);
    at += 2;
    if (tags->date != NULL) {
        exif_text(&w, at, 0x9003, tags->date);
        at += 12;
    }
    exif_fraction(&w, at, 0x920A, tags->focal);
    exif_entry(&w, at + 12, 0xA002, 4, 1, tags->pixel_x);
    exif_entry(&w, at + 24, 0xA003, 4, 1, tags->pixel_y);
    exif_fraction(&w, at + 36, 0xA404, tags->zoom);
    exif_entry(&w, at + 48, 0xA405, 3, 1, tags->focal_35mm);

    bytes_append(&whole, "Exif\0\0", 6);
    bytes_append(&whole, w.block.data, w.block.size);
    free(w.block.data);
    return whole;
}

/* ---- JPEG ------------------------------------------------------------------------------------ */

typedef struct jpeg_options {
    unsigned    width;
    unsigned    height;
    int         channels;        /* 1, 3, or 4: CMYK with an Adobe marker */
    int         progressive;
    unsigned    restart_rows;
    int         h_sampling;      /* of luma against chroma; 0: the library's */
    int         v_sampling;
    bytes       exif;
    const void *icc;
    unsigned    icc_size;
} jpeg_options;

static inline bytes make_jpeg(const jpeg_options *o)
{
    struct jpeg_compress_struct info;
    struct jpeg_error_mgr errors;
    unsigned char *data = NULL;
    unsigned long size = 0;
    unsigned char *row = malloc((size_t)o->width * (size_t)o->channels);
    bytes whole = { NULL, 0 };

    assert_non_null(row);
    info.err = jpeg_std_error(&errors);
    jpeg_create_compress(&info);
    jpeg_mem_dest(&info, &data, &size);
    info.image_width = o->width;
    info.image_height = o->height;
    info.input_components = o->channels;
    info.in_color_space = o->channels == 1 ? JCS_GRAYSCALE
                          : o->channels == 3 ? JCS_RGB : JCS_CMYK;
    jpeg_set_defaults(&info);
    jpeg_set_quality(&info, 97, TRUE);
    if (o->h_sampling > 0) {
        info.comp_info[0].h_samp_factor = o->h_sampling;
        info.comp_info[0].v_samp_factor = o->v_sampling;
    }
    info.restart_in_rows = (int)o->restart_rows;
    if (o->progressive)
        jpeg_simple_progression(&info);
    jpeg_start_compress(&info, TRUE);
    if (o->exif.size > 0)
        jpeg_write_marker(&info, JPEG_APP0 + 1, o->exif.data, (unsigned)o->exif.size);
    if (o->icc_size > 0)
        jpeg_write_icc_profile(&info, o->icc, o->icc_size);
    for (unsigned y = 0; y < o->height; y++) {
        for (unsigned x = 0; x < o->width; x++)
            for (int c = 0; c < o->channels; c++)
                row[x * (unsigned)o->channels + (unsigned)c]
                    = (unsigned char)smooth_at(x, y, (unsigned)c);
        (void)jpeg_write_scanlines(&info, &row, 1);
    }
    jpeg_finish_compress(&info);
    jpeg_destroy_compress(&info);
    bytes_append(&whole, data, size);
    free(data);
    free(row);
    return whole;
}

/* ---- PNG ------------------------------------------------------------------------------------- */

typedef struct png_options {
    unsigned    width;
    unsigned    height;
    int         kind;            /* PNG_COLOR_TYPE_... */
    int         bits;
    int         interlaced;
    bytes       exif;            /* with "Exif\0\0"; goes behind the pixels when exif_last */
    int         exif_last;
    int         transparent;     /* tRNS: palette entry i has alpha 40 i; else sample_at(0,0) */
    const void *icc;
    unsigned    icc_size;
} png_options;

static inline void png_to_bytes(png_structp png, png_bytep data, size_t size)
{
    bytes_append(png_get_io_ptr(png), data, size);
}

static inline unsigned png_samples(int kind)
{
    return kind == PNG_COLOR_TYPE_RGB ? 3u : kind == PNG_COLOR_TYPE_RGBA ? 4u
           : kind == PNG_COLOR_TYPE_GRAY_ALPHA ? 2u : 1u;
}

static inline void png_colour(unsigned char rgb[3], unsigned index)
{
    rgb[0] = (unsigned char)(index * 7 + 3);
    rgb[1] = (unsigned char)(255 - index);
    rgb[2] = (unsigned char)(index * index);
}

static inline bytes make_png(const png_options *o)
{
    bytes whole = { NULL, 0 };
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png_create_info_struct(png);
    const unsigned samples = png_samples(o->kind);
    unsigned char *row = malloc((size_t)o->width * samples * 2);
    png_color palette[256];
    png_byte opacity[256];
    png_color_16 clear = { 0, 0, 0, 0, 0 };
    int passes;

    assert_non_null(info);
    assert_non_null(row);
    png_set_write_fn(png, &whole, png_to_bytes, NULL);
    png_set_IHDR(png, info, o->width, o->height, o->bits, o->kind,
                 o->interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    for (unsigned i = 0; i < 256; i++) {
        unsigned char rgb[3];

        png_colour(rgb, i);
        palette[i] = (png_color){ rgb[0], rgb[1], rgb[2] };
        opacity[i] = (png_byte)(40 * i);
    }
    if (o->kind == PNG_COLOR_TYPE_PALETTE)
        png_set_PLTE(png, info, palette, 1 << o->bits);
    if (o->transparent) {
        clear.red = (png_uint_16)sample_at(0, 0, 0, (unsigned)o->bits);
        clear.gray = clear.red;
        clear.green = (png_uint_16)sample_at(0, 0, 1, (unsigned)o->bits);
        clear.blue = (png_uint_16)sample_at(0, 0, 2, (unsigned)o->bits);
        png_set_tRNS(png, info, opacity, 1 << (o->bits < 4 ? o->bits : 2), &clear);
    }
    if (o->icc_size > 0)
        png_set_iCCP(png, info, "test", 0, o->icc, o->icc_size);
    png_write_info(png, info);
    if (o->exif.size > 0 && !o->exif_last)
        png_write_chunk(png, (png_const_bytep)"eXIf", o->exif.data + 6, o->exif.size - 6);
    if (o->bits < 8)
        png_set_packing(png);
    passes = o->interlaced ? png_set_interlace_handling(png) : 1;
    for (int pass = 0; pass < passes; pass++)
        for (unsigned y = 0; y < o->height; y++) {
            for (size_t i = 0; i < (size_t)o->width * samples; i++) {
                const unsigned v = sample_at(i / samples, y, (unsigned)(i % samples),
                                             (unsigned)o->bits);

                if (o->bits == 16) {
                    row[2 * i] = (unsigned char)(v >> 8);
                    row[2 * i + 1] = (unsigned char)v;
                } else {
                    row[i] = (unsigned char)v;
                }
            }
            png_write_row(png, row);
        }
    if (o->exif.size > 0 && o->exif_last)
        png_write_chunk(png, (png_const_bytep)"eXIf", o->exif.data + 6, o->exif.size - 6);
    png_write_end(png, NULL);
    png_destroy_write_struct(&png, &info);
    free(row);
    return whole;
}

/* ---- TIFF ------------------------------------------------------------------------------------ */

typedef struct tiff_options {
    unsigned    width;
    unsigned    height;
    unsigned    bits;
    unsigned    samples;
    unsigned    photometric;
    unsigned    compression;
    unsigned    extra;           /* kind of the last sample, when has_extra */
    int         has_extra;
    int         planar;
    unsigned    tile;            /* side of a tile; 0: strips of 5 rows */
    unsigned    orientation;     /* 0: no such tag */
    const char *mode;            /* "wl", "wb", "wl8"; NULL: "wl" */
    const void *icc;
    unsigned    icc_size;
    int         with_exif;
    unsigned    subfile;         /* NewSubfileType */
    unsigned    pages;           /* more of the same, at half of the size when `halved` */
    int         halved;
} tiff_options;

typedef struct memory_file {
    bytes  content;
    size_t at;
} memory_file;

static inline tmsize_t memory_read(thandle_t handle, void *to, tmsize_t count)
{
    memory_file *f = handle;
    const size_t left = f->at < f->content.size ? f->content.size - f->at : 0;
    const size_t n = (size_t)count < left ? (size_t)count : left;

    if (n > 0)
        memcpy(to, f->content.data + f->at, n);
    f->at += n;
    return (tmsize_t)n;
}

static inline tmsize_t memory_write(thandle_t handle, void *from, tmsize_t count)
{
    memory_file *f = handle;
    static const unsigned char zero;

    while (f->content.size < f->at)
        bytes_append(&f->content, &zero, 1);
    const size_t old = f->content.size - f->at;
    const size_t over = (size_t)count < old ? (size_t)count : old;

    if (over > 0)
        memcpy(f->content.data + f->at, from, over);
    bytes_append(&f->content, (unsigned char *)from + over, (size_t)count - over);
    f->at += (size_t)count;
    return count;
}

static inline toff_t memory_seek(thandle_t handle, toff_t offset, int whence)
{
    memory_file *f = handle;

    f->at = (whence == SEEK_SET ? 0 : whence == SEEK_CUR ? f->at : f->content.size)
            + (size_t)offset;
    return f->at;
}

static inline int memory_close(thandle_t handle)
{
    (void)handle;
    return 0;
}

static inline toff_t memory_size(thandle_t handle)
{
    return ((memory_file *)handle)->content.size;
}

/* `count` samples of `bits` bits from one row, packed as TIFF 6.0 does. */
static inline void tiff_pack(unsigned char *to, const unsigned *from, size_t count,
                             unsigned bits)
{
    memset(to, 0, (count * bits + 7) / 8);
    for (size_t i = 0; i < count; i++) {
        if (bits == 16) {
            const uint16_t v = (uint16_t)from[i];

            memcpy(to + 2 * i, &v, 2);
            continue;
        }
        for (unsigned b = 0; b < bits; b++)
            if (from[i] >> (bits - 1 - b) & 1u)
                to[(i * bits + b) / 8] |= (unsigned char)(0x80u >> ((i * bits + b) % 8));
    }
}

/* Samples of a unit whose top left is (x0,y0); all of a pixel's, or only sample `plane`. */
static inline void tiff_unit(TIFF *tif, const tiff_options *o, unsigned x0, unsigned y0,
                             unsigned width, unsigned height, unsigned plane)
{
    const unsigned each = o->planar ? 1 : o->samples;
    const size_t row_bytes = ((size_t)width * each * o->bits + 7) / 8;
    unsigned *row = calloc((size_t)width * each, sizeof *row);
    unsigned char *unit = calloc(row_bytes, height);

    assert_non_null(row);
    assert_non_null(unit);
    for (unsigned y = 0; y < height; y++) {
        for (size_t i = 0; i < (size_t)width * each; i++)
            row[i] = sample_at(x0 + i / each, y0 + y,
                               o->planar ? plane : (unsigned)(i % each), o->bits);
        tiff_pack(unit + y * row_bytes, row, (size_t)width * each, o->bits);
    }
    if (o->tile > 0)
        assert_true(TIFFWriteEncodedTile(tif,
                                         TIFFComputeTile(tif, x0, y0, 0, (uint16_t)plane), unit,
                                         (tmsize_t)(row_bytes * height)) > 0);
    else
        assert_true(TIFFWriteEncodedStrip(tif, TIFFComputeStrip(tif, y0, (uint16_t)plane),
                                          unit, (tmsize_t)(row_bytes * height)) > 0);
    free(unit);
    free(row);
}

static inline void tiff_tags(TIFF *tif, const tiff_options *o)
{
    uint16_t map[3][256];
    const uint16_t extra = (uint16_t)o->extra;

    TIFFSetField(tif, TIFFTAG_IMAGEWIDTH, o->width);
    TIFFSetField(tif, TIFFTAG_IMAGELENGTH, o->height);
    TIFFSetField(tif, TIFFTAG_BITSPERSAMPLE, o->bits);
    TIFFSetField(tif, TIFFTAG_SAMPLESPERPIXEL, o->samples);
    TIFFSetField(tif, TIFFTAG_PHOTOMETRIC, o->photometric);
    TIFFSetField(tif, TIFFTAG_COMPRESSION, o->compression);
    TIFFSetField(tif, TIFFTAG_PLANARCONFIG,
                 o->planar ? PLANARCONFIG_SEPARATE : PLANARCONFIG_CONTIG);
    if (o->subfile != 0)
        TIFFSetField(tif, TIFFTAG_SUBFILETYPE, o->subfile);
    if (o->has_extra)
        TIFFSetField(tif, TIFFTAG_EXTRASAMPLES, 1, &extra);
    if (o->orientation != 0)
        TIFFSetField(tif, TIFFTAG_ORIENTATION, o->orientation);
    if (o->icc_size > 0)
        TIFFSetField(tif, TIFFTAG_ICCPROFILE, o->icc_size, o->icc);
    if (o->photometric == PHOTOMETRIC_PALETTE) {
        for (unsigned i = 0; i < 256; i++) {
            unsigned char rgb[3];

            png_colour(rgb, i);
            for (unsigned c = 0; c < 3; c++)
                map[c][i] = (uint16_t)(rgb[c] * 257);
        }
        TIFFSetField(tif, TIFFTAG_COLORMAP, map[0], map[1], map[2]);
    }
    if (o->tile > 0) {
        TIFFSetField(tif, TIFFTAG_TILEWIDTH, o->tile);
        TIFFSetField(tif, TIFFTAG_TILELENGTH, o->tile);
    } else {
        TIFFSetField(tif, TIFFTAG_ROWSPERSTRIP, 5);
    }
    if (o->with_exif) {
        TIFFSetField(tif, TIFFTAG_MAKE, "Maker\tof things ");
        TIFFSetField(tif, TIFFTAG_MODEL, "Model 1");
    }
}

static inline void tiff_page(TIFF *tif, const tiff_options *o)
{
    tiff_tags(tif, o);
    for (unsigned plane = 0; plane < (o->planar ? o->samples : 1); plane++)
        for (unsigned y = 0; y < o->height; y += o->tile > 0 ? o->tile : 5) {
            const unsigned rest = o->height - y < 5 ? o->height - y : 5;

            if (o->tile == 0)
                tiff_unit(tif, o, 0, y, o->width, rest, plane);
            for (unsigned x = 0; o->tile > 0 && x < o->width; x += o->tile)
                tiff_unit(tif, o, x, y, o->tile, o->tile, plane);
        }
}

/* The page's Exif directory: written behind it, then pointed to. */
static inline void tiff_exif(TIFF *tif)
{
    uint64_t place = 0;

    assert_true(TIFFWriteDirectory(tif));
    assert_int_equal(TIFFCreateEXIFDirectory(tif), 0);
    TIFFSetField(tif, EXIFTAG_DATETIMEORIGINAL, "2021:07:31 23:59:58");
    TIFFSetField(tif, EXIFTAG_FOCALLENGTH, 35.5);
    TIFFSetField(tif, EXIFTAG_DIGITALZOOMRATIO, 1.25);
    TIFFSetField(tif, EXIFTAG_FOCALLENGTHIN35MMFILM, 53);
    TIFFSetField(tif, EXIFTAG_PIXELXDIMENSION, 6000);
    TIFFSetField(tif, EXIFTAG_PIXELYDIMENSION, 4000);
    assert_true(TIFFWriteCustomDirectory(tif, &place));
    assert_true(TIFFSetDirectory(tif, 0));
    TIFFSetField(tif, TIFFTAG_EXIFIFD, place);
    assert_true(TIFFRewriteDirectory(tif));
}

static inline bytes make_tiff(const tiff_options *o)
{
    memory_file file = { { NULL, 0 }, 0 };
    TIFF *tif = TIFFClientOpen("test", o->mode != NULL ? o->mode : "wl", &file, memory_read,
                               memory_write, memory_seek, memory_close, memory_size, NULL,
                               NULL);
    tiff_options more = *o;

    assert_non_null(tif);
    tiff_page(tif, o);
    if (o->halved) {
        more.width = (o->width + 1) / 2;
        more.height = (o->height + 1) / 2;
    }
    for (unsigned page = 0; page < o->pages; page++) {
        assert_true(TIFFWriteDirectory(tif));
        tiff_page(tif, &more);
    }
    if (o->with_exif)
        tiff_exif(tif);
    TIFFClose(tif);
    return file.content;
}

#endif
