/* Files: shots read whole and left alone, pages that appear whole or not at all. */
#include "support/near.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "base/error.h"
#include "base/file.h"
#include "base/text.h"

enum { PATH_ROOM = 256 };

/* ---- a folder of its own for each test ------------------------------------------------------- */

static int make_folder(void **state)
{
    const char *tmp = getenv("TMPDIR");
    char *dir = malloc(PATH_ROOM);

    if (dir == NULL)
        return -1;
    snprintf(dir, PATH_ROOM, "%s/squareleaf-file-XXXXXX", tmp != NULL ? tmp : "/tmp");
    *state = dir;
    return mkdtemp(dir) != NULL ? 0 : -1;
}

static int remove_folder(void **state)
{
    char command[PATH_ROOM + 16];

    snprintf(command, sizeof command, "rm -rf '%s'", (char *)*state);
    free(*state);
    return system(command);
}

static const char *in(char path[PATH_ROOM], void **state, const char *name)
{
    snprintf(path, PATH_ROOM, "%s/%s", (const char *)*state, name);
    return path;
}

static void put(const char *path, const char *text)
{
    FILE *file = fopen(path, "wb");

    assert_non_null(file);
    assert_int_equal(fputs(text, file) >= 0, 1);
    assert_int_equal(fclose(file), 0);
}

static void assert_holds(const char *path, const char *text)
{
    void *data = NULL;
    size_t size = 0;
    sl_error err = { SL_OK, NULL, "" };

    if (sl_file_read(&data, &size, path, 1000, &err) != SL_OK)
        fail_msg("%s: %s", path, err.detail);
    if (size != strlen(text) || memcmp(data, text, size) != 0)
        fail_msg("%s: holds %zu bytes, not '%s'", path, size, text);
    free(data);
}

static void assert_absent(const char *path)
{
    struct stat st;

    if (lstat(path, &st) == 0)
        fail_msg("%s is there", path);
}

/* ---- reading --------------------------------------------------------------------------------- */

static void a_file_is_read_whole_and_left_alone(void **state)
{
    char path[PATH_ROOM];
    struct stat before;
    struct stat after;
    void *data = NULL;
    size_t size = 0;
    sl_error err;

    put(in(path, state, "shot"), "twelve bytes");
    assert_int_equal(chmod(path, 0400), 0);
    assert_int_equal(stat(path, &before), 0);
    assert_int_equal(sl_file_read(&data, &size, path, 12, NULL), SL_OK);
    assert_int_equal(size, 12);
    assert_memory_equal(data, "twelve bytes", 12);
    free(data);
    assert_int_equal(stat(path, &after), 0);
    assert_int_equal(before.st_mtime, after.st_mtime);
    assert_int_equal(before.st_mode, after.st_mode);

    data = &err;
    assert_int_equal(sl_file_read(&data, &size, path, 11, &err), SL_ERR_LIMIT);
    assert_non_null(strstr(err.detail, "12"));
    assert_ptr_equal(data, &err); /* outputs are unchanged on failure */

    put(in(path, state, "empty"), "");
    assert_int_equal(sl_file_read(&data, &size, path, 11, NULL), SL_OK);
    assert_null(data);
    assert_int_equal(size, 0);
}

