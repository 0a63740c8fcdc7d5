/*
 * usage: quality
 * What the resampler does to pictures whose true page is known, beside OpenCV where it is there:
 * PSNR of 8-bit sRGB values; aliased energy: what is left, in dB of the pattern's own contrast,
 * where the pattern is too fine for the page's pixels; mean brightness of the page less the
 * truth's, in 1/1000 of white; and the slanted edge of ISO 12233 through each.
 */
#include "support/patterns.h"

enum { WAYS = 3 };

static const char *const ways[WAYS] = { "ours", "cubic", "lanczos4" };

typedef struct figures {
    double psnr;
    double aliased;          /* dB; NAN where nothing is too fine */
    double brightness;       /* 1/1000 */
} figures;

static double light_at(const sl_tone *tone, unsigned char code)
{
    return (double)sl_tone_linear8(tone)[code];
}

static figures judge(const scene *s, const sl_tone *tone, const unsigned char *out)
{
    double sum = 0.0;
    double truth = 0.0;
    double fine = 0.0;
    size_t n = 0;
    size_t fine_n = 0;
    figures f = { psnr(s, tone, out), (double)NAN, 0.0 };

    for (size_t y = 0; y < s->height; y++) {
        for (size_t x = 0; x < s->width; x++) {
            const sl_point p = warp_at(&s->map, (double)x, (double)y);
            const double light = light_at(tone, out[y * s->width + x]);
            double frequency[2];

            if (p.x < MARGIN || p.y < MARGIN || p.x > SHOT - 1 - MARGIN
                || p.y > SHOT - 1 - MARGIN)
                continue;
            (void)phase_at(frequency, s, (double)x, (double)y);
            sum += light;
            truth += light_of(s, (double)x, (double)y, true);
            n++;
            /* Some way beyond the limit: just there the truth itself has an edge. */
            if (hypot(frequency[0], frequency[1]) > 0.6) {
                const double off = light - 0.5 * (s->low + s->high);

                fine += off * off;
                fine_n++;
            }
        }
    }
    f.brightness = 1000.0 * (sum - truth) / (double)n;
    if (fine_n > 100) {
        const double contrast = 0.5 * (s->high - s->low);

        f.aliased = 10.0 * log10(fine / (double)fine_n / (0.5 * contrast * contrast) + 1e-9);
    }
    return f;
}

/* Codes of the page in each way; NULL where a peer is not there. */
static void warp_all(unsigned char *out[WAYS], const folder *f, size_t number, const scene *s,
                     const sl_tone *tone, const sl_image *shot, bool peers)
{
    const size_t size = s->width * s->height;

    out[0] = ours(s, tone, shot, 3);
    out[1] = peers ? read_output(f, number, ".cubic", size) : NULL;
    out[2] = peers ? read_output(f, number, ".lanczos4", size) : NULL;
}

static void run_peers(const folder *f)
{
    char command[700];

    (void)snprintf(command, sizeof command, PYTHON " " SCRIPT " %s", f->path);
    if (system(command) != 0)
        fail_msg("%s", command);
}

static void clear_folder(const folder *f)
{
    char command[700];

    (void)snprintf(command, sizeof command, "rm -r '%s'", f->path);
    (void)system(command);
}

static void zone_plates(const sl_tone *tone, bool peers)
{
    const folder f = new_folder();

    for (size_t view = 0; view < COUNT(views); view++) {
        const scene s = scene_of(view, ZONE, 0.06, 0.60);
        sl_image *shot = shoot(&s, tone);

        write_job(&f, view, &s, shot);
        sl_image_free(shot);
    }
    if (peers)
        run_peers(&f);
    (void)printf("zone plate: PSNR dB; aliased dB; brightness 1/1000 (ours, cubic, lanczos4)\n");
    for (size_t view = 0; view < COUNT(views); view++) {
        const scene s = scene_of(view, ZONE, 0.06, 0.60);
        sl_image *shot = shoot(&s, tone);
        unsigned char *out[WAYS];
        figures all[WAYS];

        warp_all(out, &f, view, &s, tone, shot, peers);
        for (int w = 0; w < WAYS; w++)
            all[w] = out[w] != NULL ? judge(&s, tone, out[w])
                                    : (figures){ (double)NAN, (double)NAN, (double)NAN };
        (void)printf("%-22s %6.2f %6.2f %6.2f; %6.1f %6.1f %6.1f; %+6.2f %+6.2f %+6.2f\n",
                     views[view].name, all[0].psnr, all[1].psnr, all[2].psnr, all[0].aliased,
                     all[1].aliased, all[2].aliased, all[0].brightness, all[1].brightness,
                     all[2].brightness);
        for (int w = 0; w < WAYS; w++)
            free(out[w]);
        sl_image_free(shot);
    }
    clear_folder(&f);
}

