/*
 * One shot's chain: decode, border, rectify, inspect; then, when asked, one resampling into as
 * many files as are wanted. Each stage is called once, in order, with plain values.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "album/bands.h"
#include "album/chain.h"
#include "album/fit.h"
#include "album/save.h"
#include "base/error.h"
#include "base/order.h"
#include "base/sha256.h"

static const double MM_PER_INCH = 25.4;
static const double QUARTER_TURN = 1.5707963267948966;

/* What lies outside the shot is filled with this coded grey: a mid grey, IEC 61966-2-1's 18 %. */
static const double FILL = 118.0 / 255;

static const char *const verdict_names[] = { "pass", "look", "reshoot" };

const char *sl_verdict_name(sl_verdict verdict)
{
    return verdict_names[verdict];
}

sl_settings sl_settings_defaults(void)
{
    sl_settings s = { .ppi = 300, .master = SL_FORMAT_TIFF, .access = SL_FORMAT_JPEG,
                      .quality = 95, .compression = SL_DEFLATE };
    const sl_inspect_params inspect = sl_inspect_defaults();

    memcpy(s.limit, inspect.limit, sizeof s.limit);
    s.decode = sl_decode_defaults();
    return s;
}

sl_status sl_context_new(sl_context **out, unsigned jobs, sl_error *err)
{
    sl_context *context = calloc(1, sizeof *context);
    sl_status st;

    if (context == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    st = sl_pool_new(&context->pool, jobs, err);
    if (st != SL_OK) {
        free(context);
        return st;
    }
    *out = context;
    return SL_OK;
}

void sl_context_free(sl_context *context)
{
    if (context != NULL) {
        sl_pool_free(context->pool);
        free(context);
    }
}

void sl_page_free(sl_page *page)
{
    if (page != NULL) {
        free(page->outline);
        sl_tone_free(page->tone);
        sl_shot_free(page->shot);
        free(page->shot_name);
        free(page);
    }
}

/* ---- finding --------------------------------------------------------------------------------- */

/* Turns the page, not the pixels: the edge that shall be on top becomes the top edge. */
static void turn_outline(sl_outline *outline, unsigned turn_deg)
{
    for (unsigned quarter = 0; quarter < turn_deg / 90 % 4; quarter++) {
        const sl_point corner = outline->corner[3];
        sl_edge *last = &outline->edge[3];
        sl_edge edge = *last;

        memmove(outline->corner + 1, outline->corner, 3 * sizeof *outline->corner);
        memmove(outline->edge + 1, outline->edge, 3 * sizeof *outline->edge);
        outline->corner[0] = corner;
        outline->edge[0] = edge;
    }
}

static sl_status find_outline(sl_page *page, sl_error *err)
{
    const sl_settings *s = &page->settings;
    const sl_image *image = page->shot->image;
    sl_border_params border = sl_border_defaults();
    sl_status st = SL_OK;

    if (s->whole_frame) {
        sl_outline_frame(page->outline, image->width, image->height);
    } else {
        if (s->page_mm[0] > 0 && s->page_mm[1] > 0)
            border.page_ratio = fmax(s->page_mm[0], s->page_mm[1])
                                / fmin(s->page_mm[0], s->page_mm[1]);
        border.focal_px = page->optics.focal_px;
        border.has_corners = s->has_corners;
        border.exact = s->exact;
        memcpy(border.corners, s->corners, sizeof border.corners);
        st = sl_outline_find(page->outline, image, page->tone, &border, err);
    }
    if (st == SL_OK && page->outline->found)
        turn_outline(page->outline, s->turn_deg);
    return st;
}

/* px per page unit that keeps the shot's own number of px: the median of the map's scale. */
static double native_scale(const sl_page_map *map)
{
    enum { GRID = 17 };
    double scale[GRID * GRID];

    for (int v = 0; v < GRID; v++) {
        for (int u = 0; u < GRID; u++) {
            double j[4];

            sl_page_map_jacobian(j, map, map->page[0] * u / (GRID - 1),
                                 map->page[1] * v / (GRID - 1));
            scale[v * GRID + u] = sqrt(fabs(j[0] * j[3] - j[1] * j[2]));
        }
    }
    qsort(scale, GRID * GRID, sizeof *scale, sl_by_double);
    return scale[GRID * GRID / 2];
}

static void plan_output(sl_page *page)
{
    const sl_page_map *map = &page->rectified.map;
    const sl_settings *s = &page->settings;

    if (map->has_size) {
        const double native = floor(page->inspection.native_ppi.p5);

        page->written_ppi = s->no_upsample ? fmax(1, fmin(s->ppi, native)) : s->ppi;
        page->px_per_unit = page->written_ppi / MM_PER_INCH;
        page->interpolated = page->written_ppi > page->inspection.native_ppi.p5;
        page->margin_px = (size_t)lround(s->margin_mm * page->px_per_unit);
    } else {
        page->px_per_unit = native_scale(map);
    }
    page->width = (size_t)fmax(1, round(map->page[0] * page->px_per_unit));
    page->height = (size_t)fmax(1, round(map->page[1] * page->px_per_unit));
}

/* A view is frontal when its edges meet at right angles to this, rad; paper is cut as well. */
static const double FRONTAL = 0.006;

/* Of the edges that were seen whole, at least three. */
static bool is_frontal(const sl_outline *outline)
{
    double first = NAN;
    int seen = 0;

    for (int i = 0; i < 4; i++) {
        const sl_edge *e = &outline->edge[i];
        const sl_point a = e->point[0].at;
        const sl_point b = e->point[e->count > 0 ? e->count - 1 : 0].at;
        const double angle = atan2(b.y - a.y, b.x - a.x);

        if (e->cut || e->count < 2)
            continue;
        if (seen++ == 0)
            first = angle;
        if (fabs(remainder(angle - first, QUARTER_TURN)) > FRONTAL)
            return false;
    }
    return seen >= 3;
}

/* A camera tells its focal length, and no hand and hardly a tripod looks quite straight down. */
static sl_source source_of(const sl_page *page)
{
    const sl_exif *exif = &page->shot->exif;

    if (exif->focal_mm > 0 || exif->focal_35mm > 0 || page->settings.whole_frame)
        return SL_SOURCE_CAMERA;
    if (!page->outline->found)
        return SL_SOURCE_UNKNOWN;
    return is_frontal(page->outline) ? SL_SOURCE_SCANNER : SL_SOURCE_CAMERA;
}

/* What the album's place did to the page. */
static void add_place(sl_page *page)
{
    if (page->own_tag != 0)
        sl_inspection_add(&page->inspection, SL_CODE_WHICH_WAY_UP, page->own_tag, 0, "tag",
                          SL_LOOK,
                          "The camera took this shot for turned otherwise than the rest, though the "
                          "page lies where the others lie. It was turned like them: check that it "
                          "stands upright.");
    if (page->from_place)
        sl_inspection_add(&page->inspection, SL_CODE_FROM_PLACE, 1, 0, "", SL_PASS,
                          "The outline could hardly be seen and was found from where the album's "
                          "other pages lie.");
}

static sl_status inspect(sl_page *page, sl_error *err)
{
    const sl_settings *s = &page->settings;
    sl_inspect_params params = sl_inspect_defaults();
    sl_status st;

    memcpy(params.page_mm, s->page_mm, sizeof params.page_mm);
    memcpy(params.limit, s->limit, sizeof params.limit);
    params.wanted_ppi = s->ppi;
    params.min_ppi = s->min_ppi > 0 ? s->min_ppi : s->ppi / 2;
    params.images = page->shot->images;
    params.source = source_of(page);
    st = sl_inspect(&page->inspection, page->shot->image, page->tone, page->outline,
                      page->has_map ? &page->rectified : NULL, &params, err);
    if (st == SL_OK)
        add_place(page);
    return st;
}

/* An album's optics are those of one camera at one focal length; another shot's tags rule. */
static sl_optics choose_optics(const sl_optics *guess, const sl_optics *album)
{
    if (album != NULL && album->width == guess->width && album->height == guess->height
        && fabs(log(album->focal_px / guess->focal_px)) < 2 * guess->ln_focal_sigma)
        return *album;
    return *guess;
}

/*
 * Many raw files are TIFF files by their first bytes and show a small preview to who reads them
 * so; the ending tells. A picture of another kind with such a name is let through.
 */
static sl_status refuse_raw(const char *name, const void *bytes, size_t size, sl_error *err)
{
    const sl_format format = sl_format_sniff(bytes, size);

    if (sl_name_is_raw(name) && (format == SL_FORMAT_TIFF || format == SL_FORMAT_UNKNOWN))
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "a camera raw file by its name (%s): convert it to 16-bit TIFF first",
                       strrchr(name, '.'));
    return SL_OK;
}

