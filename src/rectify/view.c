#include "rectify/view.h"

#include "geometry/linear.h"

#include <math.h>

/*
 * The profile's unit of arc length is half the page's extent across the rulings,
 * (width |cos phi| + height |sin phi|)/2, with |x| softened to sqrt(x^2 + 0.1^2) so that phi
 * can be fitted through 0 and 90 degrees.
 */
static const double SOFT = 0.1;

void sl_view_set(sl_view *view, const sl_page_map *map, sl_profile_table *table)
{
    const double root = sqrt(map->stretch);
    const double c = cos(map->phi);
    const double s = sin(map->phi);
    const double hc = sqrt(c * c + SOFT * SOFT);
    const double hs = sqrt(s * s + SOFT * SOFT);

    sl_rotation_matrix(view->rotation, map->rotation);
    sl_rotation_right_jacobian(view->right, map->rotation);
    for (size_t i = 0; i < 3; i++)
        view->translation[i] = map->translation[i];
    view->camera = (sl_camera){ .focal_px = map->focal_px,
                                .centre_x = map->centre[0],
                                .centre_y = map->centre[1],
                                .k1 = map->k1,
                                .k2 = map->k2 };
    view->size[0] = map->page[0] / root;
    view->size[1] = map->page[1] * root;
    view->cosine = c;
    view->sine = s;
    view->half = 0.5 * (view->size[0] * hc + view->size[1] * hs);
    view->half_dphi = 0.5 * c * s * (view->size[1] / hs - view->size[0] / hc);
    view->half_dstretch = 0.25 * (view->size[1] * hs - view->size[0] * hc);
    view->terms = map->profile_count;
    for (size_t k = 0; k < SL_PROFILE_MAX; k++)
        view->c[k] = k < view->terms ? map->profile[k] : 0.0;
    view->table = table;
    if (table != NULL)
        sl_profile_table_set(table, view->c, view->terms);
}

/* A page point on the way: flat, bent, before the camera. */
typedef struct bent {
    double a;                /* centred page point in true proportions */
    double b;
    double s;                /* across the rulings */
    double t;                /* along them */
    sl_profile_at profile;   /* at s / half, lengths over half */
    double sheet[3];         /* on the bent sheet, in the page's frame */
    double camera[3];
} bent;

static void bend(bent *out, const sl_view *view, double p, double q)
{
    out->a = p * view->size[0];
    out->b = q * view->size[1];
    out->s = out->a * view->cosine + out->b * view->sine;
    out->t = out->b * view->cosine - out->a * view->sine;

    const double at = out->s / view->half;

    if (view->terms == 0)
        out->profile = (sl_profile_at){ .x = at, .cosine = 1.0 };
    else if (view->table != NULL)
        out->profile = sl_profile_table_point(view->table, at);
    else
        out->profile = sl_profile_point(view->c, view->terms, at);

    const double x = view->half * out->profile.x;

    out->sheet[0] = x * view->cosine - out->t * view->sine;
    out->sheet[1] = x * view->sine + out->t * view->cosine;
    out->sheet[2] = view->half * out->profile.z;
    sl_mat3_apply(out->camera, view->rotation, out->sheet);
    for (size_t i = 0; i < 3; i++)
        out->camera[i] += view->translation[i];
}

/* m = j rotation: d(px)/d(sheet point), 2x3. */
static void sheet_to_px(double m[6], const double j[6], const double rotation[9])
{
    for (size_t r = 0; r < 2; r++)
        for (size_t k = 0; k < 3; k++)
            m[3 * r + k] = j[3 * r] * rotation[k] + j[3 * r + 1] * rotation[3 + k]
                           + j[3 * r + 2] * rotation[6 + k];
}

/* The sheet point's move for moves of x, z and t. */
static void sheet_move(double d[3], const sl_view *view, double dx, double dz, double dt)
{
    d[0] = dx * view->cosine - dt * view->sine;
    d[1] = dx * view->sine + dt * view->cosine;
    d[2] = dz;
}

/* d(px)/d(p, q), row-major 2x2, from m = d(px)/d(sheet point). */
static void set_tangent(double tangent[4], const sl_view *view, const bent *at,
                        const double m[6])
{
    const double ds[2] = { view->size[0] * view->cosine, view->size[1] * view->sine };
    const double dt[2] = { -view->size[0] * view->sine, view->size[1] * view->cosine };

    for (size_t k = 0; k < 2; k++) {
        double d[3];

        sheet_move(d, view, at->profile.cosine * ds[k], at->profile.sine * ds[k], dt[k]);
        tangent[k] = sl_dot3(m, d);
        tangent[2 + k] = sl_dot3(m + 3, d);
    }
}

sl_point sl_view_point(double tangent[4], double *depth, const sl_view *view, double p,
                       double q)
{
    bent at;

    bend(&at, view, p, q);
    if (depth != NULL)
        *depth = at.camera[2];
    if (tangent == NULL)
        return sl_camera_project(&view->camera, at.camera);

    double j[6];
    double m[6];
    const sl_point px = sl_camera_project_derivative(j, &view->camera, at.camera);

    sheet_to_px(m, j, view->rotation);
    set_tangent(tangent, view, &at, m);
    return px;
}