/* A hang is a failure too: the alarm ends the program. */
static void what_is_no_file_is_refused_at_once_and_by_name(void **state)
{
    static const struct { const char *name; const char *says; sl_status want; } cases[] = {
        { "folder", "a folder", SL_ERR_FORMAT },
        { "fifo", "a named pipe", SL_ERR_FORMAT },
        { "nowhere", "a link to a file that is not there", SL_ERR_IO },
        { "loop", "loop", SL_ERR_IO },
        { "absent", "No such file", SL_ERR_IO },
        { "socket", "socket", SL_ERR_IO },
        { "null", "a device", SL_ERR_FORMAT },
    };
    struct sockaddr_un address = { .sun_family = AF_UNIX };
    char path[PATH_ROOM];
    const int fd = socket(AF_UNIX, SOCK_STREAM, 0);

    assert_int_equal(mkdir(in(path, state, "folder"), 0700), 0);
    assert_int_equal(mkfifo(in(path, state, "fifo"), 0600), 0);
    assert_int_equal(symlink("absent", in(path, state, "nowhere")), 0);
    assert_int_equal(symlink("loop", in(path, state, "loop")), 0);
    assert_int_equal(symlink("/dev/null", in(path, state, "null")), 0);
    in(path, state, "socket");
    assert_true(strlen(path) < sizeof address.sun_path);
    strcpy(address.sun_path, path);
    assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);

    (void)alarm(20);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        sl_error err = { SL_OK, NULL, "" };
        void *data = NULL;
        size_t size = 0;
        const sl_status st = sl_file_read(&data, &size, in(path, state, cases[i].name), 99, &err);

        if (st != cases[i].want || strstr(err.detail, cases[i].says) == NULL
            || strstr(err.detail, path) == NULL)
            fail_msg("%s: status %d, '%s'", cases[i].name, (int)st, err.detail);
    }
    (void)alarm(0);
    close(fd);
}

static void a_link_to_a_file_is_that_file(void **state)
{
    char path[PATH_ROOM];
    sl_file_id a;
    sl_file_id b;

    put(in(path, state, "shot"), "bytes");
    assert_true(sl_file_identify(&a, path));
    assert_int_equal(symlink("shot", in(path, state, "link")), 0);
    assert_holds(path, "bytes");
    assert_true(sl_file_identify(&b, path));
    assert_true(a.device == b.device && a.inode == b.inode);
    assert_false(sl_file_identify(&b, in(path, state, "absent")));
}

/* ---- writing --------------------------------------------------------------------------------- */

static void a_page_appears_whole_or_not_at_all(void **state)
{
    char path[PATH_ROOM];
    char beside[PATH_ROOM];
    sl_part part;

    in(path, state, "page.tif");
    in(beside, state, "page.tif.part");
    assert_int_equal(sl_part_open(&part, path, NULL, 0, NULL), SL_OK);
    assert_true(fputs("a page", part.file) >= 0);
    assert_absent(path);     /* nothing under its name before the commit */
    assert_int_equal(access(beside, F_OK), 0);
    assert_int_equal(sl_part_commit(&part, NULL), SL_OK);
    assert_null(part.file);
    assert_holds(path, "a page");
    assert_absent(beside);

    assert_int_equal(sl_part_open(&part, path, NULL, 0, NULL), SL_OK);
    assert_true(fputs("half a n", part.file) >= 0);
    sl_part_abort(&part);
    assert_holds(path, "a page");
    assert_absent(beside);
    sl_part_abort(&part);    /* an empty one is accepted */

    assert_int_equal(sl_part_open(&part, path, NULL, 0, NULL), SL_OK);
    assert_true(fputs("new", part.file) >= 0);
    assert_int_equal(sl_part_commit(&part, NULL), SL_OK);
    assert_holds(path, "new");
}

/* The modes are those of the user's umask, as with any other program. */
static void a_page_has_the_modes_that_the_user_asks_for(void **state)
{
    char path[PATH_ROOM];
    const mode_t old = umask(027);
    struct stat st;
    sl_part part;

    assert_int_equal(sl_part_open(&part, in(path, state, "page"), NULL, 0, NULL), SL_OK);
    assert_int_equal(sl_part_commit(&part, NULL), SL_OK);
    (void)umask(old);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 0777, 0640);
}

