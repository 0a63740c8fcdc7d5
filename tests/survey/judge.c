#include "survey/judge.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { PATIENCE = 120 };     /* seconds, after which the program is ended */

static const char *const verdicts[VERDICTS] = { "pass", "look", "reshoot", "failed" };

const char *survey_verdict_name(survey_verdict verdict)
{
    return verdict < VERDICTS ? verdicts[verdict] : "";
}

/* ---- running the program --------------------------------------------------------------------- */

/* In the child. */
static void become(const char *program, const char *jpeg, const survey_shot *shot, int out)
{
    char size[64];
    char grid[16];
    char *arguments[] = { (char *)(uintptr_t)program, "outline", (char *)(uintptr_t)jpeg, "--json",
                          "--quiet", "--grid", grid, "--min-ppi", "20", "--page-size", size, NULL };

    (void)snprintf(grid, sizeof grid, "%d", SCENE_GRID);
    (void)snprintf(size, sizeof size, "%.10gx%.10gmm", shot->said_mm[0], shot->said_mm[1]);
    if (!(shot->said_mm[0] > 0))
        arguments[9] = NULL;
    (void)alarm(PATIENCE);   /* which outlives the call below */
    if (dup2(out, STDOUT_FILENO) >= 0)
        (void)execv(program, arguments);
    _exit(127);
}

static char *read_all(int from)
{
    size_t size = 0;
    size_t room = 1 << 16;
    char *text = malloc(room);

    while (text != NULL) {
        const ssize_t n = read(from, text + size, room - size - 1);

        if (n <= 0)
            break;
        size += (size_t)n;
        if (room - size < 4096) {
            char *more = realloc(text, room *= 2);

            if (more == NULL)
                free(text);
            text = more;
        }
    }
    if (text != NULL)
        text[size] = '\0';
    return text;
}

/* ---- reading its answer ---------------------------------------------------------------------- */

static bool read_point(sl_point *out, const json_t *from)
{
    const json_t *x = json_array_get(from, 0);
    const json_t *y = json_array_get(from, 1);

    *out = (sl_point){ json_number_value(x), json_number_value(y) };
    return json_is_number(x) && json_is_number(y);
}

static void read_reasons(survey_answer *out, const json_t *list)
{
    size_t used = 0;

    for (size_t i = 0; i < json_array_size(list) && used < sizeof out->reasons; i++) {
        const json_t *reason = json_array_get(list, i);
        const char *code = json_string_value(json_object_get(reason, "code"));
        const json_t *value = json_object_get(reason, "value");
        char *to = out->reasons + used;
        const size_t room = sizeof out->reasons - used;
        const int n = json_is_number(value)
                          ? snprintf(to, room, "%s%s %.3g", i > 0 ? ", " : "",
                                     code != NULL ? code : "?", json_number_value(value))
                          : snprintf(to, room, "%s%s", i > 0 ? ", " : "",
                                     code != NULL ? code : "?");

        used += n > 0 ? (size_t)n : 0;
    }
}

static bool read_answer(survey_answer *out, const json_t *root)
{
    static const char *const side[4] = { "top", "right", "bottom", "left" };
    const char *verdict = json_string_value(json_object_get(root, "verdict"));
    const json_t *edges = json_object_get(root, "edges");
    const json_t *grid = json_object_get(root, "grid");
    const json_t *inside = json_object_get(root, "inside_error_mm");

    out->verdict = VERDICTS;
    for (survey_verdict v = VERDICT_PASS; v < VERDICTS && verdict != NULL; v++)
        if (strcmp(verdict, verdicts[v]) == 0)
            out->verdict = v;
    if (out->verdict == VERDICTS)
        return false;
    read_reasons(out, json_object_get(root, "reasons"));
    out->confidence = json_number_value(json_object_get(root, "confidence"));
    out->inside_error_mm = json_is_number(inside) ? json_number_value(inside) : NAN;
    out->outline = json_array_size(grid) == (size_t)SCENE_GRID * SCENE_GRID;
    for (size_t k = 0; k < json_array_size(grid) && out->outline; k++)
        out->outline = read_point(&out->grid[k / SCENE_GRID][k % SCENE_GRID],
                                  json_array_get(grid, k));
    for (int e = 0; e < 4; e++) {
        const json_t *edge = json_object_get(edges, side[e]);
        const size_t n = json_array_size(edge);

        out->edge_points[e] = n < ANSWER_EDGE ? n : ANSWER_EDGE;
        for (size_t k = 0; k < out->edge_points[e]; k++)
            (void)read_point(&out->edge[e][k], json_array_get(edge, k * n / out->edge_points[e]));
    }
    return true;
}

