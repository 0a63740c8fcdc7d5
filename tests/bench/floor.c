/*
 * The floor: what libjpeg-turbo alone needs for the same bytes. Decodes a shot whole, then encodes
 * a page's pixels (read beforehand from a PPM file) at quality 95, 4:4:4.
 *
 * usage: floor SHOT.jpg PAGE.ppm OUT.jpg
 */
#include <stdio.h>
#include <stdlib.h>

#include <jpeglib.h>

static void decode(const char *path)
{
    struct jpeg_decompress_struct c;
    struct jpeg_error_mgr e;
    FILE *file = fopen(path, "rb");
    unsigned char *frame;

    if (file == NULL)
        exit(1);
    c.err = jpeg_std_error(&e);
    jpeg_create_decompress(&c);
    jpeg_stdio_src(&c, file);
    (void)jpeg_read_header(&c, TRUE);
    (void)jpeg_start_decompress(&c);
    frame = malloc((size_t)c.output_width * c.output_height * (size_t)c.output_components);
    if (frame == NULL)
        exit(1);
    while (c.output_scanline < c.output_height) {
        JSAMPROW row = frame + (size_t)c.output_scanline * c.output_width
                                   * (size_t)c.output_components;

        (void)jpeg_read_scanlines(&c, &row, 1);
    }
    (void)jpeg_finish_decompress(&c);
    jpeg_destroy_decompress(&c);
    free(frame);
    (void)fclose(file);
}

static unsigned char *read_ppm(const char *path, unsigned *width, unsigned *height)
{
    FILE *file = fopen(path, "rb");
    unsigned char *frame = NULL;

    if (file != NULL && fscanf(file, "P6 %u %u 255", width, height) == 2 && fgetc(file) != EOF) {
        frame = malloc((size_t)*width * *height * 3);
        if (frame != NULL && fread(frame, 3, (size_t)*width * *height, file) == 0) {
            free(frame);
            frame = NULL;
        }
    }
    if (file != NULL)
        (void)fclose(file);
    return frame;
}

int main(int argc, char **argv)
{
    struct jpeg_compress_struct c;
    struct jpeg_error_mgr e;
    unsigned width = 0;
    unsigned height = 0;
    unsigned char *frame;
    FILE *file;

    if (argc != 4) {
        (void)fputs("usage: floor SHOT.jpg PAGE.ppm OUT.jpg\n", stderr);
        return 64;
    }
    frame = read_ppm(argv[2], &width, &height);
    file = fopen(argv[3], "wb");
    if (frame == NULL || file == NULL)
        return 1;
    decode(argv[1]);
    c.err = jpeg_std_error(&e);
    jpeg_create_compress(&c);
    jpeg_stdio_dest(&c, file);
    c.image_width = width;
    c.image_height = height;
    c.input_components = 3;
    c.in_color_space = JCS_RGB;
    jpeg_set_defaults(&c);
    jpeg_set_quality(&c, 95, TRUE);
    for (int i = 0; i < 3; i++)
        c.comp_info[i].h_samp_factor = c.comp_info[i].v_samp_factor = 1;
    jpeg_start_compress(&c, TRUE);
    while (c.next_scanline < c.image_height) {
        JSAMPROW row = frame + (size_t)c.next_scanline * width * 3;

        (void)jpeg_write_scanlines(&c, &row, 1);
    }
    jpeg_finish_compress(&c);
    jpeg_destroy_compress(&c);
    free(frame);
    return fclose(file) == 0 ? 0 : 1;
}
