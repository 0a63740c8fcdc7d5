/*
 * The run over a folder: what is there, what still stands, the rest in parallel, the report.
 */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include "album/aside.h"
#include "album/chain.h"
#include "album/correct.h"
#include "album/flight.h"
#include "album/match.h"
#include "album/names.h"
#include "album/notes.h"
#include "album/naming.h"
#include "album/optics.h"
#include "album/order.h"
#include "album/report.h"
#include "album/result.h"
#include "album/shares.h"
#include "album/sweep.h"
#include "album/why.h"
#include "album/words.h"
#include "album/work.h"
#include "base/error.h"
#include "base/file.h"
#include "base/sha256.h"

typedef struct state {
    sl_run                 run;
    sl_album_optics        optics;
    char                   key[SL_SHA256_HEX];
    sl_work               *work;
    size_t                *due;      /* indices of works, in order */
    size_t                 due_count;
    size_t                 total;     /* works that become pages */
    size_t                 mine;      /* those that this share makes; of a whole run all */
    size_t                 works;     /* all; the last ones are left out */
    const sl_album_events *events;
    pthread_mutex_t        mutex;     /* journal */
} state;

/* ---- setting up ------------------------------------------------------------------------------ */

static sl_status make_folder(const char *path, sl_error *err)
{
    struct stat st;

    if (mkdir(path, 0777) == 0)
        return SL_OK;
    if (errno != EEXIST)
        return errno == ENOENT || errno == ENOTDIR
                   ? sl_fail(err, SL_ERR_EXISTS, "album",
                             "%s cannot be made: the folder above it is not there", path)
                   : sl_fail_errno(err, errno, "album", path);
    if (stat(path, &st) != 0 || !S_ISDIR(st.st_mode))
        return sl_fail(err, SL_ERR_EXISTS, "album", "%s is there and is no folder", path);
    return SL_OK;
}

static const char *const page_folders[] = { "masters", "access", "unfinished", "review" };

static sl_status make_folders(const char *out_dir, const sl_settings *s, sl_error *err)
{
    const bool wanted[] = { s->master != SL_FORMAT_UNKNOWN, s->access != SL_FORMAT_UNKNOWN, true,
                            true };

    for (size_t i = 0; i < sizeof page_folders / sizeof *page_folders; i++) {
        char *path = sl_path_join(out_dir, page_folders[i]);
        sl_status st = SL_OK;

        if (path == NULL)
            return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
        if (wanted[i])
            st = make_folder(path, err);
        free(path);
        if (st != SL_OK)
            return st;
    }
    return SL_OK;
}

static sl_status check_folders(const char *shots_dir, const char *out_dir, sl_error *err)
{
    struct stat shots;
    struct stat out;

    if (stat(shots_dir, &shots) != 0)
        return errno == ENOENT
                   ? sl_fail(err, SL_ERR_NO_SHOTS, "album", "there is no folder %s", shots_dir)
                   : sl_fail_errno(err, errno, "album", shots_dir);
    if (!S_ISDIR(shots.st_mode))
        return sl_fail(err, SL_ERR_ARG, "album",
                       "%s is no folder; for one shot there is `squareleaf page`", shots_dir);
    if (stat(out_dir, &out) == 0 && out.st_dev == shots.st_dev && out.st_ino == shots.st_ino)
        return sl_fail(err, SL_ERR_ARG, "album",
                       "%s holds the shots: pages need a folder of their own", out_dir);
    for (size_t i = 0; i < sizeof page_folders / sizeof *page_folders; i++) {
        char *path = sl_path_join(out_dir, page_folders[i]);
        const bool same = path != NULL && stat(path, &out) == 0 && out.st_dev == shots.st_dev
                          && out.st_ino == shots.st_ino;

        free(path);
        if (same)
            return sl_fail(err, SL_ERR_ARG, "album",
                           "%s is where the pages of %s are: they are no shots", shots_dir,
                           out_dir);
    }
    return SL_OK;
}

