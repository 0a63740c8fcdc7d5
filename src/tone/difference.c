/*
 * CIEDE2000: ISO/CIE 11664-6; formulas and their traps after Sharma, Wu, Dalal, "The CIEDE2000
 * color-difference formula", Color Res. Appl. 30(1), 2005, whose equations are numbered below.
 */
#include "squareleaf.h"

#include <math.h>

static const double PI = 3.14159265358979323846;

static double radians(double degrees)
{
    return degrees * PI / 180.0;
}

/* Hue angle in degrees, 0..360; 0 where there is no chroma: (7). */
static double hue(double a, double b)
{
    double h;

    if (!(fabs(a) > 0.0) && !(fabs(b) > 0.0))
        return 0.0;
    h = atan2(b, a) * 180.0 / PI;
    return h < 0.0 ? h + 360.0 : h;
}

static double to_7th(double v)
{
    const double cube = v * v * v;

    return cube * cube * v;
}

double sl_delta_e_2000(const double lab1[3], const double lab2[3])
{
    const double c_mean = (hypot(lab1[1], lab1[2]) + hypot(lab2[1], lab2[2])) / 2.0; /* (2), (3) */
    const double g = 0.5 * (1.0 - sqrt(to_7th(c_mean) / (to_7th(c_mean) + to_7th(25.0)))); /* 4 */
    const double a1 = (1.0 + g) * lab1[1];                       /* (5) */
    const double a2 = (1.0 + g) * lab2[1];
    const double c1 = hypot(a1, lab1[2]);                        /* (6) */
    const double c2 = hypot(a2, lab2[2]);
    const double h1 = hue(a1, lab1[2]);
    const double h2 = hue(a2, lab2[2]);
    const bool grey = !(c1 * c2 > 0.0);
    const double dl = lab2[0] - lab1[0];                         /* (8) */
    const double dc = c2 - c1;                                   /* (9) */
    double dh = grey ? 0.0 : h2 - h1;                            /* (10) */
    double h_mean = h1 + h2;                                     /* (14) */

    if (dh > 180.0)
        dh -= 360.0;
    else if (dh < -180.0)
        dh += 360.0;
    if (!grey) {
        if (fabs(h1 - h2) <= 180.0)
            h_mean /= 2.0;
        else
            h_mean = h_mean < 360.0 ? (h_mean + 360.0) / 2.0 : (h_mean - 360.0) / 2.0;
    }

    const double dh_chord = 2.0 * sqrt(c1 * c2) * sin(radians(dh / 2.0)); /* (11) */
    const double l = (lab1[0] + lab2[0]) / 2.0 - 50.0;           /* (12), less 50 */
    const double c = (c1 + c2) / 2.0;                            /* (13) */
    const double t = 1.0 - 0.17 * cos(radians(h_mean - 30.0)) + 0.24 * cos(radians(2.0 * h_mean))
                     + 0.32 * cos(radians(3.0 * h_mean + 6.0))
                     - 0.20 * cos(radians(4.0 * h_mean - 63.0)); /* (15) */
    const double near_blue = (h_mean - 275.0) / 25.0;
    const double turn = 30.0 * exp(-near_blue * near_blue);      /* (16) */
    const double rc = 2.0 * sqrt(to_7th(c) / (to_7th(c) + to_7th(25.0)));  /* (17) */
    const double sl = 1.0 + 0.015 * l * l / sqrt(20.0 + l * l);  /* (18) */
    const double sc = 1.0 + 0.045 * c;                           /* (19) */
    const double sh = 1.0 + 0.015 * c * t;                       /* (20) */
    const double rt = -sin(radians(2.0 * turn)) * rc;            /* (21) */
    const double x = dl / sl;
    const double y = dc / sc;
    const double z = dh_chord / sh;

    return sqrt(x * x + y * y + z * z + rt * y * z);             /* (22) */
}
