/* A page from one file, to one file. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "album/save.h"
#include "base/error.h"
#include "base/file.h"
#include "squareleaf.h"

/* Bytes of a shot's file; twice what the largest medium-format cameras write. */
static const size_t FILE_MOST = (size_t)1 << 30;

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');

    return slash != NULL ? slash + 1 : path;
}

sl_format sl_format_of_name(const char *path)
{
    static const struct { const char *ending; sl_format format; } endings[] = {
        { "jpg", SL_FORMAT_JPEG }, { "jpeg", SL_FORMAT_JPEG }, { "png", SL_FORMAT_PNG },
        { "tif", SL_FORMAT_TIFF }, { "tiff", SL_FORMAT_TIFF }, { "heic", SL_FORMAT_HEIF },
        { "heif", SL_FORMAT_HEIF }, { "hif", SL_FORMAT_HEIF }, { "avif", SL_FORMAT_HEIF },
    };
    const char *dot = strrchr(base_name(path), '.');

    for (size_t i = 0; dot != NULL && i < sizeof endings / sizeof *endings; i++)
        if (strcasecmp(dot + 1, endings[i].ending) == 0)
            return endings[i].format;
    return SL_FORMAT_UNKNOWN;
}

bool sl_name_is_raw(const char *path)
{
    static const char *const endings[] = { "dng", "cr2", "cr3", "crw", "nef", "nrw", "arw", "srf",
                                           "sr2", "orf", "rw2", "raf", "pef", "srw", "3fr", "iiq",
                                           "x3f", "rwl" };
    const char *dot = strrchr(base_name(path), '.');

    for (size_t i = 0; dot != NULL && i < sizeof endings / sizeof *endings; i++)
        if (strcasecmp(dot + 1, endings[i]) == 0)
            return true;
    return false;
}

/* Standard input to its end. */
static sl_status read_stream(void **data, size_t *size, FILE *file, sl_error *err)
{
    unsigned char *bytes = NULL;
    size_t room = 0;
    size_t done = 0;

    for (;;) {
        size_t n;

        if (done == room) {
            unsigned char *grown = NULL;

            room = room == 0 ? (size_t)1 << 20 : 2 * room;
            if (room <= 2 * FILE_MOST)
                grown = realloc(bytes, room);
            if (grown == NULL) {
                free(bytes);
                return sl_fail(err, SL_ERR_LIMIT, "file", "standard input has more than %zu bytes",
                               done);
            }
            bytes = grown;
        }
        errno = 0;
        n = fread(bytes + done, 1, room - done, file);
        if (n == 0)
            break;
        done += n;
    }
    if (ferror(file)) {
        free(bytes);
        return sl_fail_errno(err, errno != 0 ? errno : EIO, "file", "standard input");
    }
    *data = bytes;
    *size = done;
    return SL_OK;
}

sl_status sl_page_load(sl_page **out, const char *path, const sl_settings *settings,
                       const sl_optics *optics, sl_error *err)
{
    const bool piped = strcmp(path, "-") == 0;
    void *bytes = NULL;
    size_t size = 0;
    sl_status st;

    st = piped ? read_stream(&bytes, &size, stdin, err)
               : sl_file_read(&bytes, &size, path, FILE_MOST, err);
    if (st == SL_OK && size == 0)
        st = sl_fail(err, SL_ERR_FORMAT, "file", "the file is empty: copy it again from the "
                                                 "camera or card");
    if (st == SL_OK)
        st = sl_page_find(out, bytes, size, piped ? "standard input" : base_name(path), settings,
                          optics, err);
    free(bytes);
    return st;
}

static sl_status copy_out(FILE *from, FILE *to, sl_error *err)
{
    unsigned char buffer[65536];
    size_t n;

    rewind(from);
    errno = 0;
    while ((n = fread(buffer, 1, sizeof buffer, from)) > 0)
        if (fwrite(buffer, 1, n, to) != n)
            break;
    if (ferror(from) || ferror(to) || fflush(to) != 0)
        return sl_fail_errno(err, errno != 0 ? errno : EIO, "file", "standard output");
    return SL_OK;
}

/* A pipe cannot be sought in, and formats want that: through a file without a name. */
static sl_status save_to_stdout(sl_page *page, sl_format format, sl_context *context,
                                const volatile int *stop, sl_error *err)
{
    FILE *file = tmpfile();
    sl_target target = { file, format, true, 0 };
    sl_status st;

    if (file == NULL)
        return sl_fail_errno(err, errno, "file", "a temporary file");
    st = sl_page_write(page, &target, 1, context, stop, err);
    if (st == SL_OK)
        st = copy_out(file, stdout, err);
    (void)fclose(file);
    return st;
}

sl_status sl_save_open(sl_part *part, const char *path, const char *shot_path, bool force,
                       sl_error *err)
{
    sl_file_id shot;
    const bool has_shot = shot_path != NULL && sl_file_identify(&shot, shot_path);

    return sl_part_open_named(part, path, force, has_shot ? &shot : NULL, has_shot ? 1 : 0, err);
}

sl_status sl_page_save(sl_page *page, const char *path, const char *shot_path, sl_format format,
                       bool force, sl_context *context, const volatile int *stop, sl_error *err)
{
    sl_part part;
    sl_target target;
    sl_status st;

    if (strcmp(path, "-") == 0)
        return save_to_stdout(page, format, context, stop, err);
    st = sl_save_open(&part, path, shot_path, force, err);
    if (st != SL_OK)
        return st;
    target = (sl_target){ part.file, format, true, 0 };
    st = sl_page_write(page, &target, 1, context, stop, err);
    if (st == SL_OK)
        return sl_part_commit(&part, err);
    sl_part_abort(&part);
    return st;
}
