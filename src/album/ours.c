#include "album/ours.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "album/report.h"
#include "base/error.h"
#include "base/file.h"

/* SHA-256 of a file. */
static sl_status hash_of(char hex[SL_SHA256_HEX], const char *path, sl_error *err)
{
    FILE *file = fopen(path, "rb");
    sl_status st;

    if (file == NULL)
        return sl_fail_errno(err, errno, "album", path);
    st = sl_sha256_file(hex, file, path, err);
    (void)fclose(file);
    return st;
}

/* Copies the sum that was noted, if it is still that file's. */
static bool is_as_noted(char hex[SL_SHA256_HEX], const json_t *report, const char *path)
{
    const json_t *mtime = json_object_get(report, "mtime");
    const char *sha256 = sl_json_text(report, "sha256");
    struct stat st;

    if (!json_is_integer(mtime) || strlen(sha256) != SL_SHA256_HEX - 1 || stat(path, &st) != 0
        || json_integer_value(mtime) != sl_work_time(&st)
        || json_integer_value(json_object_get(report, "size")) != (json_int_t)st.st_size)
        return false;
    memcpy(hex, sha256, SL_SHA256_HEX);
    return true;
}

sl_status sl_ours_sum(char hex[SL_SHA256_HEX], const sl_run *run, const char *rest,
                      const char *path)
{
    bool known = false;

    if (!run->params->rehash) {
        (void)pthread_mutex_lock(run->mutex);
        known = is_as_noted(hex, sl_journal_report(run->journal, rest), path);
        (void)pthread_mutex_unlock(run->mutex);
    }
    return known ? SL_OK : hash_of(hex, path, NULL);
}

json_t *sl_ours_time(FILE *file)
{
    struct stat st;

    /* what is written later would change it */
    return fflush(file) == 0 && fstat(fileno(file), &st) == 0 ? json_integer(sl_work_time(&st))
                                                              : json_null();
}

bool sl_ours_made(const sl_run *run, const char *rest, const char *path)
{
    char sha256[SL_SHA256_HEX];
    bool made;

    if (sl_ours_sum(sha256, run, rest, path) != SL_OK)
        return false;
    (void)pthread_mutex_lock(run->mutex);
    made = sl_journal_made(run->journal, rest, sha256);
    (void)pthread_mutex_unlock(run->mutex);
    return made;
}

/* May the path be written? A refusal is the page's failure, not the run's. */
static sl_status permit(const sl_ours_file *f, const sl_run *run, sl_error *err)
{
    sl_file_id there;

    if (!sl_file_identify(&there, f->path))
        return SL_OK;
    for (size_t i = 0; i < run->shot_count; i++)
        if (run->shot_id[i].device == there.device && run->shot_id[i].inode == there.inode)
            return sl_fail(err, SL_ERR_EXISTS, "album",
                           "%s is one of the shots: a shot is never written", f->rest);
    if (!run->params->force && !sl_ours_made(run, f->rest, f->path))
        return sl_fail(err, SL_ERR_EXISTS, "album",
                       "%s is there and was not made by this program, or was changed since: move "
                       "it away, or run with --force",
                       f->rest);
    return SL_OK;
}

sl_status sl_ours_open(sl_ours_file *file, const char *rest, const sl_run *run, sl_error *err)
{
    sl_ours_file f = { strdup(rest), sl_path_join(run->out_dir, rest),
                       { NULL, NULL, NULL }, NULL };
    sl_status st = SL_OK;

    if (f.rest == NULL || f.path == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (st == SL_OK)
        st = permit(&f, run, err);
    if (st == SL_OK)
        st = sl_part_open(&f.part, f.path, run->shot_id, run->shot_count, err);
    if (st != SL_OK) {
        sl_ours_close(&f);
        return st;
    }
    *file = f;
    return SL_OK;
}

static sl_status describe(json_t *list, const sl_ours_file *f, sl_error *err)
{
    FILE *file = f->part.file;
    char sha256[SL_SHA256_HEX];
    json_t *entry;
    long size;
    sl_status st;

    if (fseek(file, 0, SEEK_END) != 0 || (size = ftell(file)) < 0)
        return sl_fail_errno(err, errno, "album", f->rest);
    rewind(file);
    st = sl_sha256_file(sha256, file, f->rest, err);
    if (st != SL_OK)
        return st;
    entry = json_pack("{s:s, s:s, s:I}", "path", f->rest, "sha256", sha256, "size",
                      (json_int_t)size);
    if (f->of != NULL) {
        json_object_set_new(entry, "of", json_string(f->of));
        json_object_set_new(entry, "mtime", sl_ours_time(file));
    }
    return json_array_append_new(list, entry) == 0
               ? SL_OK
               : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
}

/* Journals files as ours before they get their names. */
static sl_status announce(json_t *list, const sl_run *run, sl_error *err)
{
    json_t *line = json_pack("{s:O}", "files", list);
    sl_status st;

    if (line == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    (void)pthread_mutex_lock(run->mutex);
    st = sl_journal_add(run->journal, line, err);
    (void)pthread_mutex_unlock(run->mutex);
    return st;
}

sl_status sl_ours_commit(sl_ours_file *file, size_t count, json_t *told, const sl_run *run,
                         sl_error *err)
{
    json_t *list = json_array();
    sl_status st = list != NULL ? SL_OK : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");

    for (size_t i = 0; i < count && st == SL_OK; i++)
        st = describe(list, &file[i], err);
    if (st == SL_OK && count > 0)
        st = announce(list, run, err);
    for (size_t i = 0; i < count && st == SL_OK; i++)
        st = sl_part_commit(&file[i].part, err);
    if (st == SL_OK && told != NULL)
        (void)json_array_extend(told, list);
    json_decref(list);
    return st;
}

void sl_ours_close(sl_ours_file *file)
{
    sl_part_abort(&file->part);
    free(file->path);
    free(file->rest);
    *file = (sl_ours_file){ NULL, NULL, { NULL, NULL, NULL }, NULL };
}
