/* Rendering: every shot px looks where it sees the page or the table, in linear light. */
#include "scenes/scene.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "scenes/camera.h"
#include "scenes/page.h"

static const double PAGE_SCALE = 10;   /* px per mm of the drawn page: no coarser than the shots */
static const double ACROSS = 8;        /* px of the shot between places that are solved exactly */

scene scene_default(void)
{
    return (scene){ .page_mm = { 304.8, 304.8 }, .width = 4032, .height = 3024,
                    .focal_px = 28.0 * 5040 / 43.27, .fill = 0.88, .lamp = { 1, 1 },
                    .exposure = 1, .cast = { 1, 1, 1 }, .shadow = 0.35, .shadow_mm = { 1.5, 2 },
                    .blur_px = 0.7, .noise = 0.006, .seed = 1 };
}

static sl_status fail(sl_error *err, sl_status status, const char *what)
{
    if (err != NULL) {
        err->status = status;
        err->stage = "scene";
        (void)snprintf(err->detail, sizeof err->detail, "%s", what);
    }
    return status;
}

/* ---- truth ----------------------------------------------------------------------------------- */

sl_point scene_point(const scene *s, double u_mm, double v_mm)
{
    scene_camera c;

    scene_camera_set(&c, s);
    return scene_camera_page(&c, u_mm, v_mm);
}

void scene_find_truth(scene_truth *out, const scene *s)
{
    const double w = s->page_mm[0];
    const double h = s->page_mm[1];
    scene_camera c;

    scene_camera_set(&c, s);
    for (int k = 0; k < SCENE_EDGE; k++) {
        const double t = (double)k / (SCENE_EDGE - 1);

        out->edge[SL_TOP][k] = scene_camera_page(&c, t * w, 0);
        out->edge[SL_RIGHT][k] = scene_camera_page(&c, w, t * h);
        out->edge[SL_BOTTOM][k] = scene_camera_page(&c, (1 - t) * w, h);
        out->edge[SL_LEFT][k] = scene_camera_page(&c, 0, (1 - t) * h);
    }
    for (int k = 0; k < 4; k++)
        out->corner[k] = out->edge[k][0];
    for (int j = 0; j < SCENE_GRID; j++)
        for (int i = 0; i < SCENE_GRID; i++)
            out->grid[j][i] = scene_camera_page(&c, w * i / (SCENE_GRID - 1),
                                                h * j / (SCENE_GRID - 1));
}

/* ---- where a px looks ------------------------------------------------------------------------ */

/* Page and table places on a coarse grid of shot px, interpolated by Catmull-Rom's cubic. */
typedef struct looks {
    size_t  width;           /* nodes, one more all round than the shot needs */
    size_t  height;
    double *node;            /* u, v on the page; x, y on the table */
} looks;

static sl_status solve_looks(looks *out, const scene_camera *c)
{
    const scene *s = c->scene;
    double start[2] = { s->page_mm[0] / 2, s->page_mm[1] / 2 };

    out->width = (size_t)ceil((double)s->width / ACROSS) + 4;
    out->height = (size_t)ceil((double)s->height / ACROSS) + 4;
    out->node = malloc(out->width * out->height * 4 * sizeof *out->node);
    if (out->node == NULL)
        return SL_ERR_NOMEM;
    for (size_t j = 0; j < out->height; j++) {
        double uv[2] = { start[0], start[1] };

        for (size_t i = 0; i < out->width; i++) {
            const sl_point px = { ((double)i - 1) * ACROSS, ((double)j - 1) * ACROSS };
            const sl_point table = scene_camera_table(c, px);
            double *n = out->node + 4 * (j * out->width + i);

            if (!scene_camera_see(c, px, uv)) {
                uv[0] = s->page_mm[0] / 2;
                uv[1] = s->page_mm[1] / 2;
                if (!scene_camera_see(c, px, uv))
                    return SL_ERR_ARG;
            }
            n[0] = uv[0];
            n[1] = uv[1];
            n[2] = table.x;
            n[3] = table.y;
            if (i == 0)
                memcpy(start, uv, sizeof start);
        }
    }
    return SL_OK;
}

static void cubic(double w[4], double t)
{
    w[0] = t * (-0.5 + t * (1 - 0.5 * t));
    w[1] = 1 + t * t * (-2.5 + 1.5 * t);
    w[2] = t * (0.5 + t * (2 - 1.5 * t));
    w[3] = t * t * (-0.5 + 0.5 * t);
}

static void look_at(double out[4], const looks *l, size_t x, const double wy[4], size_t j)
{
    const double at = (double)x / ACROSS;
    const size_t i = (size_t)at;
    double wx[4];

    cubic(wx, at - (double)i);
    memset(out, 0, 4 * sizeof *out);
    for (size_t b = 0; b < 4; b++) {
        const double *row = l->node + 4 * ((j + b) * l->width + i);

        for (size_t a = 0; a < 4; a++) {
            const double w = wx[a] * wy[b];

            for (size_t k = 0; k < 4; k++)
                out[k] += w * row[4 * a + k];
        }
    }
}

