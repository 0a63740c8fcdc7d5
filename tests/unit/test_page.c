/*
 * The whole chain on the kept shots of testdata/: the page map against the exact truth that was
 * written when they were drawn. Runs from the project's top folder.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "squareleaf.h"

enum { GRID = 33 };

/* The points behind a key of the truth file: pairs in order. */
static size_t read_points(sl_point *to, size_t most, const char *path, const char *key)
{
    FILE *file = fopen(path, "r");
    char *text = malloc(1 << 20);
    size_t n = 0;
    char *p;

    assert_non_null(file);
    assert_non_null(text);
    text[fread(text, 1, (1 << 20) - 1, file)] = '\0';
    (void)fclose(file);
    p = strstr(text, key);
    assert_non_null(p);
    p = strchr(p, '[');
    for (; n < most && p != NULL; n++) {
        char *end;

        p = strchr(p + 1, '[');
        if (p == NULL)
            break;
        to[n].x = strtod(p + 1, &end);
        to[n].y = strtod(end + 1, &end);
        p = end;
    }
    free(text);
    return n;
}

static void page_map_meets_the_truth(const char *name, double rms_mm, double most_mm,
                                     sl_verdict verdict)
{
    static sl_point truth[GRID * GRID];
    sl_settings settings = sl_settings_defaults();
    sl_page *page = NULL;
    sl_error err = { SL_OK, NULL, "" };
    char path[200];
    double sum = 0;
    double worst = 0;

    settings.page_mm[0] = settings.page_mm[1] = 304.8;
    settings.min_ppi = 50;
    (void)snprintf(path, sizeof path, "testdata/%s.json", name);
    assert_int_equal(read_points(truth, GRID * GRID, path, "\"grid_px\""), GRID * GRID);
    (void)snprintf(path, sizeof path, "testdata/%s.jpg", name);
    if (sl_page_load(&page, path, &settings, NULL, &err) != SL_OK)
        fail_msg("%s: %s", path, err.detail);
    assert_true(page->has_map);
    for (int v = 0; v < GRID; v++) {
        for (int u = 0; u < GRID; u++) {
            const double at[2] = { 304.8 * u / (GRID - 1), 304.8 * v / (GRID - 1) };
            const sl_point p = sl_page_map_point(&page->rectified.map, at[0], at[1]);
            const double dx = p.x - truth[v * GRID + u].x;
            const double dy = p.y - truth[v * GRID + u].y;
            double j[4];
            double det;
            double off;

            sl_page_map_jacobian(j, &page->rectified.map, at[0], at[1]);
            det = j[0] * j[3] - j[1] * j[2];
            off = hypot((dx * j[3] - dy * j[1]) / det, (dy * j[0] - dx * j[2]) / det);
            sum += off * off;
            worst = fmax(worst, off);
        }
    }
    /* the bound holds for 95 pages in 100, not for each: but never far beyond it */
    if (sqrt(sum / (GRID * GRID)) > rms_mm || worst > most_mm
        || worst > 1.5 * page->rectified.inside_error_mm)
        fail_msg("%s: rms %.3f mm, largest %.3f mm, said %.3f mm", name,
                 sqrt(sum / (GRID * GRID)), worst, page->rectified.inside_error_mm);
    assert_int_equal(page->inspection.verdict, verdict);
    sl_page_free(page);
}

/* design, section 12; the shots have a ninth of 12 Mpx, so that the bars are looser by three */
static void lens_bow_is_undone(void **state)
{
    (void)state;
    page_map_meets_the_truth("lens", 0.10, 0.30, SL_PASS);
}

/* Seen from straight above: the two curved sides tell it, and a flat page through the two straight
   ones, which gives the curved ones up, is no reason for doubt. */
static void curl_is_undone(void **state)
{
    (void)state;
    page_map_meets_the_truth("bow", 0.12, 0.40, SL_PASS);
}

static void a_hand_s_tilt_is_undone(void **state)
{
    (void)state;
    page_map_meets_the_truth("hand", 0.12, 0.40, SL_PASS);
}

static void a_shot_that_is_none_is_an_error(void **state)
{
    const sl_settings settings = sl_settings_defaults();
    sl_page *page = NULL;
    sl_error err = { SL_OK, NULL, "" };

    (void)state;
    assert_int_equal(sl_page_load(&page, "testdata/README.md", &settings, NULL, &err),
                     SL_ERR_FORMAT);
    assert_null(page);
    assert_int_equal(sl_page_load(&page, "testdata", &settings, NULL, &err), SL_ERR_FORMAT);
    assert_true(sl_page_load(&page, "testdata/nothing.jpg", &settings, NULL, &err) != SL_OK);
    assert_non_null(strstr(err.detail, "nothing.jpg"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lens_bow_is_undone),
        cmocka_unit_test(curl_is_undone),
        cmocka_unit_test(a_hand_s_tilt_is_undone),
        cmocka_unit_test(a_shot_that_is_none_is_an_error),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
