#include "survey/made.h"

#include <math.h>
#include <string.h>

enum { EDGE = 200 };

/* ---- chance ---------------------------------------------------------------------------- */

double uniform(dice *d, double low, double high)
{
    uint64_t z = d->state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    z ^= z >> 31;
    return low + (high - low) * ((double)(z >> 11) / 9007199254740992.0);
}

double normal(dice *d, double sigma)
{
    const double u = uniform(d, 1e-12, 1.0);
    const double v = uniform(d, 0.0, 6.283185307179586);

    return sigma * sqrt(-2.0 * log(u)) * cos(v);
}

size_t pick(dice *d, size_t n)
{
    const size_t i = (size_t)uniform(d, 0.0, (double)n);

    return i < n ? i : n - 1;
}

/* ---- a made page ----------------------------------------------------------------------- */

const char *const kind_name[KINDS] = { "flat", "lens", "bow", "spine", "s", "askew", "corner" };

const char *const tags_name[TAGS] = { "diagonal", "width", "missing", "cropped" };

static double slope_at(const scene *s, double arc)
{
    const double t = arc / s->reach;

    switch (s->kind) {
    case BOW:
    case ASKEW:
        return s->slope * sin(1.3 * t + s->phase);
    case WAVE:
        return s->slope * cos(3.14159 * t + s->phase);
    case SPINE:
        return s->slope * exp(-(t + 1.0) * s->reach / s->decay);
    case CORNER: {
        /* flat, then a smooth rise over the last stretch before the corner */
        const double past = (arc - s->reach + s->decay) / s->decay;

        return past > 0.0 ? s->slope * past * past * (3.0 - 2.0 * fmin(past, 1.0)) : 0.0;
    }
    default:
        return 0.0;
    }
}

static void walk_sheet(scene *s)
{
    const double step = 1.05 * s->reach / WALK;

    for (int way = -1; way <= 1; way += 2) {
        double x = 0.0;
        double z = 0.0;

        s->walk_x[WALK] = s->walk_z[WALK] = 0.0;
        for (int i = 0; i < WALK; i++) {
            const double angle = slope_at(s, way * step * (i + 0.5));

            x += way * step * cos(angle);
            z += way * step * sin(angle);
            s->walk_x[WALK + way * (i + 1)] = x;
            s->walk_z[WALK + way * (i + 1)] = z;
        }
    }
}

sl_point shoot(const scene *s, double u, double v)
{
    const double a = (u - 0.5) * s->actual[0];
    const double b = (v - 0.5) * s->actual[1];
    const double arc = a * cos(s->along) + b * sin(s->along);
    const double rule = b * cos(s->along) - a * sin(s->along);
    const double at = arc / (1.05 * s->reach) * WALK + WALK;
    const size_t i = (size_t)fmin(fmax(at, 0.0), 2.0 * WALK - 1.0);
    const double f = at - (double)i;
    const double x = (1.0 - f) * s->walk_x[i] + f * s->walk_x[i + 1];
    const double z = (1.0 - f) * s->walk_z[i] + f * s->walk_z[i + 1];
    const double sheet[3] = { x * cos(s->along) - rule * sin(s->along),
                              x * sin(s->along) + rule * cos(s->along), z };
    double eye[3];

    for (size_t r = 0; r < 3; r++)
        eye[r] = s->turn[r][0] * sheet[0] + s->turn[r][1] * sheet[1] + s->turn[r][2] * sheet[2]
                 + s->place[r];

    const double px = eye[0] / eye[2];
    const double py = eye[1] / eye[2];
    const double rr = px * px + py * py;
    const double lens = 1.0 + s->k1 * rr + s->k2 * rr * rr;

    return (sl_point){ s->centre[0] + s->focal * px * lens,
                       s->centre[1] + s->focal * py * lens };
}

