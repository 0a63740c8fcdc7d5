#include "album/result.h"

#include <stdlib.h>
#include <string.h>

#include "album/names.h"
#include "album/packed.h"
#include "album/report.h"
#include "album/review.h"
#include "album/said.h"
#include "album/seal.h"
#include "album/shares.h"
#include "album/table.h"
#include "album/together.h"
#include "base/error.h"
#include "base/file.h"
#include "base/sha256.h"

static const json_t *report_of(const json_t *line)
{
    return json_object_get(line, "report");
}

static double figure(const json_t *object, const char *key)
{
    return json_number_value(json_object_get(object, key));
}

/* A page's part of report.json: its journal line as people and programs want it. */
static json_t *page_of(const json_t *line, const sl_corrections *corrections)
{
    static const char *const first[] = { "shot", "sha256", "page", "label", "outcome", "error",
                                         "files", "review", "replacement" };
    json_t *page = json_object();
    const char *key;
    json_t *value;

    for (size_t i = 0; i < sizeof first / sizeof *first; i++)
        if (json_object_get(line, first[i]) != NULL)
            json_object_set(page, first[i], json_object_get(line, first[i]));
    json_object_foreach(json_object_get(line, "report"), key, value)
        json_object_set(page, key, value);
    sl_said_add(page, line, corrections);
    return page;
}

/* Was the shot taken as sRGB for want of a profile? */
static bool untagged(const json_t *report)
{
    const char *profile = json_string_value(json_object_get(report, "colour_profile"));

    return profile != NULL && strstr(profile, "taken as sRGB") != NULL;
}

char *sl_result_json(const json_t *line, const sl_corrections *corrections)
{
    json_t *page = page_of(line, corrections);
    json_t *opened = page != NULL ? sl_packed_open(page) : NULL;
    char *text = opened != NULL ? sl_report_text(opened, 0) : NULL;

    if (text != NULL)
        text[strlen(text) - 1] = '\0';
    json_decref(opened);
    json_decref(page);
    return text;
}

sl_album_item sl_result_item(const sl_work *work, bool fresh)
{
    const json_t *report = report_of(work->line);
    const json_t *native = json_object_get(report, "native_ppi");
    const json_t *written = json_object_get(report, "written");

    return (sl_album_item){ .shot = work->shot,
                            .page = work->page,
                            .label = sl_label_short(work->label),
                            .outcome = sl_line_outcome(work->line),
                            .before = sl_line_outcome(work->line),
                            .word = sl_said_of(work->line, work->correction),
                            .reason = sl_line_gravest(work->line),
                            .replacement = json_string_value(
                                json_object_get(work->line, "replacement")),
                            .fresh = fresh,
                            .has_ppi = json_is_object(native),
                            .native_ppi = figure(native, "p5"),
                            .written_ppi = figure(written, "ppi"),
                            .untagged = untagged(report) };
}

/* ---- files ----------------------------------------------------------------------------------- */

/* optics.json is older than its run, or a person's: the journal knows it as this run used it. */
static sl_status know_optics(const sl_run *run, sl_error *err)
{
    char *path = sl_path_join(run->out_dir, "optics.json");
    FILE *file = path != NULL ? fopen(path, "rb") : NULL;
    char sha256[SL_SHA256_HEX];
    sl_status st = SL_OK;

    free(path);
    if (file == NULL)
        return SL_OK;        /* there need not be one */
    if (sl_sha256_file(sha256, file, "optics.json", NULL) == SL_OK
        && !sl_journal_made(run->journal, "optics.json", sha256))
        st = sl_journal_add(run->journal, json_pack("{s:[{s:s, s:s}]}", "files", "path",
                                                    "optics.json", "sha256", sha256), err);
    (void)fclose(file);
    return st;
}

/*
 * What an album keeps in its `memory`: {"report": as report.json, but without the pages, "lines": of
 * which they are made once somebody asks for them (with nothing to do nobody does), "of": a sum of
 * all that the reports are made of, "kept": strings of its items}. False when out of memory.
 */