/* The leftover of a killed run gives way; another name of the same file keeps its bytes. */
static void a_leftover_is_unlinked_and_never_written_into(void **state)
{
    char path[PATH_ROOM];
    char other[PATH_ROOM];
    char beside[PATH_ROOM];
    sl_part part;

    in(path, state, "page");
    in(beside, state, "page.part");
    put(in(other, state, "shot"), "a shot");

    assert_int_equal(link(other, beside), 0);
    assert_int_equal(sl_part_open(&part, path, NULL, 0, NULL), SL_OK);
    assert_true(fputs("page", part.file) >= 0);
    assert_int_equal(sl_part_commit(&part, NULL), SL_OK);
    assert_holds(other, "a shot");
    assert_holds(path, "page");

    assert_int_equal(symlink("shot", beside), 0);
    assert_int_equal(sl_part_open(&part, path, NULL, 0, NULL), SL_OK);
    assert_true(fputs("again", part.file) >= 0);
    sl_part_abort(&part);
    assert_holds(other, "a shot");
    assert_absent(beside);
}

static void a_kept_file_is_replaced_under_no_name(void **state)
{
    static const char *const names[] = { "shot", "hard", "soft", "page" };
    char path[PATH_ROOM];
    char shot[PATH_ROOM];
    sl_file_id keep[2] = { { 0, 0 }, { 0, 0 } };

    put(in(shot, state, "shot"), "a shot");
    assert_int_equal(link(shot, in(path, state, "hard")), 0);
    assert_int_equal(symlink("shot", in(path, state, "soft")), 0);
    assert_int_equal(link(shot, in(path, state, "page.part")), 0);
    assert_true(sl_file_identify(&keep[1], shot));
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        sl_error err = { SL_OK, NULL, "" };
        sl_part part;

        if (sl_part_open(&part, in(path, state, names[i]), keep, 2, &err) != SL_ERR_EXISTS)
            fail_msg("%s may be written", names[i]);
        assert_non_null(strstr(err.detail, path));
        assert_null(part.file);
        assert_holds(shot, "a shot");
    }
    assert_holds(in(path, state, "page.part"), "a shot");
}

static void a_place_that_cannot_be_written_is_named(void **state)
{
    char path[PATH_ROOM];
    sl_error err;
    sl_part part;

    assert_int_equal(sl_part_open(&part, in(path, state, "no/page"), NULL, 0, &err), SL_ERR_IO);
    assert_non_null(strstr(err.detail, "no/page"));
    assert_null(part.file);

    assert_int_equal(mkdir(in(path, state, "page"), 0700), 0);
    assert_int_equal(sl_part_open(&part, path, NULL, 0, &err), SL_ERR_IO);
    assert_non_null(strstr(err.detail, "directory"));
    assert_absent(in(path, state, "page.part"));

    assert_int_equal(mkdir(in(path, state, "page2.part"), 0700), 0);
    assert_int_not_equal(sl_part_open(&part, in(path, state, "page2"), NULL, 0, &err), SL_OK);
    assert_non_null(strstr(err.detail, "page2.part"));
}

/* Root may write anywhere, so root becomes somebody else for a moment. */
static void a_folder_that_may_not_be_written_is_a_matter_of_permission(void **state)
{
    enum { NOBODY = 65534 };
    const bool root = geteuid() == 0;
    char path[PATH_ROOM];
    sl_error err = { SL_OK, NULL, "" };
    sl_part part;
    sl_status st;

    assert_int_equal(mkdir(in(path, state, "closed"), 0555), 0);
    assert_int_equal(chmod((const char *)*state, 0755), 0);
    in(path, state, "closed/page");
    if (root)
        assert_int_equal(seteuid(NOBODY), 0);
    st = sl_part_open(&part, path, NULL, 0, &err);
    if (root)
        assert_int_equal(seteuid(0), 0);
    if (st != SL_ERR_PERMISSION || strstr(err.detail, path) == NULL)
        fail_msg("status %d, '%s'", (int)st, err.detail);
}