/* ---- what it sees ---------------------------------------------------------------------------- */

typedef struct drawn {
    float *data;
    size_t width;
    size_t height;
} drawn;

/* Bilinear look at the drawn page. */
static void page_colour(float out[3], const drawn *page, double u, double v)
{
    const double x = fmin(fmax(u * PAGE_SCALE - 0.5, 0), (double)page->width - 1.001);
    const double y = fmin(fmax(v * PAGE_SCALE - 0.5, 0), (double)page->height - 1.001);
    const size_t i = (size_t)x;
    const size_t j = (size_t)y;
    const float fx = (float)(x - (double)i);
    const float fy = (float)(y - (double)j);
    const float *p = page->data + 3 * (j * page->width + i);
    const float *q = p + 3 * page->width;

    for (int k = 0; k < 3; k++)
        out[k] = (1 - fy) * ((1 - fx) * p[k] + fx * p[k + 3]) + fy * ((1 - fx) * q[k] + fx * q[k + 3]);
}

/* mm outside the page's outline, negative inside; corners rounded by `radius`. */
static double outside(const scene *s, double u, double v)
{
    const double r = s->rounded_mm;
    const double dx = fabs(u - s->page_mm[0] / 2) - s->page_mm[0] / 2 + r;
    const double dy = fabs(v - s->page_mm[1] / 2) - s->page_mm[1] / 2 + r;

    return hypot(fmax(dx, 0), fmax(dy, 0)) + fmin(fmax(dx, dy), 0) - r;
}

static double light_at(const scene *s, double u, double v)
{
    const double across = (u / s->page_mm[0] - 0.5) * 0.9;
    const double along = (v / s->page_mm[1] - 0.5) * 0.9;
    const double left = s->lamp[0] / (1 + 0.55 * (across + 0.5) + 0.3 * along * along);
    const double right = s->lamp[1] / (1 + 0.55 * (0.5 - across) + 0.3 * along * along);

    return 0.62 * (left + right);
}

static void see(float out[3], const scene *s, const drawn *page, const double at[4],
                double px_per_mm, double vignette)
{
    const double d = outside(s, at[0], at[1]);
    const double cover = fmin(fmax(0.5 - d * px_per_mm, 0), 1);
    const double lit = s->exposure * vignette;
    float rgb[3] = { 0, 0, 0 };

    if (cover > 0) {
        const double g = s->glare > 0 ? s->glare
                                            * exp(-(pow(at[0] - s->glare_mm[0], 2)
                                                    + pow(at[1] - s->glare_mm[1], 2))
                                                  / 450)
                                      : 0;

        page_colour(rgb, page, at[0], at[1]);
        for (int k = 0; k < 3; k++)
            rgb[k] = (float)(cover * (rgb[k] * light_at(s, at[0], at[1]) + g));
    }
    if (cover < 1) {
        /* the table, under the page's shadow, or the album's lower sheets */
        const double sd = outside(s, at[0] - s->shadow_mm[0], at[1] - s->shadow_mm[1]);
        const double shade = 1 - s->shadow * fmin(fmax(0.5 - sd / 4, 0), 1) - 0.25 * exp(-fmax(d, 0) / 0.6);
        scene_colour under = scene_table_colour(s, at[2], at[3]);

        if (s->lower_mm > 0 && d < s->lower_mm && at[0] > s->page_mm[0] / 2) {
            under = scene_paper_colour(s, at[0], at[1]);
            under.r *= 0.86f;
            under.g *= 0.85f;
            under.b *= 0.82f;
        }
        rgb[0] += (float)((1 - cover) * under.r * shade * light_at(s, at[2], at[3]));
        rgb[1] += (float)((1 - cover) * under.g * shade * light_at(s, at[2], at[3]));
        rgb[2] += (float)((1 - cover) * under.b * shade * light_at(s, at[2], at[3]));
    }
    for (int k = 0; k < 3; k++)
        out[k] = (float)(rgb[k] * lit * s->cast[k]);
}

/* ---- lens and sensor ------------------------------------------------------------------------- */