static bool sum_up(json_t *memory, const sl_run *run)
{
    /* one more whenever reports tell of the same another way */
    enum { FORM = 1 };
    const sl_corrections *c = run->corrections;
    char said[SL_SHA256_HEX] = "";
    char of[SL_SHA256_HEX];
    json_t *all;

    if (c->path != NULL)
        sl_sha256(said, c->size > 0 ? c->bytes : "", c->size);
    all = json_pack("{s:i, s:O, s:O, s:s}", "form", FORM, "report",
                    json_object_get(memory, "report"), "lines", json_object_get(memory, "lines"),
                    "corrections", said);
    if (all == NULL)
        return false;
    sl_seal_of(of, all);
    json_decref(all);
    return json_object_set_new(memory, "of", json_string(of)) == 0;
}

/* The whole report, lists open as in report.json; NULL when out of memory. Owned by the caller. */
static json_t *whole_report(const json_t *memory, const sl_corrections *corrections)
{
    const json_t *report = json_object_get(memory, "report");
    json_t *whole = json_copy((json_t *)report);
    json_t *pages = json_array();
    size_t i;
    const json_t *line;
    bool done = whole != NULL && pages != NULL;

    json_array_foreach(json_object_get(memory, "lines"), i, line)
        done = json_array_append_new(pages, page_of(line, corrections)) == 0 && done;
    done = json_object_set_new(whole, "pages", sl_packed_open_each(pages)) == 0 && done;
    done = json_object_set_new(whole, "skipped",
                               sl_packed_open_each(json_object_get(report, "skipped"))) == 0
           && done;
    json_decref(pages);
    if (done)
        return whole;
    json_decref(whole);
    return NULL;
}

static sl_status write_json(const json_t *memory, const sl_run *run, sl_error *err)
{
    const char *of = sl_json_text(memory, "of");
    json_t *report;
    char *text;
    sl_status st;

    if (sl_seal_stands(run, "report.json", of))
        return SL_OK;
    report = whole_report(memory, run->corrections);
    text = report != NULL ? sl_report_text(report, 1) : NULL;
    json_decref(report);
    st = text != NULL ? sl_seal_write(run, "report.json", of, text, err)
                      : sl_fail(err, SL_ERR_NOMEM, "report", "out of memory");
    free(text);
    return st;
}

static sl_status write_table(const json_t *memory, const sl_run *run, sl_error *err)
{
    const char *of = sl_json_text(memory, "of");
    char *text;
    sl_status st;

    if (sl_seal_stands(run, "report.csv", of))
        return SL_OK;
    text = sl_table_text(json_object_get(memory, "lines"), run->corrections);
    st = text != NULL ? sl_seal_write(run, "report.csv", of, text, err)
                      : sl_fail(err, SL_ERR_NOMEM, "report", "out of memory");
    free(text);
    return st;
}

sl_status sl_result_review(const sl_album *album, const char *shots_dir, const sl_run *run,
                           sl_error *err)
{
    char of[SL_SHA256_HEX];
    json_t *report;
    sl_status st = sl_review_sum(of, sl_json_text(album->memory, "of"), shots_dir, run, err);

    if (st != SL_OK || sl_seal_stands(run, "review.html", of))
        return st;
    report = whole_report(album->memory, run->corrections);
    st = report != NULL ? sl_review_write(report, of, shots_dir, run, err)
                        : sl_fail(err, SL_ERR_NOMEM, "review", "out of memory");
    json_decref(report);
    return st;
}

/* ---- the whole ------------------------------------------------------------------------------- */

static json_t *skipped_files(const sl_folder *folder)
{
    json_t *list = json_array();

    for (size_t i = folder->shots; i < folder->count; i++)
        if (json_array_append_new(list, json_pack("{s:o, s:s}", "name",
                                                  sl_report_name(folder->entry[i].name), "why",
                                                  folder->entry[i].why_not)) != 0) {
            json_decref(list);
            return NULL;     /* out of memory */
        }
    return list;
}