static sl_status say_no_shots(const char *shots_dir, sl_error *err)
{
    char *memory = sl_path_join(shots_dir, ".squareleaf");
    const bool pages = memory != NULL && access(memory, F_OK) == 0;

    free(memory);
    if (pages)
        return sl_fail(err, SL_ERR_ARG, "album",
                       "%s holds an album's pages, and no shots: the folder of shots is named "
                       "first, the folder for the pages behind it",
                       shots_dir);
    return sl_fail(err, SL_ERR_NO_SHOTS, "album",
                   "%s holds no pictures (JPEG, PNG, TIFF or HEIC files)", shots_dir);
}

static sl_status check_share(const sl_album_params *params, sl_error *err)
{
    if (params->shares == 0)
        return SL_OK;
    if (params->share < 1 || params->share > params->shares || params->shares > SL_SHARES_MOST)
        return sl_fail(err, SL_ERR_ARG, "album", "--share %u/%u: 1/1 to %d/%d", params->share,
                       params->shares, SL_SHARES_MOST, SL_SHARES_MOST);
    if (params->renumber || params->dry_run || params->recalibrate)
        return sl_fail(err, SL_ERR_ARG, "album",
                       "--share does not go with --%s: do that with all pages",
                       params->renumber ? "renumber" : params->dry_run ? "dry-run"
                                                                       : "recalibrate");
    return SL_OK;
}

