/*
 * Curl differs from page to page, the lens does not: so lens and camera are solved once over
 * pages spread through the album, and frozen, so that a later shot does not change earlier pages.
 */
#include "album/optics.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "album/chain.h"
#include "album/report.h"
#include "base/error.h"
#include "base/file.h"

/* ---- the file -------------------------------------------------------------------------------- */

static bool take_number(double *out, const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);

    if (!json_is_number(value))
        return false;
    *out = json_number_value(value);
    return true;
}

static bool take_size(size_t *out, const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);

    if (!json_is_integer(value) || json_integer_value(value) <= 0)
        return false;
    *out = (size_t)json_integer_value(value);
    return true;
}

bool sl_report_read_optics(sl_optics *out, const json_t *object)
{
    const json_t *centre = json_object_get(object, "centre");

    *out = (sl_optics){ .from_album = true };
    if (!take_size(&out->width, object, "width") || !take_size(&out->height, object, "height")
        || !take_number(&out->focal_px, object, "focal_px")
        || !take_number(&out->ln_focal_sigma, object, "ln_focal_sigma")
        || !take_number(&out->centre_sigma, object, "centre_sigma")
        || !take_number(&out->k1, object, "k1") || !take_number(&out->k2, object, "k2")
        || !take_number(&out->k1_sigma, object, "k1_sigma")
        || !take_number(&out->k2_sigma, object, "k2_sigma") || json_array_size(centre) != 2)
        return false;
    out->centre_x = json_number_value(json_array_get(centre, 0));
    out->centre_y = json_number_value(json_array_get(centre, 1));
    return out->focal_px > 0 && out->ln_focal_sigma > 0 && out->centre_sigma > 0
           && out->k1_sigma > 0 && out->k2_sigma > 0;
}

/* An optics file holds `optics`: the values, or null where the album could not support any. */
static sl_status read_file(sl_album_optics *out, const char *path, sl_error *err)
{
    void *bytes = NULL;
    size_t size = 0;
    json_t *root = NULL;
    const json_t *optics;
    const char *note;
    sl_status st = sl_file_read(&bytes, &size, path, (size_t)1 << 20, err);

    if (st != SL_OK)
        return st;
    root = json_loadb(bytes, size, 0, NULL);
    optics = json_object_get(root, "optics");
    note = json_string_value(json_object_get(root, "note"));
    sl_place_read(&out->place, json_object_get(root, "place"));
    if (json_is_null(optics)) {
        out->used = false;
        (void)snprintf(out->note, sizeof out->note, "%s", note != NULL ? note : "");
    } else if (sl_report_read_optics(&out->optics, optics)) {
        out->used = true;
        (void)snprintf(out->note, sizeof out->note, "%s", note != NULL ? note : "");
    } else {
        st = sl_fail(err, SL_ERR_FORMAT, "album",
                     "%s is no optics file of this program: take it away, or run with "
                     "--recalibrate",
                     path);
    }
    json_decref(root);
    free(bytes);
    return st;
}