static int by_page(const void *a, const void *b)
{
    return sl_line_order(*(json_t *const *)a, *(json_t *const *)b);
}

/*
 * All pages of the journal that are done, by name. A page whose shot is gone is told of as long as
 * it has files: they are all that is left. NULL when out of memory.
 */
static json_t *sorted_lines(const sl_work *work, size_t count, const sl_run *run)
{
    json_t **sorted = calloc(json_object_size(run->journal->by_page) + 1, sizeof *sorted);
    json_t *gone = json_copy(run->journal->by_page);
    json_t *lines = json_array();
    const char *page;
    json_t *line;
    size_t n = 0;

    for (size_t i = 0; i < count; i++)
        json_object_del(gone, work[i].page);
    json_object_foreach(run->journal->by_page, page, line)
        if (sorted != NULL && json_object_get(line, "outcome") != NULL
            && (json_object_get(gone, page) == NULL
                || json_array_size(json_object_get(line, "files")) > 0))
            sorted[n++] = line;
    if (n > 0)
        qsort(sorted, n, sizeof *sorted, by_page);
    for (size_t i = 0; i < n; i++)
        json_array_append(lines, sorted[i]);
    if (sorted == NULL || gone == NULL) {
        json_decref(lines);
        lines = NULL;        /* a report of no pages would be a lie */
    }
    json_decref(gone);
    free(sorted);
    return lines;
}

/* The number, for people, of the page that a good shot became; NULL as `page`. */
static const char *replacement_label(const char *page, const sl_run *run)
{
    const json_t *line = page != NULL ? json_object_get(run->journal->by_page, page) : NULL;

    return line != NULL ? sl_label_short(sl_line_label(line)) : page;
}

/* One item, its strings in `keep`. `line` is the work's own, or what the others made of it. */
static sl_album_item item_of(const sl_work *work, json_t *line, const sl_run *run, json_t *keep)
{
    sl_work judged = *work;
    sl_album_item item;
    json_t *strings;

    judged.line = line;
    item = sl_result_item(&judged, !work->keep);
    strings = json_pack("[s, s, s, s, s?]", item.shot, item.page, item.reason, item.label,
                        replacement_label(item.replacement, run));
    item.shot = json_string_value(json_array_get(strings, 0));
    item.page = json_string_value(json_array_get(strings, 1));
    item.reason = json_string_value(json_array_get(strings, 2));
    item.label = json_string_value(json_array_get(strings, 3));
    item.replacement = json_string_value(json_array_get(strings, 4));
    if (line != work->line) {
        char *text = run->items_json ? sl_result_json(line, run->corrections) : NULL;

        if (text != NULL)
            json_array_append_new(strings, json_string(text));
        item.json = json_string_value(json_array_get(strings, 5));
        item.again = true;
        item.before = sl_line_outcome(work->line);
        free(text);
    }
    json_array_append_new(keep, strings);
    return item;
}

/* The result's strings live in `memory`, which the album keeps. */
static sl_status fill(sl_album *out, const sl_work *work, size_t count, const sl_run *run,
                      const json_t *lines, const json_t *skipped, json_t *memory, sl_error *err)
{
    json_t *keep = json_array();
    json_t *by_page = json_object();
    size_t i;
    json_t *entry;

    out->item = calloc(count + json_array_size(skipped) + 1, sizeof *out->item);
    if (out->item == NULL || keep == NULL || by_page == NULL) {
        json_decref(keep);
        json_decref(by_page);
        return sl_fail(err, SL_ERR_NOMEM, "report", "out of memory");
    }
    json_object_set_new(memory, "kept", keep);
    json_array_foreach(lines, i, entry)
        json_object_set(by_page, json_string_value(json_object_get(entry, "page")), entry);
    for (i = 0; i < count; i++) {
        json_t *line = json_object_get(by_page, work[i].page);
        const sl_album_item *item;

        if (!work[i].done)
            continue;
        out->item[out->count] = item_of(&work[i], line != NULL ? line : work[i].line, run, keep);
        item = &out->item[out->count++];
        out->outcomes[item->outcome]++;
        out->open[sl_said_outcome(item->outcome, item->word)]++;
    }
    json_decref(by_page);
    json_array_foreach(skipped, i, entry) {
        out->item[out->count++] = (sl_album_item){
            .shot = json_string_value(json_object_get(entry, "name")),
            .outcome = SL_OUTCOME_SKIPPED,
            .reason = json_string_value(json_object_get(entry, "why")),
        };
        out->outcomes[SL_OUTCOME_SKIPPED]++;
        out->open[SL_OUTCOME_SKIPPED]++;
    }
    return SL_OK;
}

