/*
 * The least that a program needs to flatten a page: one shot in, one page out, and what is to be
 * said of it.
 *
 * usage: flatten-one SHOT PAGE SIZE      like shot.jpg page.tif 12x12in
 * build: cc -o flatten-one flatten-one.c $(pkg-config --cflags --libs squareleaf)
 */
#include <squareleaf.h>
#include <stdio.h>

int main(int argc, char **argv)
{
    sl_settings settings = sl_settings_defaults();
    sl_page *page = NULL;
    sl_error err = { SL_OK, NULL, "" };
    int status = 2;

    if (argc != 4 || sl_page_size_parse(settings.page_mm, argv[3], &err) != SL_OK) {
        (void)fprintf(stderr, "usage: flatten-one SHOT PAGE SIZE  %s\n", err.detail);
        return 64;
    }
    if (sl_page_load(&page, argv[1], &settings, NULL, &err) != SL_OK) {
        (void)fprintf(stderr, "%s: %s\n", argv[1], err.detail);
        return 2;
    }
    for (size_t i = 0; i < page->inspection.reason_count; i++)
        (void)printf("%s: %s\n", sl_verdict_name(page->inspection.reason[i].weight),
                     page->inspection.reason[i].text);
    if (!page->has_map)
        (void)fprintf(stderr, "%s: no page was found\n", argv[1]);
    else if (sl_page_save(page, argv[2], argv[1], sl_format_of_name(argv[2]), false, NULL, NULL,
                          &err) != SL_OK)
        (void)fprintf(stderr, "%s: %s\n", argv[2], err.detail);
    else {
        (void)printf("%s: %zu x %zu px, %.0f ppi written, %.0f ppi in the shot\n", argv[2],
                     page->width, page->height, page->written_ppi,
                     page->inspection.native_ppi.p5);
        status = page->inspection.verdict == SL_PASS ? 0 : 1;
    }
    sl_page_free(page);
    return status;
}
