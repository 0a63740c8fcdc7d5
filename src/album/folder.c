#include "album/folder.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "album/naming.h"
#include "album/save.h"
#include "base/error.h"
#include "base/file.h"

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Of m and n characters; 0 for those that differ in case or zeros before a number only. */
static int natural(const char *a, size_t m, const char *b, size_t n)
{
    size_t i = 0;
    size_t k = 0;

    while (i < m && k < n) {
        if (is_digit(a[i]) && is_digit(b[k])) {
            size_t p;
            size_t q;
            int order;

            while (i < m && a[i] == '0')
                i++;
            while (k < n && b[k] == '0')
                k++;
            for (p = i; p < m && is_digit(a[p]); p++)
                ;
            for (q = k; q < n && is_digit(b[q]); q++)
                ;
            if (p - i != q - k)
                return p - i < q - k ? -1 : 1;
            order = memcmp(a + i, b + k, p - i);
            if (order != 0)
                return order;
            i = p;
            k = q;
        } else {
            const int c = tolower((unsigned char)a[i++]);
            const int d = tolower((unsigned char)b[k++]);

            if (c != d)
                return c < d ? -1 : 1;
        }
    }
    return i < m ? 1 : k < n ? -1 : 0;
}

int sl_natural_order(const char *a, const char *b)
{
    const int order = natural(a, strlen(a), b, strlen(b));

    return order != 0 ? order : strcmp(a, b);
}

int sl_shot_order(const char *a, const char *b)
{
    const int order = natural(a, sl_shot_bare(a), b, sl_shot_bare(b));

    return order != 0 ? order : sl_natural_order(a, b);
}

/* Endings of picture files, those too that this build cannot read: such a file is a shot that
   failed, not a stranger. */
static bool has_image_ending(const char *name)
{
    static const char *const more[] = { ".webp", ".bmp", ".gif" };
    const char *dot = strrchr(name, '.');

    if (sl_format_of_name(name) != SL_FORMAT_UNKNOWN || sl_name_is_raw(name))
        return true;
    for (size_t i = 0; dot != NULL && i < sizeof more / sizeof *more; i++) {
        size_t k = 0;

        while (more[i][k] != '\0' && tolower((unsigned char)dot[k]) == more[i][k])
            k++;
        if (more[i][k] == '\0' && dot[k] == '\0')
            return true;
    }
    return false;
}

static bool has_image_signature(const char *path)
{
    unsigned char head[16];
    const int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
    ssize_t n;

    if (fd < 0)
        return false;
    n = read(fd, head, sizeof head);
    (void)close(fd);
    return n > 0 && sl_format_sniff(head, (size_t)n) != SL_FORMAT_UNKNOWN;
}

static void classify(sl_entry *e)
{
    if (stat(e->path, &e->stat) != 0) {
        /* a link to nowhere that is named like a picture is a shot that failed: it was meant to
           be there */
        e->is_shot = has_image_ending(e->name);
        e->why_not = errno == ENOENT ? "a link to nowhere" : "cannot be looked at";
        memset(&e->stat, 0, sizeof e->stat);
    } else if (S_ISDIR(e->stat.st_mode)) {
        e->why_not = "a folder";
    } else if (!S_ISREG(e->stat.st_mode)) {
        e->why_not = S_ISFIFO(e->stat.st_mode) ? "a named pipe" : "no regular file";
    } else {
        e->is_shot = has_image_ending(e->name) || has_image_signature(e->path);
        e->why_not = "no picture";
    }
    /* hidden files are a file manager's or a camera's own */
    if (e->name[0] == '.') {
        e->is_shot = false;
        e->why_not = "a hidden file";
    }
}

static int by_name(const void *a, const void *b)
{
    const sl_entry *p = a;
    const sl_entry *q = b;

    if (p->is_shot != q->is_shot)
        return p->is_shot ? -1 : 1;
    return sl_shot_order(p->name, q->name);
}