/* A file size limit stands for a full disk: write() fails after some bytes have gone well. */
static void a_full_disk_leaves_what_was_there(void **state)
{
    char path[PATH_ROOM];
    char beside[PATH_ROOM];
    struct rlimit old;
    struct rlimit small;
    sl_error err = { SL_OK, NULL, "" };
    sl_part part;
    sl_status st;

    put(in(path, state, "page"), "the old page");
    in(beside, state, "page.part");
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &old), 0);
    small = (struct rlimit){ 4096, old.rlim_max };
    (void)signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(sl_part_open(&part, path, NULL, 0, NULL), SL_OK);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    for (size_t i = 0; i < 4000; i++)
        (void)fputs("page", part.file);
    st = sl_part_commit(&part, &err);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &old), 0);
    (void)signal(SIGXFSZ, SIG_DFL);
    if (st != SL_ERR_SPACE && st != SL_ERR_IO)
        fail_msg("status %d, '%s'", (int)st, err.detail);
    assert_non_null(strstr(err.detail, path));
    assert_holds(path, "the old page");
    assert_absent(beside);
    assert_null(part.file);
}

static void a_path_that_leads_out_is_seen(void **state)
{
    static const char *const stay[] = { "a", "masters/page.tif", "a..b", "..a/b", "a/...", "./a" };
    static const char *const leave[] = { "", "/", "/a", "..", "../a", "a/..", "a/../b", "a//../.." };

    (void)state;
    for (size_t i = 0; i < sizeof stay / sizeof *stay; i++)
        if (!sl_path_stays(stay[i]))
            fail_msg("'%s' stays", stay[i]);
    for (size_t i = 0; i < sizeof leave / sizeof *leave; i++)
        if (sl_path_stays(leave[i]))
            fail_msg("'%s' leads out", leave[i]);
}

/* What has no room in an error's text goes out of its middle, and never half a letter. */
static void a_long_error_keeps_both_its_ends(void **state)
{
    sl_error err = { SL_OK, NULL, "" };
    char path[1200] = "";

    (void)state;
    for (size_t shift = 0; shift < 3; shift++) {
        memset(path, 'a', shift);
        for (size_t i = shift; i + 3 < sizeof path; i += 2)
            memcpy(path + i, "\xc3\xb6", 3); /* o with two dots, in UTF-8 */
        assert_int_equal(sl_fail(&err, SL_ERR_IO, "file", "%s: what to do", path), SL_ERR_IO);
        assert_true(sl_text_is_utf8(err.detail));
        assert_int_equal(strncmp(err.detail, path, 60), 0);
        assert_non_null(strstr(err.detail, "..."));
        assert_string_equal(err.detail + strlen(err.detail) - 12, ": what to do");
    }
    for (size_t length = sizeof err.detail - 2; length < sizeof err.detail + 2; length++) {
        memset(path, 'b', length);
        path[length] = '\0';
        (void)sl_fail(&err, SL_ERR_IO, "file", "%s", path);
        assert_int_equal(strlen(err.detail), length < sizeof err.detail ? length
                                                                        : sizeof err.detail - 1);
    }
}

#define IN_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)

int main(void)
{
    const struct CMUnitTest tests[] = {
        IN_FOLDER(a_file_is_read_whole_and_left_alone),
        IN_FOLDER(what_is_no_file_is_refused_at_once_and_by_name),
        IN_FOLDER(a_link_to_a_file_is_that_file),
        IN_FOLDER(a_page_appears_whole_or_not_at_all),
        IN_FOLDER(a_page_has_the_modes_that_the_user_asks_for),
        IN_FOLDER(a_leftover_is_unlinked_and_never_written_into),
        IN_FOLDER(a_kept_file_is_replaced_under_no_name),
        IN_FOLDER(a_place_that_cannot_be_written_is_named),
        IN_FOLDER(a_folder_that_may_not_be_written_is_a_matter_of_permission),
        IN_FOLDER(a_full_disk_leaves_what_was_there),
        cmocka_unit_test(a_path_that_leads_out_is_seen),
        cmocka_unit_test(a_long_error_keeps_both_its_ends),
    };

    return cmocka_run_group_tests_name("file", tests, NULL, NULL);
}
