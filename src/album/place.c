#include "album/place.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/order.h"

/* So many pages, and this share of those seen, must lie within this of the picture's diagonal. */
enum { PAGES_LEAST = 3, PAGES_MOST = 64 };
static const double SHARE = 0.6;
static const double SAME_PLACE = 0.025;

/* ---- stored pictures ------------------------------------------------------------------------- */

/* Turned and not mirrored: 1, 3, 6 or 8 of Exif's (CIPA DC-008, tag 274). */
static bool is_turn(unsigned orientation)
{
    return orientation == 1 || orientation == 3 || orientation == 6 || orientation == 8;
}

/* The tag that the page's picture was turned by. */
static unsigned turned_by(const sl_page *page)
{
    return page->settings.decode.orientation != 0 ? page->settings.decode.orientation
                                                  : page->shot->exif.orientation;
}

/* From the upright picture of w x h px to the stored one, and back. */
static sl_point to_stored(sl_point p, unsigned orientation, double w, double h)
{
    switch (orientation) {
    case 3:
        return (sl_point){ w - 1 - p.x, h - 1 - p.y };
    case 6: /* stored rows become columns from the right */
        return (sl_point){ p.y, w - 1 - p.x };
    case 8:
        return (sl_point){ h - 1 - p.y, p.x };
    default:
        return p;
    }
}

static sl_point to_upright(sl_point p, unsigned orientation, double w, double h)
{
    switch (orientation) {
    case 3:
        return (sl_point){ w - 1 - p.x, h - 1 - p.y };
    case 6:
        return (sl_point){ w - 1 - p.y, p.x };
    case 8:
        return (sl_point){ p.y, h - 1 - p.x };
    default:
        return p;
    }
}

/* The outline's corners in the stored picture, that nearest to its top left first. */
static void stored_corners(sl_point out[4], const sl_page *page)
{
    sl_point p[4];
    size_t first = 0;

    for (size_t k = 0; k < 4; k++) {
        p[k] = to_stored(page->outline->corner[k], turned_by(page), (double)page->optics.width,
                         (double)page->optics.height);
        if (p[k].x + p[k].y < p[first].x + p[first].y)
            first = k;
    }
    for (size_t k = 0; k < 4; k++)
        out[k] = p[(first + k) % 4];
}

static void stored_size(size_t *width, size_t *height, const sl_page *page)
{
    const bool across = turned_by(page) >= 5;

    *width = across ? page->optics.height : page->optics.width;
    *height = across ? page->optics.width : page->optics.height;
}

static double distance(const sl_point a[4], const sl_point b[4])
{
    double most = 0;

    for (int k = 0; k < 4; k++)
        most = fmax(most, hypot(a[k].x - b[k].x, a[k].y - b[k].y));
    return most;
}

static bool in_place(const sl_place *place, const sl_point corner[4])
{
    return distance(corner, place->corner)
           < SAME_PLACE * hypot((double)place->width, (double)place->height);
}

/* ---- finding --------------------------------------------------------------------------------- */

static bool is_whole(const sl_page *page)
{
    if (page == NULL || !page->outline->found || page->outline->by_hand
        || !is_turn(page->shot->exif.orientation) || page->shot->format == SL_FORMAT_HEIF)
        return false;
    for (int i = 0; i < 4; i++)
        if (page->outline->edge[i].cut)
            return false;
    return true;
}

/* Median corners of the pages that `use` names. */
static void set_middle(sl_place *out, const sl_point (*corner)[4], const bool *use, size_t count)
{
    for (int k = 0; k < 4; k++) {
        double x[PAGES_MOST];
        double y[PAGES_MOST];
        size_t n = 0;

        for (size_t i = 0; i < count; i++)
            if (use[i]) {
                x[n] = corner[i][k].x;
                y[n++] = corner[i][k].y;
            }
        out->corner[k] = (sl_point){ sl_median(x, n), sl_median(y, n) };
    }
}

static unsigned commonest_tag(const unsigned *tag, const bool *use, size_t count)
{
    size_t times[9] = { 0 };
    unsigned best = 1;

    for (size_t i = 0; i < count; i++)
        times[tag[i]] += use[i];
    for (unsigned t = 1; t <= 8; t++)
        if (times[t] > times[best])
            best = t;
    return best;
}