/* A report that is there without our journal is somebody else's. */
static sl_status check_report(const char *out_dir, const sl_album_params *params, sl_error *err)
{
    char *report = sl_path_join(out_dir, "report.json");
    char *journal = sl_path_join(out_dir, ".squareleaf/journal");
    sl_status st = SL_OK;

    if (report == NULL || journal == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    else if (!params->force && access(report, F_OK) == 0 && access(journal, F_OK) != 0)
        st = sl_fail(err, SL_ERR_EXISTS, "album",
                     "%s has a report.json, but no .squareleaf that tells which files are this "
                     "program's: put that folder back, or choose another for the pages; --force "
                     "replaces what is there",
                     out_dir);
    free(journal);
    free(report);
    return st;
}

/* Makes OUT_DIR what it must be and takes its lock; a dry run only reads what is there. */
static sl_status open_out_dir(sl_journal *journal, const char *out_dir,
                              const sl_album_params *params, sl_pool *pool, sl_error *err)
{
    sl_status st;

    if (params->dry_run) {
        st = check_report(out_dir, params, err);
        return st == SL_OK ? sl_journal_read(journal, out_dir, err) : st;
    }
    st = make_folder(out_dir, err);
    if (st == SL_OK)
        st = check_report(out_dir, params, err);
    if (st == SL_OK)
        st = sl_journal_open(journal, out_dir, (sl_share){ params->share, params->shares }, pool,
                             err);
    if (st == SL_OK)
        st = make_folders(out_dir, &params->settings, err);
    return st;
}

/* The pattern of the pages' names: a new one, with the album's name in it, or that of before. */
static sl_status choose_pattern(char **out, const sl_run *run, sl_error *err)
{
    const char *before = json_string_value(run->journal->name);
    const char *slash = strrchr(run->shots_dir, '/');
    sl_status st;

    if (run->params->name[0] == '\0') {
        *out = strdup(before != NULL ? before : SL_NAME_PATTERN);
    } else {
        st = sl_name_check(run->params->name, err);
        if (st != SL_OK)
            return st;
        *out = sl_name_of_album(run->params->name,
                                slash != NULL ? slash + 1 : run->shots_dir);
    }
    return *out != NULL ? SL_OK : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
}

/* SHA-256 of everything beside the shot that the page's bytes and verdict depend on. */
static sl_status key_of(char hex[SL_SHA256_HEX], const sl_album_params *params,
                        const sl_optics *optics, const sl_place *place, sl_error *err)
{
    json_t *all = json_pack("{s:o, s:o}", "settings", sl_report_settings(&params->settings),
                            "optics", optics != NULL ? sl_report_optics(optics) : json_null());
    char *text;

    if (place != NULL)
        json_object_set_new(all, "place", sl_place_write(place));
    text = all != NULL ? sl_report_text(all, 0) : NULL;
    json_decref(all);
    if (text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    sl_sha256(hex, text, strlen(text));
    free(text);
    return SL_OK;
}

/* Puts the shots in order; what is doubtful of pages and leaves in *doubt. */
static sl_status order_shots(const state *s, sl_folder *folder, char *doubt, size_t room,
                             sl_error *err)
{
    const sl_album_params *params = s->run.params;

    if (params->order == SL_ORDER_RECTOS_VERSOS)
        (void)sl_order_doubt(doubt, room, folder, params->order);
    if (params->order == SL_ORDER_TIME)
        sl_order_dates(folder, s->run.context->pool);
    return sl_order_shots(folder, params->order, params->versos_reversed, err);
}

/* The order matters when names are given: then, and only then, doubts about it are told. */
static void say_doubt(const state *s, sl_folder *folder, char *doubt, size_t room)
{
    bool fresh = s->run.params->renumber;

    for (size_t i = 0; i < s->total; i++)
        fresh = fresh || s->work[i].line == NULL;
    if (!fresh || s->events == NULL || s->events->note == NULL)
        return;
    if (s->run.params->order == SL_ORDER_NAME) {
        sl_order_dates(folder, s->run.context->pool);
        (void)sl_order_doubt(doubt, room, folder, SL_ORDER_NAME);
    }
    if (*doubt != '\0')
        s->events->note(s->events->ctx, doubt);
}

/* The shots as works: which page each was or becomes. */
static sl_status make_works(state *s, const sl_folder *folder, sl_error *err)
{
    sl_status st;

    s->work = calloc(folder->shots + 1, sizeof *s->work);
    s->due = calloc(folder->shots + 1, sizeof *s->due);
    s->total = s->works = folder->shots;
    if (s->work == NULL || s->due == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    for (size_t i = 0; i < folder->shots; i++) {
        sl_work *w = &s->work[i];
        json_t *name = sl_report_name(folder->entry[i].name);

        w->entry = &folder->entry[i];
        w->shot = name != NULL ? strdup(json_string_value(name)) : NULL;
        json_decref(name);
        if (w->shot == NULL)
            return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
        w->memory = sl_flight_bytes((size_t)w->entry->stat.st_size);
    }
    st = sl_match_works(s->work, s->total, &s->run, err);
    if (st == SL_OK)
        st = sl_correct_works(s->work, &s->total, &s->run, err);
    if (st == SL_OK && s->run.params->renumber)
        st = sl_names_renew(s->work, s->total, &s->run, err);
    else if (st == SL_OK)
        st = sl_names_give(s->work, s->total, &s->run, err);
    return st;
}

/* With the key known: what stands, and what is to do. */
static void plan_works(state *s, const sl_folder *folder)
{
    for (size_t i = 0; i < s->total; i++) {
        /* an outline that was sought with other settings is of no use */
        if (s->work[i].correction == NULL)
            s->work[i].outline = sl_album_optics_outline(&s->optics, (size_t)(s->work[i].entry
                                                                              - folder->entry));
        s->work[i].elsewhere = !sl_share_has(s->run.params, i);
        if (s->work[i].elsewhere)
            continue;
        s->mine++;
        s->work[i].keep = sl_work_stands(&s->work[i], &s->run);
        s->work[i].done = s->work[i].keep;
        if (!s->work[i].keep)
            s->due[s->due_count++] = i;
    }
}

static const char *const order_names[] = { "name", "time", "rectos-versos" };

/* Notes the settings for later runs, unless the journal ends with the same. */
static sl_status remember(sl_run *run, sl_error *err)
{
    const sl_settings *settings = &run->params->settings;
    json_t *line = json_pack("{s:o, s:s, s:b, s:I, s:s}", "settings",
                             sl_report_settings(settings), "order",
                             order_names[run->params->order], "versos_reversed",
                             run->params->versos_reversed, "expect",
                             (json_int_t)run->params->expect, "key", run->key);
    char *now;
    char *before = NULL;
    bool same;

    if (line == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (!(settings->min_ppi > 0)) /* it follows --ppi, also a later one */
        json_object_set_new(json_object_get(line, "settings"), "min_ppi", json_null());
    now = sl_report_text(line, 0);
    if (run->journal->settings != NULL)
        before = sl_report_text(run->journal->settings, 0);
    same = now != NULL && before != NULL && strcmp(now, before) == 0;
    free(before);
    free(now);
    if (!same)
        return sl_journal_add(run->journal, line, err);
    json_decref(line);
    return SL_OK;
}

bool sl_album_remembered(sl_album_params *params, const char *out_dir)
{
    json_t *line = sl_journal_settings(out_dir);
    const char *order = json_string_value(json_object_get(line, "order"));
    const json_int_t expect = json_integer_value(json_object_get(line, "expect"));

    if (line == NULL)
        return false;
    sl_report_read_settings(&params->settings, json_object_get(line, "settings"));
    for (int k = 0; order != NULL && k <= SL_ORDER_RECTOS_VERSOS; k++)
        if (strcmp(order, order_names[k]) == 0)
            params->order = (sl_order)k;
    params->versos_reversed = json_is_true(json_object_get(line, "versos_reversed"));
    if (expect > 0)
        params->expect = (size_t)expect;
    json_decref(line);
    return true;
}

/* ---- disk space ------------------------------------------------------------------------------ */

/*
 * Bytes that the pages to do may take. Of a photograph Deflate with predictor keeps about 70 %,
 * JPEG at quality 95, 4:4:4 about 30 % (common practice, on the safe side). Without a page size
 * a page is about as large as its shot: 12 times its file.
 */
static double space_needed(const state *s)
{
    const sl_settings *set = &s->run.params->settings;
    const double samples = 3 * set->page_mm[0] * set->page_mm[1] * set->ppi * set->ppi / 645.16;
    double sum = 0;

    for (size_t i = 0; i < s->due_count; i++) {
        const sl_entry *e = s->work[s->due[i]].entry;
        const double page = samples > 0 ? samples : 12 * (double)e->stat.st_size;

        if (set->master != SL_FORMAT_UNKNOWN)
            sum += page * (set->bits == 16 ? 2 : 1)
                   * (set->master == SL_FORMAT_TIFF && set->compression == SL_NO_COMPRESSION ? 1
                                                                                             : 0.7);
        if (set->access != SL_FORMAT_UNKNOWN)
            sum += 0.3 * page;
    }
    return sum;
}

static double space_free(const char *out_dir)
{
    struct statvfs fs;

    return statvfs(out_dir, &fs) == 0 ? (double)fs.f_bavail * (double)fs.f_frsize : -1;
}

/* ---- the pages ------------------------------------------------------------------------------- */

/* Pages that the whole album put in another light. */
static void say_what_changed(const state *s, const sl_album *out)
{
    for (size_t i = 0; i < out->count; i++)
        if (out->item[i].again && s->events != NULL && s->events->item != NULL)
            s->events->item(s->events->ctx, &out->item[i], s->due_count, s->due_count);
}

static sl_status do_pages(state *s, const char *out_dir, sl_error *err)
{
    if (s->events != NULL && s->events->begin != NULL)
        s->events->begin(s->events->ctx, s->mine, s->due_count, space_needed(s),
                         space_free(out_dir));
    return sl_flight_pages(&(sl_flight){ .run = &s->run, .work = s->work, .total = s->total,
                                         .due = s->due, .due_count = s->due_count,
                                         .events = s->events },
                           err);
}

/* A review.html of somebody else's is no reason to fail: the pages are there. */
static sl_status write_review(const state *s, const sl_album *out, sl_error *err)
{
    sl_error why = { SL_OK, NULL, "" };
    const sl_status st = sl_result_review(out, s->run.shots_dir, &s->run, &why);

    if (st == SL_ERR_EXISTS) {
        if (s->events != NULL && s->events->note != NULL)
            s->events->note(s->events->ctx, why.detail);
        return SL_OK;
    }
    if (st != SL_OK && err != NULL)
        *err = why;
    return st;
}

/* What the pages' run would do, in place of it. */
static void tell_plan(const state *s)
{
    char why[SL_WHY];

    if (s->events != NULL && s->events->begin != NULL)
        s->events->begin(s->events->ctx, s->total, s->due_count, space_needed(s),
                         space_free(s->run.out_dir));
    for (size_t i = 0; s->events != NULL && s->events->plan != NULL && i < s->total; i++)
        s->events->plan(s->events->ctx, s->work[i].page, s->work[i].shot,
                        sl_why(why, &s->work[i], &s->run) ? why : NULL);
}

/* ---- the run --------------------------------------------------------------------------------- */

/* Of shares that begin at once the first solves them, the others find them. */
static sl_status get_optics(state *s, const sl_folder *folder, const char *out_dir, sl_error *err)
{
    const int alone = s->run.params->shares > 0 ? sl_journal_alone(out_dir) : -1;
    const sl_status st = sl_album_optics_get(&s->optics, folder, s->run.params, out_dir,
                                             s->run.context, s->run.stop, err);

    if (alone >= 0)
        (void)close(alone);
    return st;
}

static sl_status keep_corrections(const sl_run *run, sl_error *err)
{
    const int alone = run->params->shares > 0 ? sl_journal_alone(run->out_dir) : -1;
    const sl_status st = sl_correct_keep(run, err);

    if (alone >= 0)
        (void)close(alone);
    return st;
}

static sl_status run_folder(state *s, sl_folder *folder, sl_album *out, const char *out_dir,
                            sl_error *err)
{
    sl_file_id *ids = calloc(folder->shots + 1, sizeof *ids);
    sl_status st = SL_OK;
    sl_status report;
    size_t said = 0;         /* refusals that were told of */
    char doubt[400] = "";

    if (ids == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    for (size_t i = 0; i < folder->shots; i++)
        ids[i] = (sl_file_id){ folder->entry[i].stat.st_dev, folder->entry[i].stat.st_ino };
    s->run.shot_id = ids;
    s->run.shot_count = folder->shots;
    if (!s->run.params->dry_run && s->run.params->shares == 0)
        sl_sweep(&s->run);   /* what a share left half made it makes anew, or gathering sweeps it */
    st = order_shots(s, folder, doubt, sizeof doubt, err);
    if (st == SL_OK)
        st = make_works(s, folder, err);
    if (st != SL_OK) {
        free(ids);
        return st;
    }
    if (s->run.params->dry_run)
        st = sl_album_optics_known(&s->optics, s->run.params, out_dir, err);
    else
        st = get_optics(s, folder, out_dir, err);
    s->run.optics = s->optics.used ? &s->optics.optics : NULL;
    s->run.optics_note = s->optics.note;
    s->run.place = s->optics.place.known ? &s->optics.place : NULL;
    if (st == SL_OK)
        st = key_of(s->key, s->run.params, s->run.optics, s->run.place, err);
    if (st == SL_OK)
        st = sl_correct_keys(s->work, s->total, &s->run, err);
    if (st == SL_OK)
        st = remember(&s->run, err);
    if (st == SL_OK) {
        say_doubt(s, folder, doubt, sizeof doubt);
        plan_works(s, folder);
        sl_notes_say(s->work, s->total, &s->run, s->events);
        sl_notes_corrections(s->work, s->total, s->works, &s->run, s->events);
        sl_words_notes(s->work, s->total, &s->run, s->events);
        said = s->run.corrections->refusals;
    }
    if (st == SL_OK && s->run.params->dry_run) {
        tell_plan(s);
    } else if (st == SL_OK) {
        st = do_pages(s, out_dir, err);
        /* the report tells of what was done, also after a full disk or Ctrl-C */
        report = s->run.params->shares > 0
                     ? SL_OK
                     : sl_aside_reports(&s->run, s->events, st == SL_OK ? err : NULL);
        if (report == SL_OK)
            report = sl_result_write(out, s->work, s->total, s->works, folder, &s->run,
                                     st == SL_OK ? err : NULL);
        say_what_changed(s, out);
        sl_notes_refusals(said, &s->run, s->events);
        st = st == SL_OK ? report : st;
        if (st == SL_OK && s->run.params->shares == 0)
            st = write_review(s, out, err);
    }
    free(ids);
    return st;
}

static void clear_works(state *s)
{
    for (size_t i = 0; s->work != NULL && i < s->works; i++) {
        json_decref(s->work[i].line);
        free(s->work[i].shot);
    }
    free(s->work);
    free(s->due);
}

sl_status sl_album_run(sl_album *out, const char *shots_dir, const char *out_dir,
                       const sl_album_params *params, const sl_album_events *events,
                       const volatile int *stop, sl_error *err)
{
    sl_folder folder = { NULL, 0, 0 };
    sl_journal journal = SL_JOURNAL_NONE;
    sl_corrections corrections = { .path = NULL };
    sl_captions captions = { .path = NULL };
    char *real = NULL;
    char *pattern = NULL;
    state s = { .events = events };
    sl_status st;

    *out = (sl_album){ 0 };
    (void)pthread_mutex_init(&s.mutex, NULL);
    s.run = (sl_run){ .out_dir = out_dir, .params = params, .key = s.key, .stop = stop,
                      .journal = &journal, .mutex = &s.mutex, .corrections = &corrections,
                      .captions = &captions, .items_json = events != NULL && events->json };

    st = check_share(params, err);
    if (st == SL_OK)
        st = check_folders(shots_dir, out_dir, err);
    if (st == SL_OK)
        st = sl_match_place(&real, shots_dir, err);
    s.run.shots_dir = real;
    if (st == SL_OK)
        st = sl_folder_list(&folder, shots_dir, err);
    if (st == SL_OK && params->ready != NULL)
        sl_folder_keep(&folder, params->ready, params->ready_ctx);
    if (st == SL_OK && folder.shots == 0)
        st = say_no_shots(shots_dir, err);
    if (st == SL_OK)
        st = sl_corrections_read(&corrections, params->corrections, shots_dir, out_dir, err);
    if (st == SL_OK)
        st = sl_captions_read(&captions, params->captions, shots_dir, out_dir, err);
    if (st == SL_OK)
        st = sl_context_new(&s.run.context, params->jobs, err);
    if (st == SL_OK)
        st = open_out_dir(&journal, out_dir, params, s.run.context->pool, err);
    if (st == SL_OK)
        st = choose_pattern(&pattern, &s.run, err);
    s.run.pattern = pattern;
    if (st == SL_OK && !params->dry_run)
        st = keep_corrections(&s.run, err);
    if (st == SL_OK)
        st = run_folder(&s, &folder, out, out_dir, err);

    clear_works(&s);
    sl_captions_clear(&captions);
    sl_corrections_clear(&corrections);
    sl_album_optics_clear(&s.optics);
    sl_context_free(s.run.context);
    if (journal.by_page != NULL)
        sl_journal_close(&journal);
    sl_folder_clear(&folder);
    free(pattern);
    free(real);
    (void)pthread_mutex_destroy(&s.mutex);
    return st;
}
