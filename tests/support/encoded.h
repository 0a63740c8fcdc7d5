/* Pages of known pixels, written by the encode stage into memory or a file. */
#ifndef TESTS_ENCODED_H
#define TESTS_ENCODED_H

#include "support/near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct blob {
    unsigned char *data;
    size_t         size;
} blob;

static inline size_t row_bytes(const sl_encode_params *p)
{
    return p->width * p->channels * (p->bits / 8);
}

/*
 * Rows of a page: a gradient with a pattern in it, in all channels another; samples of 16 bits
 * use both bytes. `pad` bytes of 0xaa end each row: they belong to nobody and must not show.
 */
static inline unsigned char *page_rows(const sl_encode_params *p, size_t pad)
{
    const size_t stride = row_bytes(p) + pad;
    unsigned char *data = malloc(stride * p->height);

    assert_non_null(data);
    memset(data, 0xaa, stride * p->height);
    for (size_t y = 0; y < p->height; y++)
        for (size_t i = 0; i < p->width * p->channels; i++) {
            const size_t x = i / p->channels;
            const size_t c = i % p->channels;
            const unsigned v = (unsigned)(x * (151 + 57 * c) + y * (97 + 31 * c)
                                          + (x / 8 + y / 8) % 2 * 9000 * (c + 1));
            const uint16_t wide = (uint16_t)v;

            if (p->bits == 8)
                data[y * stride + i] = (unsigned char)(v >> 8);
            else
                memcpy(data + y * stride + 2 * i, &wide, 2);
        }
    return data;
}

/* Writes a page of page_rows() in portions of `portion` rows. */
static inline sl_status write_page(FILE *file, const sl_encode_params *p, const sl_page_info *info,
                                   size_t portion, size_t pad, sl_error *err)
{
    unsigned char *rows = page_rows(p, pad);
    const size_t stride = row_bytes(p) + pad;
    sl_writer *writer = NULL;
    sl_status st = sl_writer_new(&writer, file, p, info, err);

    for (size_t y = 0; y < p->height && st == SL_OK; y += portion) {
        const size_t n = p->height - y < portion ? p->height - y : portion;

        st = sl_writer_rows(writer, rows + y * stride, n, stride, err);
    }
    if (st == SL_OK)
        st = sl_writer_finish(writer, err);
    sl_writer_free(writer);
    free(rows);
    return st;
}

static inline blob file_bytes(FILE *file)
{
    blob b = { NULL, 0 };
    long size;

    assert_int_equal(fseek(file, 0, SEEK_END), 0);
    size = ftell(file);
    assert_true(size >= 0);
    rewind(file);
    b.size = (size_t)size;
    b.data = malloc(b.size + 1);
    assert_non_null(b.data);
    assert_int_equal(fread(b.data, 1, b.size, file), b.size);
    return b;
}

/* The page's file as bytes; fails the test when it cannot be written. Owned by the caller. */
static inline blob encoded(const sl_encode_params *p, const sl_page_info *info, size_t portion,
                           size_t pad)
{
    FILE *file = tmpfile();
    sl_error err = { SL_OK, NULL, "" };
    blob b;

    assert_non_null(file);
    if (write_page(file, p, info, portion, pad, &err) != SL_OK)
        fail_msg("format %d, %u x %u bits: %s", (int)p->format, p->channels, p->bits, err.detail);
    b = file_bytes(file);
    fclose(file);
    return b;
}

/* The same, to a file of a name. */
static inline void encode_to(const char *path, const sl_encode_params *p, const sl_page_info *info)
{
    FILE *file = fopen(path, "w+b");
    sl_error err = { SL_OK, NULL, "" };

    assert_non_null(file);
    if (write_page(file, p, info, 16, 0, &err) != SL_OK)
        fail_msg("%s: %s", path, err.detail);
    assert_int_equal(fclose(file), 0);
}

static inline sl_encode_params page_params(sl_format format, size_t width, size_t height,
                                           unsigned channels, unsigned bits)
{
    return (sl_encode_params){ .format = format, .width = width, .height = height,
                               .channels = channels, .bits = bits, .quality = 95 };
}

/* Where `size` bytes first stand in a blob; NULL when nowhere. */
static inline const unsigned char *find_bytes(const blob *b, const void *what, size_t size)
{
    for (size_t i = 0; i + size <= b->size; i++)
        if (memcmp(b->data + i, what, size) == 0)
            return b->data + i;
    return NULL;
}

#endif