static sl_status fill_faults(sl_album *out, const json_t *faults, sl_error *err)
{
    size_t i;
    json_t *f;

    out->fault = calloc(json_array_size(faults) + 1, sizeof *out->fault);
    if (out->fault == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "report", "out of memory");
    json_array_foreach(faults, i, f)
        out->fault[out->fault_count++] = (sl_album_fault){
            .code = json_string_value(json_object_get(f, "code")),
            .value = figure(f, "value"),
            .limit = figure(f, "limit"),
            .unit = json_string_value(json_object_get(f, "unit")),
            .text = json_string_value(json_object_get(f, "text")),
        };
    return SL_OK;
}

static bool all_done(const sl_work *work, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!work[i].done)
            return false;
    return true;
}

sl_status sl_result_write(sl_album *out, const sl_work *work, size_t count, size_t all,
                          const sl_folder *folder, sl_run *run, sl_error *err)
{
    json_t *memory = json_object();
    json_t *report = json_object();
    json_t *lines = sorted_lines(work, count, run);
    json_t *skipped = run->skipped != NULL ? json_deep_copy(run->skipped) : skipped_files(folder);
    const bool whole = run->params->shares == 0; /* a share writes no report */
    json_t *faults = lines != NULL ? sl_together_judge(lines, run, all_done(work, count)) : NULL;
    json_t *note = sl_report_name(run->optics_note);
    json_t *said = sl_said_corrections(run);
    bool complete;
    sl_status st;

    if (lines != NULL)
        lines = sl_said_order(lines, run);
    complete = lines != NULL && faults != NULL && skipped != NULL && note != NULL && said != NULL;
    if (lines == NULL)
        lines = json_array();
    sl_said_left_out(skipped, work + count, all - count);
    sl_said_refuse(lines, run->corrections);
    json_object_set_new(report, "schema", json_integer(1));
    json_object_set_new(report, "program", json_string("squareleaf " SL_VERSION));
    json_object_set_new(report, "settings", sl_report_settings(&run->params->settings));
    json_object_set_new(report, "optics",
                        run->optics != NULL ? sl_report_optics(run->optics) : json_null());
    json_object_set_new(report, "optics_note", note);
    json_object_set_new(report, "faults", faults);
    json_object_set_new(report, "corrections", said);
    json_object_set_new(report, "pages", json_array());
    json_object_set_new(report, "skipped", skipped);
    json_object_set_new(memory, "report", report);
    json_object_set_new(memory, "lines", lines);
    complete = sum_up(memory, run) && complete;
    if (!complete)
        st = sl_fail(err, SL_ERR_NOMEM, "report", "out of memory");
    else if (!whole)
        st = sl_share_close(run, skipped, err);
    else
        st = write_json(memory, run, err);
    if (st == SL_OK && whole)
        st = know_optics(run, err);
    if (st == SL_OK && whole)
        st = write_table(memory, run, err);
    if (fill(out, work, count, run, lines, skipped, memory, st == SL_OK ? err : NULL) != SL_OK
        && st == SL_OK)
        st = SL_ERR_NOMEM;
    if (st == SL_OK)
        st = fill_faults(out, faults, err);
    out->optics_note = json_string_value(json_object_get(report, "optics_note"));
    out->memory = memory;
    return st;
}

void sl_album_clear(sl_album *album)
{
    free(album->item);
    free(album->fault);
    json_decref(album->memory);
    *album = (sl_album){ 0 };
}
