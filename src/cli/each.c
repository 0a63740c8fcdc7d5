/* Many albums: a folder of folders of shots. */
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cli/album.h"

static char *join(const char *folder, const char *name)
{
    const size_t room = strlen(folder) + strlen(name) + 2;
    char *path = malloc(room);

    if (path != NULL)
        (void)snprintf(path, room, "%s/%s", folder, name);
    return path;
}

/* ---- the folders ----------------------------------------------------------------------------- */

typedef struct folders {
    char **name;
    size_t count;
} folders;

static void clear_folders(folders *f)
{
    for (size_t i = 0; i < f->count; i++)
        free(f->name[i]);
    free(f->name);
    *f = (folders){ NULL, 0 };
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static bool is_folder(const char *path)
{
    struct stat st;

    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

static bool add_folder(folders *f, const char *name)
{
    char **more = realloc(f->name, (f->count + 1) * sizeof *more);

    if (more == NULL)
        return false;
    f->name = more;
    f->name[f->count] = strdup(name);
    return f->name[f->count] != NULL && ++f->count > 0;
}

/* The folders in a folder, links to folders too, by name. False, with errno, on an error. */
static bool list_folders(folders *out, const char *path)
{
    DIR *dir = opendir(path);
    const struct dirent *d;
    bool ok = true;

    *out = (folders){ NULL, 0 };
    if (dir == NULL)
        return false;
    for (errno = 0; ok && (d = readdir(dir)) != NULL; errno = 0) {
        char *inner;

        if (strcmp(d->d_name, ".") == 0 || strcmp(d->d_name, "..") == 0)
            continue;
        inner = join(path, d->d_name);
        ok = inner != NULL && (!is_folder(inner) || add_folder(out, d->d_name));
        free(inner);
    }
    ok = ok && errno == 0;
    (void)closedir(dir);
    if (out->count > 0)
        qsort(out->name, out->count, sizeof *out->name, by_name);
    return ok;
}

static bool same_folder(const char *a, const char *b)
{
    struct stat p;
    struct stat q;

    return stat(a, &p) == 0 && stat(b, &q) == 0 && p.st_dev == q.st_dev && p.st_ino == q.st_ino;
}

/* Why no album is made of a folder; NULL when one is. */
static const char *why_not(const char *name, const char *path, const char *out_dir)
{
    char *memory;
    bool ours;
    size_t shots;
    sl_error err = { SL_OK, NULL, "" };

    if (name[0] == '.')
        return "a hidden folder";
    if (same_folder(path, out_dir))
        return "where the albums go";
    memory = join(path, ".squareleaf");
    ours = memory != NULL && is_folder(memory);
    free(memory);
    if (ours)
        return "an album's pages";
    /* one that cannot be read is an album that failed: its run says so */
    if (sl_album_shots(&shots, path, &err) == SL_OK && shots == 0)
        return "no pictures in it";
    return NULL;
}

/* ---- the commands ---------------------------------------------------------------------------- */

/* As one word of the shell: POSIX, Shell Command Language, 2.2.2. */
static void print_quoted(const char *text)
{
    static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./";

    if (*text != '\0' && text[strspn(text, plain)] == '\0') {
        (void)fputs(text, stderr);
        return;
    }
    (void)fputc('\'', stderr);
    for (; *text != '\0'; text++)
        if (*text == '\'')
            (void)fputs("'\\''", stderr);
        else
            (void)fputc(*text, stderr);
    (void)fputc('\'', stderr);
}

/* A path of our own making may begin with a dash, which no command shall take for an option. */
static void print_path(const char *folder, const char *name)
{
    char *path = join(folder, name);

    if (path == NULL)
        return;
    if (path[0] == '-')
        (void)fputs("./", stderr);
    print_quoted(path);
    free(path);
}

/* A name with control characters is no command to be copied from a terminal. */
static bool printable(const char *name)
{
    for (const unsigned char *p = (const unsigned char *)name; *p != '\0'; p++)
        if (*p < 0x20 || *p == 0x7f)
            return false;
    return true;
}

/* What comes before the commands: the albums' folder is made first. */
static void tell_first(const char *out_dir)
{
    (void)fputs("Its folders hold some; an album for each of them:\n", stderr);
    if (is_folder(out_dir))
        return;
    (void)fputs("  mkdir ", stderr);
    if (out_dir[0] == '-')
        (void)fputs("./", stderr);
    print_quoted(out_dir);
    (void)fputc('\n', stderr);
}

void tell_folders(const arguments *args)
{
    folders f;
    bool begun = false;

    if (!list_folders(&f, args->operand[0])) {
        clear_folders(&f);
        return;
    }
    for (size_t i = 0; i < f.count; i++) {
        char *path = join(args->operand[0], f.name[i]);

        if (path != NULL && printable(f.name[i])
            && why_not(f.name[i], path, args->operand[1]) == NULL) {
            if (!begun)
                tell_first(args->operand[1]);
            begun = true;
            (void)fputs("  squareleaf album ", stderr);
            print_path(args->operand[0], f.name[i]);
            (void)fputc(' ', stderr);
            print_path(args->operand[1], f.name[i]);
            (void)fputc('\n', stderr);
        }
        free(path);
    }
    if (begun)
        (void)fputs("or all of them with the same options, one after the other: "
                    "squareleaf album --each\n", stderr);
    clear_folders(&f);
}

/* ---- one after the other --------------------------------------------------------------------- */

static int run_folder(const arguments *args, const char *name, const char *shots, const char *out)
{
    arguments one = *args;
    teller told = { .args = &one, .album = name };
    sl_album_params params;
    sl_album album;
    int status;

    one.operand[0] = shots;
    one.operand[1] = out;
    recall_settings(&one);
    if (!judge_album(&one))
        return EXIT_USAGE;
    params = params_of(&one);
    status = run_one(&album, &told, &params);
    sl_album_clear(&album);
    return status;
}

static bool make_out_dir(const arguments *args)
{
    const char *path = args->operand[1];

    if (args->dry_run || is_folder(path) || mkdir(path, 0777) == 0)
        return true;
    (void)fprintf(stderr, "squareleaf: %s: the folder for the albums cannot be made: %s\n", path,
                  strerror(errno));
    return false;
}

int run_each(const arguments *args)
{
    folders f;
    size_t albums = 0;
    int worst = EXIT_PASS;

    if (!list_folders(&f, args->operand[0])) {
        if (errno == ENOENT)
            (void)fprintf(stderr, "squareleaf: there is no folder %s\n", SHOWN(args->operand[0]));
        else
            (void)fprintf(stderr, "squareleaf: %s: %s\n", SHOWN(args->operand[0]), strerror(errno));
        clear_folders(&f);
        return EXIT_NO_INPUT;
    }
    if (same_folder(args->operand[0], args->operand[1])) {
        (void)fprintf(stderr, "squareleaf: %s holds the shots: albums need a folder of their own\n",
                      args->operand[1]);
        clear_folders(&f);
        return EXIT_USAGE;
    }
    for (size_t i = 0; i < f.count && stop_signal == 0; i++) {
        char *shots = join(args->operand[0], f.name[i]);
        char *out = join(args->operand[1], f.name[i]);
        const char *why = shots != NULL ? why_not(f.name[i], shots, args->operand[1]) : NULL;
        int status = EXIT_PASS;

        if (shots == NULL || out == NULL) {
            status = EXIT_OURS;
        } else if (why != NULL) {
            if (!args->quiet)
                (void)fprintf(stderr, "squareleaf: %s: skipped: %s\n", SHOWN(f.name[i]), why);
        } else if (albums++ == 0 && !make_out_dir(args)) {
            status = EXIT_CANNOT_CREATE;
            f.count = i;     /* the others have no place either */
        } else {
            status = run_folder(args, f.name[i], shots, out);
        }
        worst = status > worst ? status : worst;
        free(out);
        free(shots);
    }
    clear_folders(&f);
    if (albums == 0) {
        (void)fprintf(stderr, "squareleaf: %s has no folder with shots in it; without --each its "
                      "own shots are an album\n", args->operand[0]);
        return EXIT_NO_INPUT;
    }
    return worst;
}