sl_point sl_view_derivative(double dx[SL_P_COUNT], double dy[SL_P_COUNT], double tangent[4],
                            const sl_view *view, double p, double q)
{
    bent at;
    double j[6];
    double m[6];

    bend(&at, view, p, q);

    const sl_point px = sl_camera_project_derivative(j, &view->camera, at.camera);
    const double x = at.camera[0] / at.camera[2];
    const double y = at.camera[1] / at.camera[2];
    const double r2 = x * x + y * y;

    sheet_to_px(m, j, view->rotation);
    if (tangent != NULL)
        set_tangent(tangent, view, &at, m);

    /* rotation: -m [sheet]x right */
    for (size_t r = 0; r < 2; r++) {
        const double *const row = m + 3 * r;
        double *const out = (r == 0 ? dx : dy) + SL_P_ROTATION;
        double w[3];         /* -row [sheet]x = sheet x row, as a row */

        sl_cross3(w, at.sheet, row);
        for (size_t k = 0; k < 3; k++)
            out[k] = w[0] * view->right[k] + w[1] * view->right[3 + k]
                     + w[2] * view->right[6 + k];
    }
    for (size_t k = 0; k < 3; k++) {
        dx[SL_P_TRANSLATION + k] = j[k];
        dy[SL_P_TRANSLATION + k] = j[3 + k];
    }
    dx[SL_P_LN_FOCAL] = px.x - view->camera.centre_x;
    dy[SL_P_LN_FOCAL] = px.y - view->camera.centre_y;
    dx[SL_P_CENTRE] = 1.0;
    dy[SL_P_CENTRE] = 0.0;
    dx[SL_P_CENTRE + 1] = 0.0;
    dy[SL_P_CENTRE + 1] = 1.0;
    dx[SL_P_K1] = view->camera.focal_px * r2 * x;
    dy[SL_P_K1] = view->camera.focal_px * r2 * y;
    dx[SL_P_K2] = dx[SL_P_K1] * r2;
    dy[SL_P_K2] = dy[SL_P_K1] * r2;

    /* what a longer unit of the profile does to x and z at fixed s */
    const double unit = at.s / view->half;
    const double x_dhalf = at.profile.x - unit * at.profile.cosine;
    const double z_dhalf = at.profile.z - unit * at.profile.sine;
    double d[3];

    {
        const double ds = 0.5 * (at.b * view->sine - at.a * view->cosine);
        const double dt = 0.5 * (at.a * view->sine + at.b * view->cosine);

        sheet_move(d, view, at.profile.cosine * ds + x_dhalf * view->half_dstretch,
                   at.profile.sine * ds + z_dhalf * view->half_dstretch, dt);
        dx[SL_P_LN_STRETCH] = sl_dot3(m, d);
        dy[SL_P_LN_STRETCH] = sl_dot3(m + 3, d);
    }
    {
        /* s turns into t, t into -s, and the frame turns the other way */
        sheet_move(d, view, at.profile.cosine * at.t + x_dhalf * view->half_dphi,
                   at.profile.sine * at.t + z_dhalf * view->half_dphi, -at.s);
        d[0] -= at.sheet[1];
        d[1] += at.sheet[0];
        dx[SL_P_PHI] = sl_dot3(m, d);
        dy[SL_P_PHI] = sl_dot3(m + 3, d);
    }

    double cx[SL_PROFILE_MAX];
    double cz[SL_PROFILE_MAX];
    const size_t terms = view->table != NULL ? view->terms : 0;

    if (terms > 0)
        sl_profile_table_dc(cx, cz, view->table, unit);
    for (size_t r = 0; r < 2; r++) {
        double *const out = (r == 0 ? dx : dy) + SL_P_PROFILE;
        const double *const row = m + 3 * r;
        const double by_x = view->half * (row[0] * view->cosine + row[1] * view->sine);
        const double by_z = view->half * row[2];

        for (size_t k = 0; k < terms; k++)
            out[k] = by_x * cx[k] + by_z * cz[k];
        for (size_t k = terms; k < SL_PROFILE_MAX; k++)
            out[k] = 0.0;
    }
    return px;
}

void sl_view_pack(double value[SL_P_COUNT], const sl_page_map *map)
{
    for (size_t i = 0; i < 3; i++) {
        value[SL_P_ROTATION + i] = map->rotation[i];
        value[SL_P_TRANSLATION + i] = map->translation[i];
    }
    value[SL_P_LN_FOCAL] = log(map->focal_px);
    value[SL_P_CENTRE] = map->centre[0];
    value[SL_P_CENTRE + 1] = map->centre[1];
    value[SL_P_K1] = map->k1;
    value[SL_P_K2] = map->k2;
    value[SL_P_LN_STRETCH] = log(map->stretch);
    value[SL_P_PHI] = map->phi;
    for (size_t k = 0; k < SL_PROFILE_MAX; k++)
        value[SL_P_PROFILE + k] = k < map->profile_count ? map->profile[k] : 0.0;
}

void sl_view_unpack(sl_page_map *map, const double value[SL_P_COUNT])
{
    for (size_t i = 0; i < 3; i++) {
        map->rotation[i] = value[SL_P_ROTATION + i];
        map->translation[i] = value[SL_P_TRANSLATION + i];
    }
    map->focal_px = exp(value[SL_P_LN_FOCAL]);
    map->centre[0] = value[SL_P_CENTRE];
    map->centre[1] = value[SL_P_CENTRE + 1];
    map->k1 = value[SL_P_K1];
    map->k2 = value[SL_P_K2];
    map->stretch = exp(value[SL_P_LN_STRETCH]);
    map->phi = value[SL_P_PHI];
    for (size_t k = 0; k < SL_PROFILE_MAX; k++)
        map->profile[k] = k < map->profile_count ? value[SL_P_PROFILE + k] : 0.0;
}
