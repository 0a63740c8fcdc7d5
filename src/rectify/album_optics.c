/*
 * One camera for many pages.
 *
 * The pages touch only through the camera's five parameters. So each page is fitted alone
 * under what the others say of the camera, as a Gaussian, and says in turn what it has to add:
 * its own information on the camera, everything else of the page integrated out. Around the
 * pages a few times, and the sum is the joint fit's (the Schur complement of a star of blocks,
 * solved by block Gauss-Seidel), in sixteen small fits in place of one of 300 unknowns.
 */
#include "base/error.h"
#include "geometry/linear.h"
#include "rectify/search.h"

#include <math.h>
#include <stdlib.h>

enum { N = SL_CAMERA_COUNT, ROUNDS = 4, PAGES_MIN = 3 };

/* A Gaussian by its information: exp(-x' matrix x / 2 + x' vector), about the guess. */
typedef struct information {
    double matrix[N * N];
    double vector[N];
} information;

typedef struct page_fit {
    sl_seen seen;
    sl_page_map map;
    sl_fit_prior prior;
    sl_fit_free freedom;
    double scale;
    sl_fit_point block[SL_FIT_POINTS];
    information said;        /* what this page adds on the camera */
    bool good;
} page_fit;

static void add(information *to, const information *what, double sign)
{
    for (size_t i = 0; i < N * N; i++)
        to->matrix[i] += sign * what->matrix[i];
    for (size_t i = 0; i < N; i++)
        to->vector[i] += sign * what->vector[i];
}

/* Mean and covariance; false when the information is not positive. */
static bool moments(double mean[N], double covariance[N * N], const information *info)
{
    for (size_t i = 0; i < N * N; i++)
        covariance[i] = info->matrix[i];
    if (!sl_spd_invert(covariance, N))
        return false;
    for (size_t i = 0; i < N; i++) {
        mean[i] = 0.0;
        for (size_t k = 0; k < N; k++)
            mean[i] += covariance[i * N + k] * info->vector[k];
    }
    return true;
}

/* Upper root: root' root = matrix. False when it is not positive. */
static bool upper_root(double root[N * N], const double matrix[N * N])
{
    for (size_t i = 0; i < N * N; i++)
        root[i] = 0.0;
    for (size_t j = 0; j < N; j++)
        for (size_t i = 0; i <= j; i++) {
            double sum = matrix[i * N + j];

            for (size_t k = 0; k < i; k++)
                sum -= root[k * N + i] * root[k * N + j];
            if (i < j)
                root[i * N + j] = sum / root[i * N + i];
            else if (sum > 1e-12 * matrix[j * N + j])
                root[j * N + j] = sqrt(sum);
            else
                return false;
        }
    return true;
}

static void guess_values(double value[N], const sl_optics *guess)
{
    const double values[N] = { log(guess->focal_px), guess->centre_x, guess->centre_y,
                               guess->k1, guess->k2 };

    for (size_t i = 0; i < N; i++)
        value[i] = values[i];
}

static void prior_information(information *info, const sl_optics *guess)
{
    const double sigma[N] = { guess->ln_focal_sigma, guess->centre_sigma, guess->centre_sigma,
                              guess->k1_sigma, guess->k2_sigma };

    *info = (information){ { 0 }, { 0 } };
    for (size_t i = 0; i < N; i++)
        info->matrix[i * N + i] = 1.0 / (sigma[i] * sigma[i]);
}

/* ---- choice of pages ------------------------------------------------------------------- */

static double outline_distance(const sl_outline *a, const sl_outline *b)
{
    double sum = 0.0;

    for (size_t i = 0; i < 4; i++)
        sum += hypot(a->corner[i].x - b->corner[i].x, a->corner[i].y - b->corner[i].y);
    return sum;
}

/* Those that differ most: each next one is furthest from all taken (Gonzalez 1985). */
static size_t choose_pages(size_t chosen[SL_OPTICS_PAGES], const sl_outline *const *outlines,
                           size_t count)
{
    size_t n = 0;

    while (n < SL_OPTICS_PAGES && n < count) {
        size_t best = count;
        double furthest = -1.0;

        for (size_t i = 0; i < count; i++) {
            double nearest = n == 0 ? (double)(count - i) : INFINITY;
            bool taken = !outlines[i]->found;

            for (size_t k = 0; k < n; k++) {
                nearest = fmin(nearest, outline_distance(outlines[i], outlines[chosen[k]]));
                taken = taken || chosen[k] == i;
            }
            if (!taken && nearest > furthest) {
                furthest = nearest;
                best = i;
            }
        }
        if (best == count)
            break;
        chosen[n++] = best;
    }
    return n;
}

