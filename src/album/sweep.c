#include "album/sweep.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const char suffix[] = ".part";

/* Of a page by its usual name, or by one that the journal knows. */
static bool is_page_part(const sl_run *run, const char *name)
{
    const size_t length = strlen(name);
    const size_t bare = strcspn(name, ".");
    char page[SL_PAGE_NAME];

    if (length < sizeof suffix || bare >= sizeof page
        || strcmp(name + length - (sizeof suffix - 1), suffix) != 0)
        return false;
    memcpy(page, name, bare);
    page[bare] = '\0';
    return strncmp(name, "page-", 5) == 0 || json_object_get(run->journal->by_page, page) != NULL;
}

static void remove_part(const sl_run *run, const char *folder, const char *name)
{
    char *path = sl_path_join(folder, name);
    struct stat st;
    bool keep = path == NULL || lstat(path, &st) != 0 || !S_ISREG(st.st_mode);

    for (size_t i = 0; !keep && i < run->shot_count; i++)
        keep = run->shot_id[i].device == st.st_dev && run->shot_id[i].inode == st.st_ino;
    if (!keep)
        (void)unlink(path);
    free(path);
}

static void sweep_pages(const sl_run *run, const char *folder)
{
    DIR *dir = opendir(folder);
    const struct dirent *d;

    if (dir == NULL)
        return;              /* no such folder: no such pages */
    while ((d = readdir(dir)) != NULL)
        if (is_page_part(run, d->d_name))
            remove_part(run, folder, d->d_name);
    (void)closedir(dir);
}

void sl_sweep(const sl_run *run)
{
    static const char *const folders[] = { "masters", "access", "unfinished", "review" };
    static const char *const files[] = { "report.json.part", "report.csv.part",
                                         "review.html.part", "corrections.json.part",
                                         "optics.json.part" };

    for (size_t i = 0; i < sizeof folders / sizeof *folders; i++) {
        char *path = sl_path_join(run->out_dir, folders[i]);

        if (path != NULL)
            sweep_pages(run, path);
        free(path);
    }
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        remove_part(run, run->out_dir, files[i]);
}