sl_status sl_page_seek(sl_page **out, const void *bytes, size_t size, const char *name,
                       const sl_settings *settings, const sl_outline *known, sl_error *err)
{
    sl_page *page = calloc(1, sizeof *page);
    sl_status st = SL_OK;

    if (page == NULL || (page->shot_name = strdup(name)) == NULL
        || (page->outline = calloc(1, sizeof *page->outline)) == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (st == SL_OK) {
        page->settings = *settings;
        sl_sha256(page->shot_sha256, bytes, size);
        st = refuse_raw(name, bytes, size, err);
    }
    if (st == SL_OK)
        st = sl_shot_decode(&page->shot, bytes, size, &settings->decode, err);
    if (st == SL_OK)
        st = sl_shot_print(page->shot, &page->profile, err);
    if (st == SL_OK)
        st = sl_tone_new(&page->tone, page->shot->icc, page->shot->icc_size, err);
    if (st == SL_OK) {
        page->optics = sl_optics_guess(&page->shot->exif, page->shot->image->width,
                                       page->shot->image->height);
        if (known != NULL)
            *page->outline = *known;
        else
            st = find_outline(page, err);
    }
    if (st != SL_OK) {
        sl_page_free(page);
        return st;
    }
    *out = page;
    return SL_OK;
}

sl_status sl_page_judge(sl_page *page, sl_error *err)
{
    sl_status st = SL_OK;

    if (page->outline->found)
        st = sl_page_fit(page, err);
    if (st == SL_OK)
        st = inspect(page, err);
    if (st == SL_OK && page->has_map)
        plan_output(page);
    return st;
}

/* The shot once more, turned as most of the album's are. On failure *page is as it was. */
static sl_status seek_other_way_up(sl_page **page, const void *bytes, size_t size,
                                   const char *name, const sl_place *place, sl_error *err)
{
    sl_settings settings = (*page)->settings;
    sl_page *turned = NULL;
    sl_status st;

    settings.decode.orientation = place->orientation;
    st = sl_page_seek(&turned, bytes, size, name, &settings, NULL, err);
    if (st != SL_OK)
        return st;
    turned->own_tag = turned->shot->exif.orientation;
    sl_page_free(*page);
    *page = turned;
    return SL_OK;
}

sl_status sl_page_chain(sl_page **out, const void *bytes, size_t size, const char *name,
                        const sl_settings *settings, const sl_optics *optics,
                        const sl_place *place, const sl_outline *known, sl_error *err)
{
    sl_page *page = NULL;
    sl_status st = sl_page_seek(&page, bytes, size, name, settings, known, err);

    if (st == SL_OK && place != NULL && sl_place_wrong_way_up(place, page))
        st = seek_other_way_up(&page, bytes, size, name, place, err);
    if (st == SL_OK && place != NULL)
        st = sl_place_help(place, page, err);
    if (st == SL_OK) {
        page->optics = choose_optics(&page->optics, optics);
        st = sl_page_judge(page, err);
    }
    if (st != SL_OK) {
        sl_page_free(page);
        return st;
    }
    *out = page;
    return SL_OK;
}

sl_status sl_page_find(sl_page **out, const void *bytes, size_t size, const char *name,
                       const sl_settings *settings, const sl_optics *optics, sl_error *err)
{
    return sl_page_chain(out, bytes, size, name, settings, optics, NULL, NULL, err);
}

/* ---- writing --------------------------------------------------------------------------------- */

typedef struct map_context {
    const sl_page_mapper *mapper;
    double                unit_per_px;
    double                margin;     /* px */
} map_context;

static sl_point map_px(const void *ctx, double column, double row)
{
    const map_context *m = ctx;

    return sl_page_mapper_point(m->mapper, (column + 0.5 - m->margin) * m->unit_per_px,
                                (row + 0.5 - m->margin) * m->unit_per_px);
}

static sl_status open_sink(sl_sink *s, const sl_page *page, const sl_target *target, size_t margin,
                           unsigned bits, sl_error *err)
{
    const sl_shot *shot = page->shot;
    const size_t around = target->with_margin ? margin : 0;
    const bool srgb = target->format == SL_FORMAT_JPEG
                      || page->settings.colour == SL_COLOUR_SRGB;
    const bool convert = srgb && page->profile.kind == SL_PROFILE_OTHER;
    /* a profile of no use would only mislead: sRGB is declared then, as it is taken */
    const bool carry = !convert && !(srgb && page->profile.kind == SL_PROFILE_BROKEN);
    /* where somebody lives is no business of those that a picture is shared with */
    const bool tell = target->format != SL_FORMAT_JPEG || page->settings.keep_location;
    const sl_page_info info = {
        .ppi = page->written_ppi,
        .icc = carry ? shot->icc : NULL,
        .icc_size = carry ? shot->icc_size : 0,
        .date = shot->exif.date,
        .make = shot->exif.make,
        .model = shot->exif.model,
        .shot_name = page->shot_name,
        .shot_sha256 = page->shot_sha256,
        .native_ppi = page->inspection.has_ppi ? page->inspection.native_ppi.p5 : 0,
        .interpolated = page->interpolated,
        .words = { page->words.caption, page->words.date, tell ? page->words.place : NULL,
                   page->words.people },
        .has_position = tell && shot->exif.has_position,
        .latitude_deg = shot->exif.latitude_deg,
        .longitude_deg = shot->exif.longitude_deg,
    };
    sl_encode_params params = {
        .format = target->format,
        .width = page->width + 2 * around,
        .height = page->height + 2 * around,
        .channels = shot->image->channels,
        .bits = target->format == SL_FORMAT_JPEG ? 8 : bits,
        .quality = page->settings.quality,
        .compression = page->settings.compression,
    };
    sl_status st = SL_OK;

    *s = (sl_sink){ NULL, NULL, margin - around, params.width, params.height, params.bits };
    if (convert)
        st = sl_colour_new(&s->colour, shot->icc, shot->icc_size, params.channels, params.bits,
                           err);
    if (st != SL_OK)
        return st;
    return sl_writer_new(&s->writer, target->file, &params, &info, err);
}

/* All targets at the page's own size: one resampling serves them. */
static sl_status write_together(sl_page *page, const sl_target *target, size_t count,
                                sl_context *context, const volatile int *stop, sl_error *err)
{
    sl_sink sinks[SL_SINKS_MOST] = { { NULL, NULL, 0, 0, 0, 0 } };
    sl_page_mapper *mapper = NULL;
    sl_resampler *resampler = NULL;
    const sl_image *image = page->shot->image;
    size_t margin = 0;
    unsigned bits = 8;
    map_context map;
    sl_resample_params params;
    sl_bands_params bands;
    sl_status st;

    for (size_t i = 0; i < count; i++) {
        const unsigned wanted = page->settings.bits != 0 ? page->settings.bits : image->bits;

        if (target[i].with_margin)
            margin = page->margin_px;
        if (target[i].format != SL_FORMAT_JPEG && wanted == 16)
            bits = 16;
    }
    st = sl_page_mapper_new(&mapper, &page->rectified.map, err);
    map = (map_context){ mapper, 1 / page->px_per_unit, (double)margin };
    params = (sl_resample_params){ page->width + 2 * margin, page->height + 2 * margin, bits, FILL };
    bands = (sl_bands_params){ params.width, params.height, image->channels, bits };
    if (st == SL_OK)
        st = sl_resampler_new(&resampler, image, page->tone, map_px, &map, &params, err);
    for (size_t i = 0; i < count && st == SL_OK; i++)
        st = open_sink(&sinks[i], page, &target[i], margin, bits, err);
    if (st == SL_OK)
        st = sl_bands_write(resampler, sinks, count, &bands,
                            context != NULL ? context->pool : NULL, stop, err);
    for (size_t i = 0; i < count && st == SL_OK; i++)
        st = sl_writer_finish(sinks[i].writer, err);
    if (st == SL_OK)
        page->filled = sl_resampler_outside(resampler);
    for (size_t i = 0; i < count; i++) {
        sl_writer_free(sinks[i].writer);
        sl_colour_free(sinks[i].colour);
    }
    sl_resampler_free(resampler);
    sl_page_mapper_free(mapper);
    return st;
}

/* Does the target ask for fewer px than the page has? */
static bool is_small(const sl_page *page, const sl_target *target)
{
    return target->long_side > 0
           && (target->long_side < page->width || target->long_side < page->height);
}

/*
 * The page as a small copy shows it: with so many px on its longer side, square, and the ppi that
 * this makes. Everything else is `page`'s own.
 */
static sl_page view_small(const sl_page *page, size_t long_side)
{
    const double *unit = page->rectified.map.page;
    sl_page view = *page;

    view.px_per_unit = (double)long_side / fmax(unit[0], unit[1]);
    view.width = (size_t)fmax(1, round(unit[0] * view.px_per_unit));
    view.height = (size_t)fmax(1, round(unit[1] * view.px_per_unit));
    view.margin_px = 0;
    if (page->written_ppi > 0) {
        view.written_ppi = view.px_per_unit * MM_PER_INCH;
        view.interpolated = view.written_ppi > page->inspection.native_ppi.p5;
    }
    return view;
}

sl_status sl_page_write(sl_page *page, const sl_target *target, size_t count,
                        sl_context *context, const volatile int *stop, sl_error *err)
{
    sl_target whole[SL_SINKS_MOST];
    size_t wholes = 0;
    sl_status st = SL_OK;

    if (!page->has_map || page->shot->image->data == NULL || count == 0 || count > SL_SINKS_MOST)
        return sl_fail(err, SL_ERR_ARG, "album", "there is no page to write");
    for (size_t i = 0; i < count; i++)
        if (!is_small(page, &target[i]))
            whole[wholes++] = target[i];
    if (wholes > 0)
        st = write_together(page, whole, wholes, context, stop, err);
    /* a small copy is resampled from the shot too: once, and no blur is laid over another */
    for (size_t i = 0; i < count && st == SL_OK; i++) {
        sl_page view;

        if (!is_small(page, &target[i]))
            continue;
        view = view_small(page, target[i].long_side);
        st = write_together(&view, &target[i], 1, context, stop, err);
        if (wholes == 0)
            page->filled = view.filled;
    }
    return st;
}