/* ---- a page ---------------------------------------------------------------------------- */

/* The page alone: its model and a start near the truth. */
static bool start_page(page_fit *page, sl_search *s, const sl_outline *outline)
{
    s->starts = s->ends = 0;
    if (sl_seen_from_outline(&s->seen, outline, NULL) != SL_OK
        || sl_search_run(s, NULL) != SL_OK)
        return false;

    const sl_candidate *const best = s->end + sl_search_choose(s);

    page->seen = s->seen;
    page->map = best->map;
    page->prior = best->prior;
    /* the lens is asked of every page; a flat page tells of it best */
    page->freedom = (sl_fit_free){ .lens = true, .sheet = best->freedom.sheet };
    page->scale = best->scale * sqrt(best->hang);
    return true;
}

/* Fits the page under `others` and sets what it adds to them. */
static bool fit_page(page_fit *page, const information *others, const double guess[N],
                     sl_fit_work *work)
{
    double mean[N];
    double covariance[N * N];
    double parameters[SL_P_COUNT * SL_P_COUNT];
    size_t index[SL_P_COUNT];
    double value[SL_P_COUNT];
    double ignored;

    if (!moments(mean, covariance, others) || !upper_root(page->prior.root, others->matrix))
        return false;
    page->prior.joint = true;
    for (size_t i = 0; i < N; i++)
        page->prior.mean[SL_CAMERA_FIRST + i] = guess[i] + mean[i];

    const size_t count = sl_seen_blocks(page->block, &page->seen, &page->map, work);

    for (size_t i = 0; i < count; i++)
        page->block[i].sigma *= page->scale;
    sl_search_reweigh(page->block, count);
    if (!sl_fit_solve(&page->map, &ignored, page->block, count, &page->prior, page->freedom, 1e-7,
                      40, work))
        return false;

    const size_t n = sl_fit_covariance(parameters, index, &page->map, page->block, count,
                                       &page->prior, page->freedom, work);
    information after;

    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < n; k++)
            if (index[i] >= SL_CAMERA_FIRST && index[i] < SL_CAMERA_FIRST + N
                && index[k] >= SL_CAMERA_FIRST && index[k] < SL_CAMERA_FIRST + N)
                after.matrix[(index[i] - SL_CAMERA_FIRST) * N + index[k] - SL_CAMERA_FIRST] =
                    parameters[i * n + k];
    if (n == 0 || !sl_spd_invert(after.matrix, N))
        return false;
    sl_view_pack(value, &page->map);
    for (size_t i = 0; i < N; i++) {
        after.vector[i] = 0.0;
        for (size_t k = 0; k < N; k++)
            after.vector[i] +=
                after.matrix[i * N + k] * (value[SL_CAMERA_FIRST + k] - guess[k]);
    }
    add(&after, others, -1.0);
    page->said = after;
    return true;
}

/*
 * Squared distance of what two pages say, each with the prior, in units of both their
 * covariances: chi-squared with N degrees of freedom for pages of one camera.
 */
static double disagreement(const page_fit *a, const page_fit *b, const information *prior)
{
    double mean[2][N];
    double covariance[2][N * N];
    double d2 = 0.0;

    for (size_t i = 0; i < 2; i++) {
        information alone = i == 0 ? a->said : b->said;

        add(&alone, prior, 1.0);
        if (!moments(mean[i], covariance[i], &alone))
            return INFINITY;
    }
    for (size_t i = 0; i < N * N; i++)
        covariance[0][i] += covariance[1][i];
    if (!sl_spd_invert(covariance[0], N))
        return INFINITY;
    for (size_t i = 0; i < N; i++)
        for (size_t k = 0; k < N; k++)
            d2 += (mean[0][i] - mean[1][i]) * covariance[0][i * N + k]
                  * (mean[0][k] - mean[1][k]);
    return d2;
}

/* ---- the album ------------------------------------------------------------------------- */

/* 99.9 % of chi-squared with 5 degrees of freedom (Abramowitz & Stegun, table 26.8). */
static const double DISAGREE = 20.5;

