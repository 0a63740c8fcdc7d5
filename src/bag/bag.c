/*
 * A bag of what OUT_DIR holds and of the shots. Made beside its place under BAG_DIR.part, and given
 * its name when every byte is on disk: a bag that is there is whole.
 *
 *   data/masters/ access/ ...   OUT_DIR as it is, but for .squareleaf (journal and lock)
 *   data/shots/                 the shots; data/shots-2/ ... when they came from several folders
 */
#define _XOPEN_SOURCE 700 /* realpath() is of POSIX.1-2008's XSI part */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

#include "bag/carry.h"
#include "bag/gather.h"
#include "bag/manifest.h"
#include "bag/tree.h"
#include "base/error.h"
#include "base/file.h"
#include "base/text.h"

typedef struct packer {
    const sl_record      *record;
    const sl_bag_params  *params;
    const sl_keep_events *events;
    char                 *part;   /* BAG_DIR.part */
    sl_gathered           all;
    sl_carrier            carrier;
    FILE                 *lines;  /* further lines of bag-info.txt ... */
    char                 *text;   /* ... in memory */
    size_t                text_size;
    size_t                troubles;
} packer;

static void find(packer *p, sl_finding finding, const char *path, const char *why)
{
    p->troubles++;
    if (p->events != NULL && p->events->finding != NULL)
        p->events->finding(p->events->ctx, finding, path, why);
}

/* ---- may it be made? ------------------------------------------------------------------------- */

/* Is a folder OUT_DIR, or in it? */
static bool is_within(const char *folder, const char *out_dir)
{
    char *inner = realpath(folder, NULL);
    char *outer = realpath(out_dir, NULL);
    const size_t n = outer != NULL ? strlen(outer) : 0;
    const bool within = inner != NULL && outer != NULL && strncmp(inner, outer, n) == 0
                        && (inner[n] == '/' || inner[n] == '\0');

    free(inner);
    free(outer);
    return within;
}