static void turn_camera(scene *s, double pitch, double yaw, double roll)
{
    const double cp = cos(pitch), sp = sin(pitch);
    const double cy = cos(yaw), sy = sin(yaw);
    const double cr = cos(roll), sr = sin(roll);
    const double turn[3][3] = {
        { cr * cy - sr * sp * sy, -sr * cp, cr * sy + sr * sp * cy },
        { sr * cy + cr * sp * sy, cr * cp, sr * sy - cr * sp * cy },
        { -cp * sy, sp, cp * cy },
    };

    memcpy(s->turn, turn, sizeof turn);
}

/* Backs the camera off until the page fills `fill` of the frame; the page about the middle. */
static void frame_page(scene *s, double fill, double shift_x, double shift_y)
{
    s->place[0] = s->place[1] = 0.0;
    s->place[2] = 3.0 * s->actual[0];
    for (int round = 0; round < 30; round++) {
        double low[2] = { 1e9, 1e9 };
        double high[2] = { -1e9, -1e9 };

        for (int i = 0; i <= 40; i++) {
            const double t = i / 40.0;
            const sl_point edge[4] = { shoot(s, t, 0), shoot(s, t, 1), shoot(s, 0, t),
                                       shoot(s, 1, t) };

            for (size_t k = 0; k < 4; k++) {
                low[0] = fmin(low[0], edge[k].x);
                high[0] = fmax(high[0], edge[k].x);
                low[1] = fmin(low[1], edge[k].y);
                high[1] = fmax(high[1], edge[k].y);
            }
        }

        const double filled = fmax((high[0] - low[0]) / (double)s->width,
                                   (high[1] - low[1]) / (double)s->height);
        const double mm = s->place[2] / s->focal;

        s->place[0] += mm * (0.5 * (double)s->width + shift_x - 0.5 * (low[0] + high[0]));
        s->place[1] += mm * (0.5 * (double)s->height + shift_y - 0.5 * (low[1] + high[1]));
        s->place[2] *= 1.0 + 0.8 * (filled / fill - 1.0);
    }
}

void make_camera(scene *s, dice *d)
{
    static const size_t frames[3][2] = { { 4032, 3024 }, { 5184, 3456 }, { 3000, 4000 } };
    const size_t *const frame = frames[pick(d, 3)];
    const double mm35 = exp(uniform(d, log(24.0), log(85.0)));
    const double diagonal = hypot((double)frame[0], (double)frame[1]);
    const double longer = (double)(frame[0] > frame[1] ? frame[0] : frame[1]);

    s->width = frame[0];
    s->height = frame[1];
    s->focal = s->tags == BY_WIDTH ? mm35 / 36.0 * longer : mm35 * diagonal / 43.2666;
    /* the tag holds whole mm; lens centring is good to some tenths of a per cent */
    s->exif.focal_35mm = s->tags == MISSING ? 0.0 : floor(mm35 + 0.5);
    s->exif.pixel_x = frame[0];
    s->exif.pixel_y = frame[1];
    s->centre[0] = 0.5 * ((double)frame[0] - 1.0) + normal(d, 0.002 * longer);
    s->centre[1] = 0.5 * ((double)frame[1] - 1.0) + normal(d, 0.002 * longer);
    if (s->tags == CROPPED) {
        /* off one side and off the bottom, so that the middle is no longer the middle */
        const double x = uniform(d, 0.0, 0.08) * (double)frame[0];
        const double y = uniform(d, 0.0, 0.08) * (double)frame[1];

        s->width -= (size_t)x;
        s->height -= (size_t)y;
        s->centre[0] -= uniform(d, 0.0, 1.0) * x;
        s->centre[1] -= uniform(d, 0.0, 1.0) * y;
    }
}

