/*
 * Resampling beside OpenCV's warpPerspective with its cubic and its Lanczos kernel of 8 x 8, on
 * pictures that are functions of linear light, so that the true page is known; and sharpness by
 * the slanted edge of ISO 12233.
 */
#include "support/patterns.h"

/* ---- OpenCV -------------------------------------------------------------------------------- */

static const struct { double low; double high; } contrasts[] = {
    { 0.02, 0.98 }, { 0.06, 0.60 }, { 0.15, 0.30 }
};

static void no_case_is_worse_than_opencv(void **state)
{
    sl_tone *tone = srgb();
    size_t number = 0;
    size_t worse = 0;
    char command[700];
    folder f;

    (void)state;
    if (!has_opencv()) {
        sl_tone_free(tone);
        skip();
    }
    f = new_folder();
    for (size_t view = 0; view < COUNT(views); view++) {
        for (int kind = 0; kind < PATTERNS; kind++) {
            for (size_t c = 0; c < COUNT(contrasts); c++) {
                const scene s =
                    scene_of(view, (pattern)kind, contrasts[c].low, contrasts[c].high);
                sl_image *shot = shoot(&s, tone);

                write_job(&f, number++, &s, shot);
                sl_image_free(shot);
            }
        }
    }
    (void)snprintf(command, sizeof command, PYTHON " " SCRIPT " %s", f.path);
    assert_int_equal(system(command), 0);
    number = 0;
    print_message("PSNR in dB of 8-bit codes: ours, OpenCV's Lanczos 8 x 8, its cubic\n");
    for (size_t view = 0; view < COUNT(views); view++) {
        for (int kind = 0; kind < PATTERNS; kind++) {
            for (size_t c = 0; c < COUNT(contrasts); c++) {
                const scene s =
                    scene_of(view, (pattern)kind, contrasts[c].low, contrasts[c].high);
                const size_t size = s.width * s.height;
                sl_image *shot = shoot(&s, tone);
                unsigned char *mine = ours(&s, tone, shot, 3);
                unsigned char *grey = ours(&s, tone, shot, 1);
                unsigned char *lanczos4 = read_output(&f, number, ".lanczos4", size);
                unsigned char *cubic = read_output(&f, number, ".cubic", size);
                const double a = fmin(psnr(&s, tone, mine), psnr(&s, tone, grey));
                const double b = psnr(&s, tone, lanczos4);
                const double d = psnr(&s, tone, cubic);

                print_message("%-22s %-13s %.2f-%.2f  %6.2f %6.2f %6.2f%s\n", views[view].name,
                              pattern_names[kind], contrasts[c].low, contrasts[c].high, a, b, d,
                              a < b || a < d ? "  worse" : "");
                worse += a < b || a < d;
                free(grey);
                free(mine);
                free(lanczos4);
                free(cubic);
                sl_image_free(shot);
                number++;
            }
        }
    }
    (void)snprintf(command, sizeof command, "rm -r '%s'", f.path);
    assert_int_equal(system(command), 0);
    sl_tone_free(tone);
    if (worse > 0)
        fail_msg("%zu of %zu cases are worse", worse, number);
}

/* ---- ISO 12233 ----------------------------------------------------------------------------- */

/*
 * Nothing is sharpened: at no frequency does the output have more modulation than the shot by
 * over 2 % (the strictest limit on the greatest modulation in FADGI's guidelines of 2023), and up
 * to 0.2 cycles a pixel of the coarser grid it keeps at least 98 %.
 */
static void an_edge_is_neither_sharpened_nor_dulled(void **state)
{
    static const double scales[] = { 0.4, 0.6, 0.83, 1.0, 1.1, 1.25, 1.5 };
    static const double sigmas[] = { 0.4, 0.6, 0.9 };
    const double slope = tan(5.0 * PI / 180.0);
    sl_tone *tone = srgb();

    (void)state;
    for (size_t k = 0; k < COUNT(scales); k++) {
        for (size_t b = 0; b < COUNT(sigmas); b++) {
            const size_t size = (size_t)(SHOT / scales[k]);
            const double middle = 0.5 * (SHOT - 1);
            const warp w = turned(0, scales[k], SHOT, SHOT, size, size);
            sl_image *shot = shoot_edge(SHOT, middle + 0.3, slope, sigmas[b], tone);
            const sl_resample_params params = { size, size, 16, 0.5 };
            sl_image *out = new_image(size, size, 1, 16);
            const double at = 0.5 * ((double)size - 1) + 0.3 / scales[k];
            /* The same edge as the output's own pixels would see it, measured the same way. */
            sl_image *ideal = shoot_edge(size, at, slope, sigmas[b] / scales[k], tone);
            sl_resampler *r = NULL;
            double had[REACH_PX + 1];
            double got[REACH_PX + 1];
            double most = 0.0;
            double least = HUGE_VAL;
            double greatest = 0.0;

            assert_int_equal(sl_resampler_new(&r, shot, tone, warp_at, &w, &params, NULL), SL_OK);
            assert_int_equal(sl_resampler_rows(r, 0, size, out->data, out->stride, NULL), SL_OK);
            measure_sfr(got, out, tone, at, slope);
            measure_sfr(had, ideal, tone, at, slope);
            for (size_t i = 0; i <= REACH_PX; i++) {
                const double f = (double)i / (2.0 * REACH_PX);

                greatest = fmax(greatest, got[i]);
                if (f / scales[k] > 0.5 || had[i] < 0.1)
                    continue;
                most = fmax(most, got[i] / had[i]);
                if (f <= 0.2 * fmin(1.0, scales[k]))
                    least = fmin(least, got[i] / had[i]);
            }
            print_message("scale %.2f, blur %.1f px: greatest SFR %.4f, output / shot %.4f to "
                          "%.4f\n", scales[k], sigmas[b], greatest, least, most);
            if (most > 1.02 || greatest > 1.02 || least < 0.98)
                fail_msg("scale %g, blur %g px", scales[k], sigmas[b]);
            sl_resampler_free(r);
            sl_image_free(ideal);
            sl_image_free(out);
            sl_image_free(shot);
        }
    }
    sl_tone_free(tone);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_edge_is_neither_sharpened_nor_dulled),
        cmocka_unit_test(no_case_is_worse_than_opencv),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
