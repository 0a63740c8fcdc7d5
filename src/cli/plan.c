#include <stdio.h>
#include <stdlib.h>

#include "cli/cli.h"

enum { PAGES = 100 };        /* an album's worth, unless --pages says more */

static const double MM_PER_INCH = 25.4;

/* In the unit that the size reads best in: whole millimetres and tenths of an inch. */
static void print_page(const char *before, const double mm[2], const char *after)
{
    (void)printf("%s%.0f x %.0f mm (%.1f x %.1f in)%s", before, mm[0], mm[1],
                 mm[0] / MM_PER_INCH, mm[1] / MM_PER_INCH, after);
}

static void print_camera(const sl_plan *p, unsigned pages)
{
    (void)printf("Camera: %zu x %zu px (%.1f megapixels)\n", p->camera[0], p->camera[1],
                 (double)p->camera[0] * (double)p->camera[1] / 1e6);
    print_page("Page:   ", p->page_mm, "");
    (void)printf(", at %g ppi %zu x %zu px (%.1f megapixels)\n\n", p->ppi, p->page_px[0],
                 p->page_px[1], p->page_mp);
    (void)printf("When the page fills the picture this camera holds %.0f ppi of it;\n"
                 "when it fills 90 %%, with table all round: %.0f ppi.\n",
                 p->native_ppi, p->native_ppi_90);
    (void)printf("At %g ppi the largest page of this shape is ", p->ppi);
    print_page("", p->largest_mm, ";\n");
    print_page("with table all round ", p->largest_mm_90, ".\n");
    (void)printf("For this page at %g ppi in one shot a camera of this shape needs %.1f megapixels,\n"
                 "with table all round %.1f.\n",
                 p->ppi, p->camera_mp, p->camera_mp_90);
    if (p->shots_per_page == 1)
        (void)puts("One shot a page is enough.");
    else
        (void)printf("Or in parts: %zu shots a page (%zu x %zu), each sharing %.0f %% with the "
                     "next.\n",
                     p->shots_per_page, p->shots[0], p->shots[1], 100 * SL_PLAN_OVERLAP);
    (void)printf("\nDisk space for %u pages at %g ppi: about %.1f GB of TIFF masters (Deflate keeps\n"
                 "%.0f %% of 8-bit RGB) and %.1f GB of JPEG access copies (%.0f %%); the shots are "
                 "extra.\n",
                 pages, p->ppi, pages * p->master_bytes / 1e9, 100 * SL_PLAN_MASTER_SHARE,
                 pages * p->access_bytes / 1e9, 100 * SL_PLAN_ACCESS_SHARE);
}

static void print_shot(const char *name, const sl_page *page)
{
    const sl_inspection *in = &page->inspection;
    const sl_advice advice = sl_plan_advice(page);

    if (page->has_map) {
        (void)printf("\nThe test shot %s: the page was found.\n", name);
        (void)printf("  share of the picture  %.0f %%\n", 100 * in->frame_share);
        if (in->has_ppi)
            (void)printf("  native ppi            %.0f (95 %% of the page has more)\n",
                         in->native_ppi.p5);
        (void)printf("  tilt                  %.1f degrees\n", in->tilt_deg);
        (void)printf("  evenness of light     %.0f %%\n", 100 * in->evenness);
        (void)printf("  glare                 %.1f %% of the page\n", 100 * in->glare);
        (void)printf("  sharpness             %.0f %% of what the pixels can hold\n",
                     100 * in->sharpness);
    } else {
        (void)printf("\nThe test shot %s: no page was found.\n", name);
    }
    if (advice.count == 0)
        (void)puts("Nothing needs to be moved.");
    for (size_t i = 0; i < advice.count; i++)
        (void)printf("%s %s\n", i == 0 ? "\nWhat to do:\n -" : " -", advice.text[i]);
}

static int refuse_usage(const char *what)
{
    (void)fprintf(stderr, "squareleaf: plan wants %s: see squareleaf plan --help\n", what);
    return EXIT_USAGE;
}

int run_plan(const arguments *args)
{
    const char *shot = args->operands == 1 ? args->operand[0] : NULL;
    const unsigned pages = args->pages > 0 ? args->pages : PAGES;
    size_t camera[2] = { args->camera[0], args->camera[1] };
    sl_page *page = NULL;
    sl_plan plan;
    sl_error err = { SL_OK, NULL, "" };
    char *text = NULL;
    int status = EXIT_PASS;

    if (!(args->settings.page_mm[0] > 0))
        return refuse_usage("--page-size, like 12x12in or a4");
    if (shot == NULL && camera[0] == 0)
        return refuse_usage("--camera WxH, like 4032x3024, or a SHOT");
    if (shot != NULL) {
        if (sl_page_load(&page, shot, &args->settings, NULL, &err) != SL_OK) {
            complain(shot, &err);
            return err.status == SL_ERR_IO ? EXIT_NO_INPUT : exit_of_error(&err);
        }
        /* a SHOT tells the camera's size, unless it is told */
        if (camera[0] == 0) {
            camera[0] = page->shot->image->width;
            camera[1] = page->shot->image->height;
        }
    }
    if (sl_plan_camera(&plan, camera, args->settings.page_mm, args->settings.ppi, &err) != SL_OK
        || (args->json && sl_plan_json(&text, &plan, pages, page, &err) != SL_OK)) {
        complain("plan", &err);
        status = exit_of_error(&err);
    } else if (args->json) {
        (void)fputs(text, stdout);
    } else {
        print_camera(&plan, pages);
        if (page != NULL)
            print_shot(shot, page);
    }
    if (status == EXIT_PASS && page != NULL && !page->has_map)
        status = EXIT_RESHOOT;
    free(text);
    sl_page_free(page);
    return status;
}