/* Gaussian blur in linear light, separable; kernel to 3.5 sigma. */
static sl_status blur(float *data, size_t width, size_t height, double sigma)
{
    enum { REACH = 40 };
    const int reach = (int)fmin(ceil(3.5 * sigma), REACH);
    const size_t longest = width > height ? width : height;
    float kernel[2 * REACH + 1];
    float *line = malloc(longest * 3 * sizeof *line);
    double sum = 0;

    if (line == NULL)
        return SL_ERR_NOMEM;
    for (int k = -reach; k <= reach; k++)
        sum += exp(-0.5 * k * k / (sigma * sigma));
    for (int k = -reach; k <= reach; k++)
        kernel[k + reach] = (float)(exp(-0.5 * k * k / (sigma * sigma)) / sum);
    for (int pass = 0; pass < 2; pass++) {
        const size_t lines = pass == 0 ? height : width;
        const size_t count = pass == 0 ? width : height;
        const size_t step = pass == 0 ? 3 : 3 * width;

        for (size_t i = 0; i < lines; i++) {
            float *first = data + (pass == 0 ? 3 * width * i : 3 * i);

            for (size_t k = 0; k < count; k++)
                memcpy(line + 3 * k, first + k * step, 3 * sizeof *line);
            for (size_t k = 0; k < count; k++) {
                float acc[3] = { 0, 0, 0 };

                for (int d = -reach; d <= reach; d++) {
                    const long at = (long)k + d;
                    const size_t from = at < 0 ? 0 : at >= (long)count ? count - 1 : (size_t)at;

                    for (int c = 0; c < 3; c++)
                        acc[c] += kernel[d + reach] * line[3 * from + (size_t)c];
                }
                memcpy(first + k * step, acc, sizeof acc);
            }
        }
    }
    free(line);
    return SL_OK;
}

static unsigned char coded(double l)
{
    /* IEC 61966-2-1 */
    const double v = l <= 0.0031308 ? 12.92 * l : 1.055 * pow(l, 1 / 2.4) - 0.055;

    return (unsigned char)(255 * fmin(fmax(v, 0), 1) + 0.5);
}

static void expose(sl_image *image, const float *data, const scene *s)
{
    enum { TABLE = 4096 };
    unsigned char table[TABLE + 1];
    uint64_t state = s->seed * 2654435761u + 12345;

    /* coded by table over the square root, where sRGB is nearly straight */
    for (int i = 0; i <= TABLE; i++)
        table[i] = coded((double)i / TABLE * i / TABLE);
    for (size_t y = 0; y < image->height; y++)
        for (size_t x = 0; x < 3 * image->width; x++) {
            const float l = data[y * 3 * image->width + x];
            /* shot noise grows with the root of the light, read noise is there in the dark too;
               the sum of three uniforms is near enough to normal */
            const double n = s->noise * sqrt(fmax(l, 0) * 0.9 + 0.02)
                             * (scene_random(&state) + scene_random(&state) + scene_random(&state)
                                - 1.5)
                             * 2;
            const double v = fmin(fmax(l + n, 0), 1);

            image->data[y * image->stride + x] = table[(size_t)(sqrt(v) * TABLE + 0.5)];
        }
}

/* ---- the whole ------------------------------------------------------------------------------- */

sl_status scene_render(sl_image **out, const scene *s, sl_error *err)
{
    scene_camera *c = malloc(sizeof *c);
    looks l = { 0, 0, NULL };
    drawn page = { NULL, 0, 0 };
    float *data = malloc(s->width * s->height * 3 * sizeof *data);
    sl_image *image = NULL;
    sl_status st = SL_ERR_NOMEM;

    page.data = scene_draw_page(s, PAGE_SCALE, &page.width, &page.height);
    if (c == NULL || data == NULL || page.data == NULL)
        goto done;
    scene_camera_set(c, s);
    st = solve_looks(&l, c);
    if (st != SL_OK)
        goto done;
    for (size_t y = 0; y < s->height; y++) {
        const double at_y = (double)y / ACROSS;
        const size_t j = (size_t)at_y;
        double wy[4];
        double before[4] = { 0 };

        cubic(wy, at_y - (double)j);
        for (size_t x = 0; x < s->width; x++) {
            const double rx = ((double)x - (double)s->width / 2) / s->focal_px;
            const double ry = ((double)y - (double)s->height / 2) / s->focal_px;
            const double cosine2 = 1 / (1 + 0.6 * (rx * rx + ry * ry));
            double at[4];
            double step;

            look_at(at, &l, x, wy, j);
            step = x > 0 ? hypot(at[0] - before[0], at[1] - before[1]) : 0.1;
            memcpy(before, at, sizeof at);
            see(data + 3 * (y * s->width + x), s, &page, at, 1 / fmax(step, 1e-3),
                cosine2 * cosine2);
        }
    }
    if (s->blur_px > 0)
        st = blur(data, s->width, s->height, s->blur_px);
    if (st == SL_OK)
        st = sl_image_new(&image, s->width, s->height, 3, 8, err);
    if (st == SL_OK) {
        expose(image, data, s);
        *out = image;
    }
done:
    free(page.data);
    free(l.node);
    free(data);
    free(c);
    return st == SL_OK ? SL_OK
                       : fail(err, st, st == SL_ERR_ARG ? "the page cannot be seen from there"
                                                        : "out of memory");
}