static void make_sheet(scene *s, dice *d)
{
    const double sign = uniform(d, 0.0, 1.0) < 0.5 ? -1.0 : 1.0;
    const double side = 90.0 * (double)pick(d, 4);

    s->phase = 0.0;
    switch (s->kind) {
    case BOW:
        s->along = side * RADIAN + normal(d, 2.0 * RADIAN);
        s->slope = sign * uniform(d, 0.05, 0.35);
        s->phase = normal(d, 0.2);
        break;
    case WAVE:
        s->along = side * RADIAN + normal(d, 2.0 * RADIAN);
        s->slope = sign * uniform(d, 0.04, 0.22);
        s->phase = normal(d, 0.4);
        break;
    case SPINE:
        s->along = side * RADIAN + normal(d, 1.0 * RADIAN);
        s->slope = sign * uniform(d, 0.2, 0.6);
        s->decay = uniform(d, 35.0, 90.0);
        break;
    case ASKEW:
        s->along = (side + uniform(d, -45.0, 45.0)) * RADIAN;
        s->slope = sign * uniform(d, 0.05, 0.3);
        s->phase = normal(d, 0.2);
        break;
    case CORNER:
        s->along = (side + uniform(d, 30.0, 60.0)) * RADIAN;
        s->slope = sign * uniform(d, 0.1, 0.6);
        break;
    default:
        s->along = 0.0;
        break;
    }
    s->reach = 0.5 * (fabs(s->actual[0] * cos(s->along)) + fabs(s->actual[1] * sin(s->along)));
    if (s->kind == CORNER)
        s->decay = s->reach * uniform(d, 0.4, 0.9);
    walk_sheet(s);
}

/* Tilted any way by up to so much, turned a little, in the frame's middle about. */
static void pose_page(scene *s, dice *d, double tilt_deg)
{
    const double lean = uniform(d, 0.0, tilt_deg) * RADIAN;
    const double way = uniform(d, 0.0, 6.283);
    const double px = 0.01 * (double)s->width;

    turn_camera(s, lean * cos(way), lean * sin(way), normal(d, 1.5 * RADIAN));
    frame_page(s, uniform(d, 0.7, 0.94), normal(d, px), normal(d, px));
}

/* Each length up to half a per cent off what is told: the ratio up to 1 %. */
static void draw_size(scene *s, dice *d, const double told[2])
{
    for (size_t i = 0; i < 2; i++) {
        s->nominal[i] = told[i];
        s->actual[i] = told[i] * (1.0 + fmin(fmax(normal(d, 0.0025), -0.005), 0.005));
    }
}

void make_scene(scene *s, dice *d, kind k)
{
    static const double sizes[6][2] = { { 304.8, 304.8 }, { 203.2, 203.2 }, { 215.9, 279.4 },
                                        { 297.0, 210.0 }, { 300.0, 300.0 }, { 240.0, 300.0 } };
    static const double share[TAGS] = { 0.4, 0.8, 0.9, 1.0 };
    const double draw = uniform(d, 0.0, 1.0);
    const double *const size = sizes[pick(d, 6)];
    const double lens = uniform(d, 0.0, 1.0);

    memset(s, 0, sizeof *s);
    s->kind = k;
    while (draw > share[s->tags])
        s->tags++;
    s->sized = uniform(d, 0.0, 1.0) < 0.85;
    draw_size(s, d, size);
    if (k == LENS || lens < 0.4) {
        s->k1 = uniform(d, -0.1, 0.05);
        s->k2 = -0.08 * s->k1 + normal(d, 0.003);
    } else if (lens < 0.7) {
        s->k1 = normal(d, 0.01);
    }
    if (k == FLAT && lens < 0.4)
        s->k1 = s->k2 = 0.0;
    make_camera(s, d);
    make_sheet(s, d);

    pose_page(s, d, uniform(d, 0.0, 1.0) < 0.5 ? 1.5 : 14.0);
}

void make_page_of_album(scene *s, dice *d, const scene *camera, kind k, double tilt_deg)
{
    *s = *camera;
    s->kind = k;
    draw_size(s, d, camera->nominal);
    make_sheet(s, d);
    pose_page(s, d, tilt_deg);
}