void sl_place_find(sl_place *out, sl_page *const *page, size_t count)
{
    sl_point corner[PAGES_MOST][4];
    unsigned tag[PAGES_MOST];
    bool use[PAGES_MOST];
    size_t n = 0;

    *out = (sl_place){ 0 };
    for (size_t i = 0; i < count && n < PAGES_MOST; i++) {
        size_t w;
        size_t h;

        if (!is_whole(page[i]))
            continue;
        stored_size(&w, &h, page[i]);
        if (n == 0) {
            out->width = w;
            out->height = h;
        }
        if (w != out->width || h != out->height)
            return;          /* several cameras: no one place */
        stored_corners(corner[n], page[i]);
        tag[n] = page[i]->shot->exif.orientation;
        use[n++] = true;
    }
    if (n < PAGES_LEAST)
        return;
    set_middle(out, (const sl_point(*)[4])corner, use, n);
    for (size_t i = 0; i < n; i++) {
        use[i] = in_place(out, corner[i]);
        out->pages += use[i];
    }
    out->known = out->pages >= PAGES_LEAST && (double)out->pages >= SHARE * (double)n;
    if (!out->known)
        return;
    set_middle(out, (const sl_point(*)[4])corner, use, n);
    out->orientation = commonest_tag(tag, use, n);
}

/* ---- the file -------------------------------------------------------------------------------- */

json_t *sl_place_write(const sl_place *place)
{
    json_t *corners;

    if (!place->known)
        return json_null();
    corners = json_array();
    for (int k = 0; k < 4; k++)
        json_array_append_new(corners, json_pack("[f, f]", place->corner[k].x,
                                                 place->corner[k].y));
    return json_pack("{s:I, s:I, s:i, s:I, s:o}", "width", (json_int_t)place->width, "height",
                     (json_int_t)place->height, "orientation", (int)place->orientation, "pages",
                     (json_int_t)place->pages, "corners", corners);
}

void sl_place_read(sl_place *out, const json_t *from)
{
    const json_t *corners = json_object_get(from, "corners");
    const json_int_t w = json_integer_value(json_object_get(from, "width"));
    const json_int_t h = json_integer_value(json_object_get(from, "height"));
    const json_int_t tag = json_integer_value(json_object_get(from, "orientation"));

    *out = (sl_place){ 0 };
    if (w <= 0 || h <= 0 || tag < 1 || tag > 8 || !is_turn((unsigned)tag)
        || json_array_size(corners) != 4)
        return;
    for (size_t k = 0; k < 4; k++) {
        const json_t *xy = json_array_get(corners, k);

        out->corner[k] = (sl_point){ json_number_value(json_array_get(xy, 0)),
                                     json_number_value(json_array_get(xy, 1)) };
    }
    out->width = (size_t)w;
    out->height = (size_t)h;
    out->orientation = (unsigned)tag;
    out->pages = (size_t)json_integer_value(json_object_get(from, "pages"));
    out->known = true;
}

/* ---- using it -------------------------------------------------------------------------------- */

/* Is this page one that the place can be asked about? A person's word comes first. */
static bool concerns(const sl_place *place, const sl_page *page)
{
    size_t w;
    size_t h;

    if (!place->known || page->settings.whole_frame || page->settings.has_corners
        || page->shot->format == SL_FORMAT_HEIF || !is_turn(turned_by(page)))
        return false;
    stored_size(&w, &h, page);
    return w == place->width && h == place->height;
}

bool sl_place_wrong_way_up(const sl_place *place, const sl_page *page)
{
    sl_point corner[4];

    if (!concerns(place, page) || page->settings.decode.orientation != 0
        || page->shot->exif.orientation == place->orientation || !page->outline->found)
        return false;
    stored_corners(corner, page);
    return in_place(place, corner);
}

/* The least supported edge; one that no step was found on has none. */
static double least_support(const sl_outline *o)
{
    double least = 1;

    for (int i = 0; i < 4; i++)
        least = fmin(least, o->edge[i].count > 0 && fabs(o->edge[i].point[0].blur_px) > 0
                                ? o->edge[i].support
                                : 0);
    return least;
}

/* An outline below any of inspect's limits. */
static bool is_weak(const sl_outline *o, const double *limit)
{
    double paper = 0;

    if (!o->found)
        return true;
    for (int i = 0; i < 4; i++)
        paper += o->edge[i].paper / 4;
    /* an edge that the frame cuts was not seen: it has no support */
    return 100 * o->confidence < limit[SL_CODE_RIVAL] || 100 * least_support(o) < limit[SL_CODE_WEAK_OUTLINE] || paper < 0.6;
}

