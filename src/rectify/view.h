/*
 * The forward model: page -> sheet -> camera -> shot, with its derivatives.
 *
 * A page point (u, v) is centred and brought to the page's true proportions (a, b), turned by
 * phi into s (across the rulings) and t (along them), bent (s -> x, z by the unit-speed
 * profile), turned back, moved before the camera and projected.
 */
#ifndef SL_RECTIFY_VIEW_H
#define SL_RECTIFY_VIEW_H

#include "geometry/camera.h"
#include "geometry/profile.h"
#include "squareleaf.h"

/* The parameters of a view in the order of its derivatives. */
enum {
    SL_P_ROTATION = 0,       /* 3, Rodrigues */
    SL_P_TRANSLATION = 3,    /* 3, page units */
    SL_P_LN_FOCAL = 6,
    SL_P_CENTRE = 7,         /* 2, px */
    SL_P_K1 = 9,
    SL_P_K2 = 10,
    SL_P_LN_STRETCH = 11,
    SL_P_PHI = 12,
    SL_P_PROFILE = 13,
    SL_P_COUNT = SL_P_PROFILE + SL_PROFILE_MAX
};

_Static_assert((int)SL_PROFILE_MAX == (int)SL_PROFILE_TERMS, "one length of profile");

/* A page map made ready for many points. */
typedef struct sl_view {
    double rotation[9];
    double right[9];         /* right Jacobian of the rotation vector */
    double translation[3];
    sl_camera camera;
    double size[2];          /* true width and height, page units */
    double cosine;           /* of phi */
    double sine;
    double half;             /* arc length that the profile's unit stands for */
    double half_dphi;
    double half_dstretch;
    size_t terms;
    double c[SL_PROFILE_MAX];
    sl_profile_table *table; /* borrowed; NULL: quadrature at every point */
} sl_view;

/* map's patch is not looked at. A table is set to the map's profile. */
void sl_view_set(sl_view *view, const sl_page_map *map, sl_profile_table *table);

/*
 * Shot px of the page point at (p, q) = (u/width - 1/2, v/height - 1/2).
 * tangent  d(x,y)/d(p,q), row-major 2x2, or NULL
 * depth    distance along the optical axis in page units, or NULL; the point is only
 *          meaningful where it is positive
 */
sl_point sl_view_point(double tangent[4], double *depth, const sl_view *view, double p,
                       double q);

/*
 * The same point with d(x)/d(parameters), d(y)/d(parameters) beside its tangent, which may be
 * NULL; needs sl_profile_table_derivatives().
 */
sl_point sl_view_derivative(double dx[SL_P_COUNT], double dy[SL_P_COUNT], double tangent[4],
                            const sl_view *view, double p, double q);

/* A map's parameters as a vector, and back. */
void sl_view_pack(double value[SL_P_COUNT], const sl_page_map *map);
void sl_view_unpack(sl_page_map *map, const double value[SL_P_COUNT]);

#endif