void make_outline(sl_outline *outline, const scene *s, dice *d)
{
    static const double corner[4][2] = { { 0, 0 }, { 1, 0 }, { 1, 1 }, { 0, 1 } };
    const double noise = uniform(d, 0.08, 0.25);
    const bool tab = uniform(d, 0.0, 1.0) < 0.3;
    /* an edge painted in whole pixels and blurred: up to half a pixel off, in long steps */
    const bool stepped = uniform(d, 0.0, 1.0) < 0.3;
    const size_t tab_side = pick(d, 4);
    const size_t tab_at = pick(d, EDGE - 8);
    const double rounded = uniform(d, 0.0, 1.0) < 0.3 ? uniform(d, 1.0, 4.0) : 0.0;

    memset(outline, 0, sizeof *outline);
    outline->found = true;
    outline->confidence = 1.0;
    for (size_t side = 0; side < 4; side++) {
        const double *const a = corner[side];
        const double *const b = corner[(side + 1) % 4];
        double drift = 0.0;

        outline->corner[side] = shoot(s, a[0], a[1]);
        outline->corner[side].x += normal(d, 0.5);
        outline->corner[side].y += normal(d, 0.5);
        outline->edge[side].count = EDGE;
        outline->edge[side].support = 1.0;
        for (size_t i = 0; i < EDGE; i++) {
            sl_edge_point *const p = outline->edge[side].point + i;
            const double t = ((double)i + 0.5) / EDGE;
            const double u = a[0] + t * (b[0] - a[0]);
            const double v = a[1] + t * (b[1] - a[1]);
            const sl_point here = shoot(s, u, v);
            const sl_point next = shoot(s, u + 1e-4 * (b[0] - a[0]), v + 1e-4 * (b[1] - a[1]));
            const double length = hypot(next.x - here.x, next.y - here.y);
            /* of a clockwise walk with y down, the inside is to the right: (-dy, dx) */
            const double nx = -(next.y - here.y) / length;
            const double ny = (next.x - here.x) / length;
            const double end = fmin(t, 1.0 - t) * length * 1e4;
            double off;

            /* a paper edge's own waviness, of about eight points' length */
            drift = 0.88 * drift + normal(d, 0.3 * noise * sqrt(1.0 - 0.88 * 0.88));
            off = drift + normal(d, stepped ? 0.3 * noise : noise);
            if (uniform(d, 0.0, 1.0) < 0.02)
                off += normal(d, 8.0);
            if (tab && side == tab_side && i >= tab_at && i < tab_at + 8)
                off -= 6.0;
            if (end < 10.0 * rounded)
                off += (10.0 * rounded - end) * 0.4;
            if (stepped)
                off += (fabs(nx) > fabs(ny) ? (floor(here.x + 0.5) - here.x) / nx
                                            : (floor(here.y + 0.5) - here.y) / ny)
                       - 0.8 * drift;
            *p = (sl_edge_point){ { here.x + off * nx, here.y + off * ny },
                                  stepped ? 0.3 * noise : noise, 0.7, 0.5 };
        }
    }
}

/* ---- score ----------------------------------------------------------------------------- */

void score_map(double *rms, double *worst, const sl_page_map *map, const scene *s)
{
    double sum = 0.0;

    *worst = 0.0;
    for (size_t k = 0; k < SCORE_GRID * SCORE_GRID; k++) {
        const double u = (double)(k % SCORE_GRID) / (SCORE_GRID - 1);
        const double v = (double)(k / SCORE_GRID) / (SCORE_GRID - 1);
        const sl_point truth = shoot(s, u, v);
        const sl_point du = shoot(s, u + 1e-4, v);
        const sl_point dv = shoot(s, u, v + 1e-4);
        const double xu = (du.x - truth.x) * 1e4;
        const double yu = (du.y - truth.y) * 1e4;
        const double xv = (dv.x - truth.x) * 1e4;
        const double yv = (dv.y - truth.y) * 1e4;
        const sl_point found =
            sl_page_map_point(map, u * map->page[0], v * map->page[1]);
        const double ex = found.x - truth.x;
        const double ey = found.y - truth.y;
        const double det = xu * yv - yu * xv;
        const double eu = (ex * yv - ey * xv) / det * s->actual[0];
        const double ev = (xu * ey - yu * ex) / det * s->actual[1];

        sum += eu * eu + ev * ev;
        *worst = fmax(*worst, hypot(eu, ev));
    }
    *rms = sqrt(sum / (SCORE_GRID * SCORE_GRID));
}