static double luminance(const sl_image *image, const sl_tone *tone, sl_point p)
{
    const double x = fmin(fmax(p.x + 0.5, 0), (double)image->width - 1);
    const double y = fmin(fmax(p.y + 0.5, 0), (double)image->height - 1);
    const unsigned char *row = image->data + (size_t)y * image->stride;
    double sum = 0;

    for (unsigned c = 0; c < image->channels; c++) {
        const size_t k = (size_t)x * image->channels + c;

        sum += image->bits == 8
                   ? (double)sl_tone_linear8(tone)[row[k]]
                   : (double)sl_tone_linear16(tone)[((const uint16_t *)(const void *)row)[k]];
    }
    return sum / image->channels;
}

/* Share of each edge with the page's commonest brightness, by a fifth, just inside it. */
static void measure_paper(sl_outline *o, const sl_image *image, const sl_tone *tone)
{
    enum { POINTS = 48 };
    double level[4][POINTS];
    double all[4 * POINTS];
    double usual;

    for (int i = 0; i < 4; i++) {
        const sl_point a = o->corner[i];
        const sl_point b = o->corner[(i + 1) % 4];

        for (int k = 0; k < POINTS; k++) {
            const double t = (k + 0.5) / POINTS;
            const double in = 0.012; /* of the edge's length, to the right of its way */

            level[i][k] = luminance(image, tone,
                                    (sl_point){ a.x + t * (b.x - a.x) - in * (b.y - a.y),
                                                a.y + t * (b.y - a.y) + in * (b.x - a.x) });
            all[i * POINTS + k] = level[i][k];
        }
    }
    usual = sl_median(all, 4 * POINTS);
    for (int i = 0; i < 4; i++) {
        int same = 0;

        for (int k = 0; k < POINTS; k++)
            same += fabs(level[i][k] - usual) < 0.2 * usual;
        o->edge[i].paper = (double)same / POINTS;
    }
}

/* What the album's place has must be better by this much, share of an edge. */
static const double BETTER = 0.1;

/* ... or, where another rectangle was taken with no margin to speak of, be this good. */
static const double GOOD = 0.75;

static bool outranks(const sl_outline *there, const sl_outline *found, bool found_in_place,
                     const double *limit)
{
    const double least = least_support(there);

    if (100 * least < limit[SL_CODE_WEAK_OUTLINE])
        return false;
    for (int i = 0; i < 4 && found->found; i++)
        if (found->edge[i].cut)
            return !found_in_place && least >= GOOD;
    if (!found->found || least >= least_support(found) + BETTER)
        return true;
    return !found_in_place && 100 * found->confidence < limit[SL_CODE_RIVAL] && least >= GOOD;
}

sl_status sl_place_help(const sl_place *place, sl_page *page, sl_error *err)
{
    const sl_settings *s = &page->settings;
    const double w = (double)page->optics.width;
    const double h = (double)page->optics.height;
    sl_border_params border = sl_border_defaults();
    sl_outline *there;
    sl_page as_there = *page;
    sl_point corner[4];
    bool found_in_place = false;
    sl_status st;

    if (!concerns(place, page) || s->turn_deg != 0 || !is_weak(page->outline, s->limit))
        return SL_OK;
    there = malloc(sizeof *there);
    if (there == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    border.focal_px = page->optics.focal_px;
    border.has_corners = true;
    for (int k = 0; k < 4; k++)
        border.corners[k] = to_upright(place->corner[k], turned_by(page), w, h);
    st = sl_outline_find(there, page->shot->image, page->tone, &border, err);
    if (st == SL_ERR_DEGENERATE)
        st = SL_OK;
    else if (st == SL_OK) {
        if (page->outline->found) {
            stored_corners(corner, page);
            found_in_place = in_place(place, corner);
        }
        as_there.outline = there;
        stored_corners(corner, &as_there);
        if (in_place(place, corner) && outranks(there, page->outline, found_in_place, s->limit)) {
            there->by_hand = false;
            there->sheets = page->outline->found ? page->outline->sheets : 1;
            there->confidence = page->outline->found
                                    ? fmax(0, least_support(there) - least_support(page->outline))
                                    : least_support(there) - 0.5;
            measure_paper(there, page->shot->image, page->tone);
            *page->outline = *there;
            page->from_place = true;
        }
    }
    free(there);
    return st;
}