static sl_status write_file(const sl_album_optics *o, const char *path, sl_error *err)
{
    json_t *root = json_pack("{s:i, s:s, s:s, s:o, s:o}", "schema", 1, "program",
                             "squareleaf " SL_VERSION, "note", o->note, "optics",
                             o->used ? sl_report_optics(&o->optics) : json_null(), "place",
                             sl_place_write(&o->place));
    char *text = root != NULL ? sl_report_text(root, 1) : NULL;
    sl_part part;
    sl_status st;

    json_decref(root);
    if (text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    st = sl_part_open(&part, path, NULL, 0, err);
    if (st == SL_OK)
        st = sl_part_save(&part, text, strlen(text), err);
    free(text);
    return st;
}

/* ---- solving --------------------------------------------------------------------------------- */

typedef struct survey {
    const sl_folder       *folder;
    const sl_album_params *params;
    const volatile int    *stop;
    size_t                 index[SL_OPTICS_PAGES];
    sl_page               *page[SL_OPTICS_PAGES];
    sl_status              status[SL_OPTICS_PAGES];
} survey;

static void look_at(void *ctx, size_t k)
{
    survey *s = ctx;
    const sl_entry *entry = &s->folder->entry[s->index[k]];
    sl_page *page = NULL;
    void *bytes = NULL;
    size_t size = 0;

    if (s->stop != NULL && *s->stop != 0)
        return;
    s->status[k] = sl_file_read(&bytes, &size, entry->path, (size_t)1 << 30, NULL);
    if (s->status[k] == SL_OK && size > 0)
        s->status[k] = sl_page_seek(&page, bytes, size, entry->name, &s->params->settings, NULL,
                                    NULL);
    free(bytes);
    if (page == NULL)
        return;
    /* only the outline is needed from here on: the picture is the memory */
    sl_image_free(page->shot->image);
    page->shot->image = NULL;
    s->page[k] = page;
}

static bool whole(const sl_page *page)
{
    if (!page->outline->found || page->outline->by_hand)
        return false;
    for (int i = 0; i < 4; i++)
        if (page->outline->edge[i].cut)
            return false;
    return true;
}

static bool same_camera(const sl_optics *a, const sl_optics *b)
{
    return a->width == b->width && a->height == b->height && a->focal_px >= 0.97 * b->focal_px
           && a->focal_px <= 1.03 * b->focal_px;
}

/* The camera that most of the pages were taken with. */
static const sl_optics *commonest(const survey *s, size_t count)
{
    const sl_optics *best = NULL;
    size_t most = 0;

    for (size_t i = 0; i < count; i++) {
        size_t n = 0;

        for (size_t k = 0; s->page[i] != NULL && k < count; k++)
            n += s->page[k] != NULL && whole(s->page[k])
                 && same_camera(&s->page[i]->optics, &s->page[k]->optics);
        if (n > most) {
            most = n;
            best = &s->page[i]->optics;
        }
    }
    return best;
}

/* A shot that cannot be read has no say; one that memory was lacking for must not lose it. */
static sl_status check_memory(const survey *s, size_t count, sl_error *err)
{
    for (size_t k = 0; k < count; k++)
        if (s->status[k] == SL_ERR_NOMEM)
            return sl_fail(err, SL_ERR_NOMEM, "album",
                           "out of memory at %s: end other programs, or run with --jobs 1",
                           s->folder->entry[s->index[k]].name);
    return SL_OK;
}

static sl_status solve(sl_album_optics *out, const survey *s, size_t count,
                       sl_error *err)
{
    const sl_outline *outline[SL_OPTICS_PAGES];
    const sl_optics *camera = commonest(s, count);
    sl_rectify_params params = sl_rectify_defaults();
    sl_error why = { SL_OK, NULL, "" };
    size_t n = 0;
    sl_status st = SL_OK;

    memcpy(params.page_mm, s->params->settings.page_mm, sizeof params.page_mm);
    for (size_t i = 0; i < count; i++)
        if (s->page[i] != NULL && whole(s->page[i]) && same_camera(&s->page[i]->optics, camera))
            outline[n++] = s->page[i]->outline;
    if (n >= 3)
        st = sl_optics_solve(&out->optics, outline, n, camera, &params, &why);
    if (st == SL_ERR_NOMEM)
        return sl_fail(err, st, "album", "%s", why.detail);
    if (n >= 3 && st == SL_OK) {
        out->used = true;
        (void)snprintf(out->note, sizeof out->note,
                       "Camera and lens were solved from %zu pages of the album.", n);
    } else {
        (void)snprintf(out->note, sizeof out->note,
                       "Camera and lens were not solved over the album (%s): each page was "
                       "fitted alone.",
                       n < 3 ? "too few whole pages of one camera" : why.detail);
    }
    return SL_OK;
}

/* At most SL_OPTICS_PAGES shots, evenly over the album. */
static size_t choose_shots(survey *s)
{
    const size_t shots = s->folder->shots;
    const size_t count = shots < SL_OPTICS_PAGES ? shots : SL_OPTICS_PAGES;

    for (size_t k = 0; k < count; k++)
        s->index[k] = (2 * k + 1) * shots / (2 * count);
    return count;
}

/* The place as the file holds it. */
static sl_status round_trip_place(sl_album_optics *out, sl_error *err)
{
    json_t *object;
    char *text;
    json_t *again;

    if (!out->place.known)
        return SL_OK;
    object = sl_place_write(&out->place);
    text = object != NULL ? sl_report_text(object, 0) : NULL;
    again = text != NULL ? json_loads(text, 0, NULL) : NULL;
    sl_place_read(&out->place, again);
    json_decref(object);
    free(text);
    if (again == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    json_decref(again);
    return SL_OK;
}

/* The values as the file holds them: a later run, which reads the file, must not differ. */
static sl_status round_trip(sl_album_optics *out, sl_error *err)
{
    json_t *object = sl_report_optics(&out->optics);
    char *text = object != NULL ? sl_report_text(object, 0) : NULL;
    json_t *again = text != NULL ? json_loads(text, 0, NULL) : NULL;
    const bool ok = again != NULL && sl_report_read_optics(&out->optics, again);

    json_decref(again);
    json_decref(object);
    free(text);
    return ok ? SL_OK : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
}

static sl_status solve_over_album(sl_album_optics *out, const sl_folder *folder,
                                  const sl_album_params *params, sl_context *context,
                                  const volatile int *stop, sl_error *err)
{
    survey s = { .folder = folder, .params = params, .stop = stop };
    const size_t count = choose_shots(&s);
    sl_status st = SL_OK;

    sl_pool_run(context->pool, look_at, &s, count);
    if (stop != NULL && *stop != 0)
        st = sl_fail(err, SL_ERR_CANCELLED, "album", "stopped");
    else
        st = check_memory(&s, count, err);
    if (st == SL_OK)
        st = solve(out, &s, count, err);
    if (st == SL_OK && out->used)
        st = round_trip(out, err);
    if (st == SL_OK) {
        sl_place_find(&out->place, s.page, count);
        st = round_trip_place(out, err);
    }
    for (size_t k = 0; k < count; k++) {
        if (s.page[k] != NULL && s.page[k]->outline->found) {
            out->found[out->count] = s.page[k]->outline;
            out->index[out->count++] = s.index[k];
            s.page[k]->outline = NULL;
        }
        sl_page_free(s.page[k]);
    }
    return st;
}

/* ---- all together ---------------------------------------------------------------------------- */

sl_status sl_album_optics_get(sl_album_optics *out, const sl_folder *folder,
                              const sl_album_params *params, const char *out_dir,
                              sl_context *context, const volatile int *stop, sl_error *err)
{
    char *own = sl_path_join(out_dir, "optics.json");
    sl_status st;

    memset(out, 0, sizeof *out);
    if (own == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (params->optics != NULL)
        st = read_file(out, params->optics, err);
    else if (params->settings.whole_frame || params->settings.has_corners)
        st = SL_OK;          /* a person's outlines say nothing of the lens */
    else if (!params->recalibrate && access(own, F_OK) == 0)
        st = read_file(out, own, err);
    else {
        st = solve_over_album(out, folder, params, context, stop, err);
        if (st == SL_OK)
            st = write_file(out, own, err);
    }
    free(own);
    return st;
}

sl_status sl_album_optics_known(sl_album_optics *out, const sl_album_params *params,
                                const char *out_dir, sl_error *err)
{
    char *own = sl_path_join(out_dir, "optics.json");
    sl_status st = SL_OK;

    memset(out, 0, sizeof *out);
    if (own == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (params->optics != NULL)
        st = read_file(out, params->optics, err);
    else if (!params->settings.whole_frame && !params->settings.has_corners
             && !params->recalibrate && access(own, F_OK) == 0)
        st = read_file(out, own, err);
    else
        (void)snprintf(out->note, sizeof out->note, "Camera and lens are not solved yet.");
    free(own);
    return st;
}

void sl_album_optics_clear(sl_album_optics *optics)
{
    for (size_t i = 0; i < optics->count; i++)
        free(optics->found[i]);
    optics->count = 0;
}

const sl_outline *sl_album_optics_outline(const sl_album_optics *optics, size_t work)
{
    for (size_t i = 0; i < optics->count; i++)
        if (optics->index[i] == work)
            return optics->found[i];
    return NULL;
}