static sl_status judge_place(const packer *p, const char *bag_dir, sl_error *err)
{
    const char *slash = strrchr(bag_dir, '/');
    char *above = slash == NULL      ? strdup(".")
                  : slash == bag_dir ? strdup("/")
                                     : strndup(bag_dir, (size_t)(slash - bag_dir));
    struct stat there;
    struct statvfs disk;
    sl_status st = SL_OK;

    if (above == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    if (lstat(bag_dir, &there) == 0)
        st = sl_fail(err, SL_ERR_EXISTS, "bag", "%s exists: a bag is a new folder, give another "
                                                "name", bag_dir);
    else if (stat(above, &there) != 0 || !S_ISDIR(there.st_mode))
        st = sl_fail(err, SL_ERR_EXISTS, "bag",
                     "%s cannot be made: the folder above it is not there", bag_dir);
    else if (is_within(above, p->record->out_dir))
        st = sl_fail(err, SL_ERR_EXISTS, "bag", "%s lies in the album's own folder: give a place "
                                                "outside of it", bag_dir);
    else if (lstat(p->part, &there) == 0)
        st = sl_fail(err, SL_ERR_EXISTS, "bag",
                     "%s is there, half a bag of a run that was stopped: remove it first", p->part);
    else if (statvfs(above, &disk) == 0
             && (double)disk.f_bavail * (double)disk.f_frsize < p->carrier.total)
        st = sl_fail(err, SL_ERR_SPACE, "bag", "the bag takes %.1f GB, and %.1f GB are free there",
                     p->carrier.total / 1e9, (double)disk.f_bavail * (double)disk.f_frsize / 1e9);
    free(above);
    return st;
}

static sl_status judge_whole(packer *p, sl_error *err)
{
    for (size_t i = 0; i < p->all.lost_count; i++) {
        const sl_lost_shot *lost = &p->all.lost[i];

        find(p, SL_FOUND_UNSEEN, lost->name, lost->why);
        (void)fprintf(p->lines, "Missing-Shot: %s (%s)\n", lost->name, lost->page);
    }
    for (size_t i = 0; i < p->record->pages; i++)
        if (p->record->page[i].gap != SL_GAP_NONE)
            (void)fprintf(p->lines, "Missing-Page: %s (%s)\n", p->record->page[i].page,
                          p->record->page[i].shot);
    if (p->params->incomplete || (p->all.lost_count == 0 && p->record->gaps == 0))
        return SL_OK;
    if (p->record->gaps > 0)
        return sl_fail(err, SL_ERR_INCOMPLETE, "bag", "%zu of %zu pages are missing",
                       p->record->gaps, p->record->pages);
    return sl_fail(err, SL_ERR_INCOMPLETE, "bag",
                   "%zu of the shots %s not %s: say where with --shots DIR, leave "
                   "shots out with --without-shots, or go on without these with --incomplete",
                   p->all.lost_count, p->all.lost_count == 1 ? "is" : "are",
                   p->params->shots_dir != NULL ? "there"
                   : p->all.lost_count == 1     ? "where it was"
                                                : "where they were");
}

/* ---- the payload ----------------------------------------------------------------------------- */

/* Makes the folders above part/path. */
static sl_status make_folders(const packer *p, const char *path, sl_error *err)
{
    char *whole = sl_path_join(p->part, path);
    sl_status st = SL_OK;

    if (whole == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    for (char *slash = strchr(whole + strlen(p->part) + 1, '/'); slash != NULL && st == SL_OK;
         slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        if (mkdir(whole, 0777) != 0 && errno != EEXIST)
            st = sl_fail_errno(err, errno, "bag", whole);
        *slash = '/';
    }
    free(whole);
    return st;
}

/* Its bytes are not those that the record has. */
static sl_status judge_sum(packer *p, sl_gathered_file *file, const char *copy, sl_error *err)
{
    char *shown = sl_text_shown(file->path + strlen("data/"));
    sl_status st = SL_OK;

    if (shown == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    find(p, SL_FOUND_CHANGED, shown, file->is_shot ? "not the shot that its page was made of"
                                                   : "not as it was made");
    if (!p->params->incomplete)
        st = sl_fail(err, SL_ERR_INCOMPLETE, "bag",
                     "%s was changed since: run album again, or --incomplete", shown);
    else if (file->is_shot) {
        (void)fprintf(p->lines, "Missing-Shot: %s (another file has its name)\n", shown);
        (void)unlink(copy);
        file->left_out = true;
    } else {
        (void)fprintf(p->lines, "Changed-File: %s (not as it was made)\n", shown);
    }
    free(shown);
    return st;
}

static sl_status copy_payload(packer *p, sl_bag *told, sl_error *err)
{
    sl_status st = SL_OK;

    for (size_t i = 0; i < p->all.count && st == SL_OK; i++) {
        sl_gathered_file *file = &p->all.file[i];
        char *to = sl_path_join(p->part, file->path);

        st = to != NULL ? make_folders(p, file->path, err)
                        : sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
        if (st == SL_OK)
            st = sl_carry(&p->carrier, &file->carried, file->from, to, err);
        if (st == SL_OK && file->sha256 != NULL
            && strcmp(file->sha256, file->carried.sha256) != 0)
            st = judge_sum(p, file, to, err);
        free(to);
        if (st != SL_OK || file->left_out)
            continue;
        told->files++;
        told->shots += file->is_shot;
        told->bytes += (double)file->carried.size;
    }
    return st;
}

/* ---- the tag files --------------------------------------------------------------------------- */

/* A tag file in the making, in memory: a stream onto the disk would not keep why it failed. */
typedef struct tag {
    FILE  *file;
    char  *text;
    size_t size;
} tag;

static sl_status begin_tag(tag *t, sl_error *err)
{
    *t = (tag){ NULL, NULL, 0 };
    t->file = open_memstream(&t->text, &t->size);
    return t->file != NULL ? SL_OK : sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
}

/* Onto the disk, all of it; the number of what went wrong, or 0. */
static int save_tag(const char *path, const char *text, size_t size)
{
    FILE *file = fopen(path, "wbx");
    int why = 0;

    if (file == NULL)
        return errno;
    errno = 0;
    if (fwrite(text, 1, size, file) != size || fflush(file) != 0
        || (fsync(fileno(file)) != 0 && errno != EINVAL))
        why = errno != 0 ? errno : EIO;
    if (fclose(file) != 0 && why == 0)
        why = errno != 0 ? errno : EIO;
    return why;
}

static sl_status end_tag(tag *t, const packer *p, const char *name, sl_error *err)
{
    const bool whole = ferror(t->file) == 0;
    char *path = sl_path_join(p->part, name);
    int why = fclose(t->file) == 0 && whole && path != NULL ? 0 : ENOMEM;

    if (why == 0)
        why = save_tag(path, t->text, t->size);
    free(path);
    free(t->text);
    return why == 0 ? SL_OK : sl_fail_errno(err, why, "bag", name);
}

static sl_status put_declaration(const packer *p, sl_error *err)
{
    tag t;
    const sl_status st = begin_tag(&t, err);

    if (st != SL_OK)
        return st;
    (void)fputs("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", t.file);
    return end_tag(&t, p, "bagit.txt", err);
}

/* Today; SOURCE_DATE_EPOCH makes a bag again with the same bytes. */
static void today(char out[11])
{
    const char *epoch = getenv("SOURCE_DATE_EPOCH");
    const time_t now = epoch != NULL ? (time_t)strtoll(epoch, NULL, 10) : time(NULL);
    struct tm tm;

    if ((epoch != NULL ? gmtime_r(&now, &tm) : localtime_r(&now, &tm)) == NULL
        || strftime(out, 11, "%Y-%m-%d", &tm) == 0)
        (void)snprintf(out, 11, "1970-01-01");
}

static sl_status put_info(packer *p, const sl_bag *told, sl_error *err)
{
    char date[11];
    tag t;
    const sl_status st = begin_tag(&t, err);

    if (st != SL_OK)
        return st;
    today(date);
    (void)fflush(p->lines);
    (void)fprintf(t.file, "External-Description: Pages of an album, %s the shots that they were "
                          "made of\n", told->shots > 0 ? "with" : "without");
    (void)fprintf(t.file, "Bagging-Date: %s\n", date);
    (void)fprintf(t.file, "Bag-Software-Agent: squareleaf %s\n", SL_VERSION);
    (void)fprintf(t.file, "Payload-Oxum: %.0f.%zu\n", told->bytes, told->files);
    (void)fwrite(p->text, 1, p->text_size, t.file);
    return end_tag(&t, p, "bag-info.txt", err);
}

static sl_status put_manifest(const packer *p, int sum, sl_error *err)
{
    char name[40];
    tag t;
    const sl_status st = begin_tag(&t, err);

    if (st != SL_OK)
        return st;
    (void)snprintf(name, sizeof name, "manifest-%s.txt", sl_sum_name[sum]);
    for (size_t i = 0; i < p->all.count; i++) {
        const sl_gathered_file *f = &p->all.file[i];

        if (!f->left_out)
            sl_manifest_put(t.file, sum == SL_SUM_256 ? f->carried.sha256 : f->carried.sha512,
                            f->path);
    }
    return end_tag(&t, p, name, err);
}

/* Both: every tag file but the tag manifests. */
static sl_status put_tag_manifests(packer *p, sl_error *err)
{
    static const char *const tags[] = { "bag-info.txt", "bagit.txt", "manifest-sha256.txt",
                                        "manifest-sha512.txt" };
    sl_carried sums[4];
    sl_status st = SL_OK;

    for (size_t i = 0; i < 4 && st == SL_OK; i++) {
        char *path = sl_path_join(p->part, tags[i]);

        st = path != NULL ? sl_carry(&p->carrier, &sums[i], path, NULL, err)
                          : sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
        free(path);
    }
    for (int sum = 0; sum < SL_SUMS && st == SL_OK; sum++) {
        char name[40];
        tag t;

        st = begin_tag(&t, err);
        if (st != SL_OK)
            return st;
        (void)snprintf(name, sizeof name, "tagmanifest-%s.txt", sl_sum_name[sum]);
        for (size_t i = 0; i < 4; i++)
            sl_manifest_put(t.file, sum == SL_SUM_256 ? sums[i].sha256 : sums[i].sha512, tags[i]);
        st = end_tag(&t, p, name, err);
    }
    return st;
}

/* ---- the bag --------------------------------------------------------------------------------- */

static sl_status fill(packer *p, sl_bag *told, sl_error *err)
{
    sl_status st = SL_OK;
    char *data = sl_path_join(p->part, "data");

    /* data/ is there also when nothing is in it (2.1.2) */
    if (data == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    else if (mkdir(data, 0777) != 0)
        st = sl_fail_errno(err, errno, "bag", data);
    free(data);
    if (st == SL_OK)
        st = copy_payload(p, told, err);
    if (st == SL_OK)
        st = put_declaration(p, err);
    if (st == SL_OK)
        st = put_info(p, told, err);
    for (int sum = 0; sum < SL_SUMS && st == SL_OK; sum++)
        st = put_manifest(p, sum, err);
    return st == SL_OK ? put_tag_manifests(p, err) : st;
}

/* Makes the folder, fills it and gives it its name; on failure nothing is left. */
static sl_status make(packer *p, sl_bag *told, const char *bag_dir, sl_error *err)
{
    sl_status st;

    if (mkdir(p->part, 0777) != 0)
        return sl_fail_errno(err, errno, "bag", p->part);
    st = fill(p, told, err);
    if (st == SL_OK && rename(p->part, bag_dir) != 0)
        st = sl_fail_errno(err, errno, "bag", bag_dir);
    if (st == SL_OK)
        sl_flush_folder_of(bag_dir);
    else
        sl_tree_remove(p->part);
    return st;
}

static char *part_of(const char *bag_dir)
{
    const size_t n = strlen(bag_dir) + sizeof ".part";
    char *part = malloc(n);

    if (part != NULL)
        (void)snprintf(part, n, "%s.part", bag_dir);
    return part;
}

static char *without_slashes(const char *path)
{
    size_t n = strlen(path);

    while (n > 1 && path[n - 1] == '/')
        n--;
    return strndup(path, n);
}

sl_status sl_bag_write(sl_bag *out, const sl_record *record, const char *bag_dir,
                       const sl_bag_params *params, const sl_keep_events *events,
                       const volatile int *stop, sl_error *err)
{
    char *place = without_slashes(bag_dir);
    packer p = { .record = record, .params = params, .events = events };
    sl_bag told = { .gaps = record->gaps };
    sl_error here = { SL_OK, NULL, "" };
    sl_status st = SL_OK;

    p.part = place != NULL ? part_of(place) : NULL;
    p.lines = open_memstream(&p.text, &p.text_size);
    if (p.part == NULL || p.lines == NULL)
        st = sl_fail(&here, SL_ERR_NOMEM, "bag", "out of memory");
    if (st == SL_OK)
        st = sl_gather(&p.all, record, params, events, &here);
    if (st == SL_OK)
        st = sl_carrier_new(&p.carrier, p.all.bytes, events, stop, &here);
    if (st == SL_OK)
        st = judge_place(&p, place, &here);
    if (st == SL_OK)
        st = judge_whole(&p, &here);
    if (st == SL_OK)
        st = make(&p, &told, place, &here);
    sl_carrier_clear(&p.carrier);
    sl_gathered_clear(&p.all);
    if (p.lines != NULL)
        (void)fclose(p.lines);
    free(p.text);
    free(p.part);
    free(place);
    if (st == SL_OK)
        *out = told;
    else if (err != NULL)
        *err = here;
    return st;
}