/* ---- slanted edges --------------------------------------------------------------------------- */

static sl_image *image_of(const unsigned char *codes, size_t size)
{
    sl_image *image = new_image(size, size, 1, 16);

    for (size_t y = 0; y < size; y++) {
        for (size_t x = 0; x < size; x++)
            set(image, x, y, 0, 257u * codes[y * size + x]);
    }
    return image;
}

/* Where the SFR falls to one half, cycles a pixel. */
static double mtf50(const double sfr[REACH_PX + 1])
{
    for (size_t k = 1; k <= REACH_PX; k++) {
        if (sfr[k] < 0.5)
            return ((double)k - (0.5 - sfr[k]) / (sfr[k - 1] - sfr[k])) / (2.0 * REACH_PX);
    }
    return 0.5;
}

static void edges(const sl_tone *tone, bool peers)
{
    static const double scales[] = { 0.4, 0.6, 0.83, 1.0, 1.25, 1.5 };
    static const double SIGMA = 0.6; /* of the shot's blur, px */
    const double slope = tan(5.0 * PI / 180.0);
    const folder f = new_folder();
    sl_image *shot = shoot_edge(SHOT, 0.5 * (SHOT - 1) + 0.3, slope, SIGMA, tone);
    sl_image *shot8 = new_image(SHOT, SHOT, 1, 8);

    for (size_t y = 0; y < SHOT; y++) {
        for (size_t x = 0; x < SHOT; x++)
            set(shot8, x, y, 0, (get(shot, x, y, 0) + 128u) / 257u);
    }
    for (int pass = 0; pass < 2; pass++) {
        for (size_t k = 0; k < COUNT(scales); k++) {
            const size_t size = (size_t)(SHOT / scales[k]);
            const scene s = { .width = size, .height = size,
                              .map = turned(0, scales[k], SHOT, SHOT, size, size) };
            const double at = 0.5 * ((double)size - 1) + 0.3 / scales[k];
            unsigned char *out[WAYS];
            double had[REACH_PX + 1];
            sl_image *ideal;

            if (pass == 0) {
                write_job(&f, k, &s, shot8);
                continue;
            }
            ideal = shoot_edge(size, at, slope, SIGMA / scales[k], tone);
            measure_sfr(had, ideal, tone, at, slope);
            sl_image_free(ideal);
            warp_all(out, &f, k, &s, tone, shot8, peers);
            (void)printf("scale %.2f: %.3f;", scales[k], mtf50(had));
            for (int w = 0; w < WAYS; w++) {
                double got[REACH_PX + 1];
                double most = 0.0;
                sl_image *page;

                if (out[w] == NULL)
                    continue;
                page = image_of(out[w], size);
                measure_sfr(got, page, tone, at, slope);
                for (size_t i = 0; i <= REACH_PX; i++) {
                    if ((double)i / (2.0 * REACH_PX) / scales[k] <= 0.5 && had[i] >= 0.1)
                        most = fmax(most, got[i] / had[i]);
                }
                (void)printf("  %s %.3f, %.4f", ways[w], mtf50(got), most);
                sl_image_free(page);
                free(out[w]);
            }
            (void)printf("\n");
        }
        if (pass == 0) {
            if (peers)
                run_peers(&f);
            (void)printf("slanted edge 4:1, blur 0.6 px: MTF50 of the shot in cycles a page px; "
                         "MTF50 and greatest SFR over the shot's of\n");
        }
    }
    sl_image_free(shot);
    sl_image_free(shot8);
    clear_folder(&f);
}

int main(void)
{
    sl_tone *tone = srgb();
    const bool peers = has_opencv();

    zone_plates(tone, peers);
    edges(tone, peers);
    sl_tone_free(tone);
    return 0;
}