/* Keeps the page that most others agree with, and those; how many are left. */
static size_t keep_agreeing(page_fit *page, size_t pages, const information *prior)
{
    bool agrees[SL_OPTICS_PAGES][SL_OPTICS_PAGES];
    size_t best = 0;
    size_t most = 0;

    for (size_t i = 0; i < pages; i++) {
        size_t n = 0;

        for (size_t k = 0; k < pages; k++) {
            agrees[i][k] = page[i].good && page[k].good
                           && (i == k || disagreement(page + i, page + k, prior) < DISAGREE);
            n += agrees[i][k];
        }
        if (n > most) {
            most = n;
            best = i;
        }
    }
    for (size_t k = 0; k < pages; k++)
        page[k].good = page[k].good && agrees[best][k];
    return most;
}

/*
 * What is left to a page, as independent sigmas: of each parameter with the others at their
 * values, for the album's errors in k1 and k2 go together and their sum is far better known
 * than either; twice that, and not below what focusing anew does from page to page.
 */
static bool write_optics(sl_optics *out, const sl_optics *guess, const information *all)
{
    double mean[N];
    double covariance[N * N];

    if (!moments(mean, covariance, all))
        return false;

    sl_optics optics = *guess;

    optics.focal_px = guess->focal_px * exp(mean[0]);
    optics.centre_x += mean[1];
    optics.centre_y += mean[2];
    optics.k1 += mean[3];
    optics.k2 += mean[4];
    optics.ln_focal_sigma = fmin(guess->ln_focal_sigma, fmax(2.0 * sqrt(covariance[0]), 0.005));
    optics.centre_sigma =
        fmin(guess->centre_sigma,
             fmax(2.0 * sqrt(fmax(covariance[N + 1], covariance[2 * N + 2])), 2.0));
    optics.k1_sigma = fmin(guess->k1_sigma, fmax(2.0 / sqrt(all->matrix[3 * N + 3]), 0.001));
    optics.k2_sigma = fmin(guess->k2_sigma, fmax(2.0 / sqrt(all->matrix[4 * N + 4]), 0.002));
    optics.from_album = true;
    *out = optics;
    return true;
}

sl_status sl_optics_solve(sl_optics *out, const sl_outline *const *outlines, size_t count,
                          const sl_optics *guess, const sl_rectify_params *params,
                          sl_error *err)
{
    size_t chosen[SL_OPTICS_PAGES];
    const size_t pages = choose_pages(chosen, outlines, count);
    page_fit *const page = calloc(SL_OPTICS_PAGES, sizeof *page);
    sl_search *const s = calloc(1, sizeof *s);
    double centre[N];
    information prior;
    information all;
    size_t fitted = 0;
    size_t left = 0;
    sl_status st;

    if (page == NULL || s == NULL) {
        st = sl_fail(err, SL_ERR_NOMEM, "rectify", "no memory for the album's optics");
        goto done;
    }
    s->optics = guess;
    s->params = params;
    st = sl_fit_work_new(&s->work, err);
    if (st != SL_OK)
        goto done;
    guess_values(centre, guess);
    prior_information(&prior, guess);
    for (size_t i = 0; i < pages; i++)
        page[i].good = start_page(page + i, s, outlines[chosen[i]])
                       && fit_page(page + i, &prior, centre, s->work);
    for (size_t i = 0; i < pages; i++)
        fitted += page[i].good;
    left = keep_agreeing(page, pages, &prior);
    all = prior;
    for (size_t i = 0; i < pages; i++)
        if (page[i].good)
            add(&all, &page[i].said, 1.0);
    for (int round = 0; round < ROUNDS; round++)
        for (size_t i = 0; i < pages; i++) {
            information others = all;

            if (!page[i].good)
                continue;
            add(&others, &page[i].said, -1.0);
            page[i].good = fit_page(page + i, &others, centre, s->work);
            left -= !page[i].good;
            all = others;
            if (page[i].good)
                add(&all, &page[i].said, 1.0);
        }
    if (left < PAGES_MIN || 2 * left <= fitted) {
        st = sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                     "%zu of %zu pages agree on one camera; %d and more than half are needed",
                     left, pages, PAGES_MIN);
        goto done;
    }
    /* four times the prior's information on the lens: half its sigma */
    if (!(all.matrix[3 * N + 3] > 4.0 * prior.matrix[3 * N + 3])
        || !write_optics(out, guess, &all))
        st = sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                     "%zu pages tell no more of the lens than was known", left);
done:
    if (s != NULL)
        sl_fit_work_free(s->work);
    free(s);
    free(page);
    return st;
}