static bool append(sl_folder *folder, size_t *room, const char *path, const char *name)
{
    sl_entry *e;

    if (folder->count == *room) {
        const size_t grown = *room == 0 ? 64 : 2 * *room;
        sl_entry *more = realloc(folder->entry, grown * sizeof *more);

        if (more == NULL)
            return false;
        folder->entry = more;
        *room = grown;
    }
    e = &folder->entry[folder->count];
    memset(e, 0, sizeof *e);
    e->name = strdup(name);
    e->path = sl_path_join(path, name);
    if (e->name == NULL || e->path == NULL) {
        free(e->name);
        free(e->path);
        return false;
    }
    folder->count++;
    classify(e);
    folder->shots += e->is_shot;
    return true;
}

static bool same_stem(const char *a, const char *b)
{
    const size_t length = sl_shot_bare(a);

    return length == sl_shot_bare(b) && memcmp(a, b, length) == 0;
}

/* Cameras that write a raw file and a JPEG of each shot: one page, of the one that can be read. The
   entries are in order, so that files of one name lie side by side. */
static void leave_raw_twins(sl_folder *folder)
{
    const size_t shots = folder->shots;

    for (size_t i = 0; i < shots; i++) {
        sl_entry *e = &folder->entry[i];
        bool twin = false;

        if (!sl_name_is_raw(e->name))
            continue;
        for (size_t k = i; !twin && k-- > 0 && same_stem(e->name, folder->entry[k].name);)
            twin = !sl_name_is_raw(folder->entry[k].name);
        for (size_t k = i + 1; !twin && k < shots && same_stem(e->name, folder->entry[k].name); k++)
            twin = !sl_name_is_raw(folder->entry[k].name);
        if (twin) {
            e->is_shot = false;
            e->why_not = "a raw file beside a picture of the same name, which is taken";
            folder->shots--;
        }
    }
    if (folder->shots < shots)
        qsort(folder->entry, folder->count, sizeof *folder->entry, by_name);
}

sl_status sl_folder_list(sl_folder *out, const char *path, sl_error *err)
{
    sl_folder folder = { NULL, 0, 0 };
    DIR *dir = opendir(path);
    size_t room = 0;
    sl_status st = SL_OK;

    if (dir == NULL)
        return sl_fail_errno(err, errno, "album", path);
    for (;;) {
        const struct dirent *d;

        errno = 0;
        d = readdir(dir);
        if (d == NULL)
            break;
        if (strcmp(d->d_name, ".") == 0 || strcmp(d->d_name, "..") == 0)
            continue;
        if (!append(&folder, &room, path, d->d_name)) {
            st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
            break;
        }
    }
    if (st == SL_OK && errno != 0)
        st = sl_fail_errno(err, errno, "album", path);
    (void)closedir(dir);
    if (st != SL_OK) {
        sl_folder_clear(&folder);
        return st;
    }
    if (folder.count > 0)
        qsort(folder.entry, folder.count, sizeof *folder.entry, by_name);
    leave_raw_twins(&folder);
    *out = folder;
    return SL_OK;
}

sl_status sl_album_shots(size_t *count, const char *shots_dir, sl_error *err)
{
    sl_folder folder = { NULL, 0, 0 };
    const sl_status st = sl_folder_list(&folder, shots_dir, err);

    *count = folder.shots;
    sl_folder_clear(&folder);
    return st;
}

void sl_folder_keep(sl_folder *folder, bool (*ready)(void *ctx, const char *name), void *ctx)
{
    size_t kept = 0;

    for (size_t i = 0; i < folder->count; i++) {
        sl_entry *e = &folder->entry[i];

        if (ready(ctx, e->name)) {
            folder->entry[kept++] = *e;
            continue;
        }
        folder->shots -= e->is_shot;
        free(e->name);
        free(e->path);
    }
    folder->count = kept;
}

void sl_folder_clear(sl_folder *folder)
{
    for (size_t i = 0; i < folder->count; i++) {
        free(folder->entry[i].name);
        free(folder->entry[i].path);
    }
    free(folder->entry);
    *folder = (sl_folder){ NULL, 0, 0 };
}