bool survey_ask(survey_answer *out, char **json, double *seconds, const char *program,
                const char *jpeg, const survey_shot *shot)
{
    int ends[2];
    int status = 0;
    struct timespec from;
    struct timespec to;
    json_t *root = NULL;
    pid_t child;
    bool ok;

    memset(out, 0, sizeof *out);
    *json = NULL;
    (void)clock_gettime(CLOCK_MONOTONIC, &from);
    if (pipe(ends) != 0)
        return false;
    (void)fflush(NULL);
    child = fork();
    if (child == 0) {
        (void)close(ends[0]);
        become(program, jpeg, shot, ends[1]);
    }
    (void)close(ends[1]);
    if (child > 0)
        *json = read_all(ends[0]);
    (void)close(ends[0]);
    if (child < 0 || waitpid(child, &status, 0) != child)
        return false;
    (void)clock_gettime(CLOCK_MONOTONIC, &to);
    *seconds = (double)(to.tv_sec - from.tv_sec) + 1e-9 * (double)(to.tv_nsec - from.tv_nsec);
    /* 0, 1, 2: by the page's verdict */
    if (*json == NULL || !WIFEXITED(status) || WEXITSTATUS(status) > 2)
        return false;
    root = json_loads(*json, 0, NULL);
    ok = root != NULL && read_answer(out, root);
    json_decref(root);
    return ok;
}

/* ---- errors ---------------------------------------------------------------------------------- */

/* Cosine of the angle between a side of the true page and +x. */
static double points_right(const scene_truth *truth, int side)
{
    const sl_point a = truth->corner[side];
    const sl_point b = truth->corner[(side + 1) % 4];

    return (b.x - a.x) / hypot(b.x - a.x, b.y - a.y);
}

/* The program's corner m taken for the true corner m + turns. */
static double error_turned(const survey_answer *answer, const scene *s, const scene_truth *truth,
                           int turns)
{
    enum { LAST = SCENE_GRID - 1 };
    double worst = 0;

    for (int j = 0; j <= LAST; j++)
        for (int i = 0; i <= LAST; i++) {
            /* the place on the true page */
            const int u = turns == 0 ? i : turns == 1 ? LAST - j : turns == 2 ? LAST - i : j;
            const int v = turns == 0 ? j : turns == 1 ? i : turns == 2 ? LAST - j : LAST - i;
            const int u0 = u > 0 ? u - 1 : 0;
            const int u1 = u < LAST ? u + 1 : LAST;
            const int v0 = v > 0 ? v - 1 : 0;
            const int v1 = v < LAST ? v + 1 : LAST;
            const double du = (u1 - u0) * s->sheet[0].mm[0] / LAST;
            const double dv = (v1 - v0) * s->sheet[0].mm[1] / LAST;
            const sl_point p = truth->grid[v][u];
            const double ux = (truth->grid[v][u1].x - truth->grid[v][u0].x) / du;
            const double uy = (truth->grid[v][u1].y - truth->grid[v][u0].y) / du;
            const double vx = (truth->grid[v1][u].x - truth->grid[v0][u].x) / dv;
            const double vy = (truth->grid[v1][u].y - truth->grid[v0][u].y) / dv;
            const double det = ux * vy - uy * vx;
            const double ex = answer->grid[j][i].x - p.x;
            const double ey = answer->grid[j][i].y - p.y;

            worst = fmax(worst, hypot((ex * vy - ey * vx) / det, (ux * ey - uy * ex) / det));
        }
    return worst;
}

double survey_error_mm(const survey_answer *answer, const scene *s, const scene_truth *truth)
{
    const double doubt = 0.05; /* near 45 degrees either side may be the top one */
    double most = -1;
    double best = INFINITY;

    for (int k = 0; k < 4; k++)
        most = fmax(most, points_right(truth, k));
    for (int k = 0; k < 4; k++)
        if (points_right(truth, k) > most - doubt)
            best = fmin(best, error_turned(answer, s, truth, k));
    return best;
}
