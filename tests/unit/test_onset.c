/*
 * Where a dark page ends beside its own shadow, on profiles of a known truth. The light behind an
 * edge is what of the lamp can be seen from there: none in the umbra, then a penumbra that grows
 * in proportion for a strip lamp, and as the segments of a circle for a round one (geometrical
 * optics, as in any textbook; the segment's area is r^2 acos(d/r) - d sqrt(r^2 - d^2), Bronshtein
 * and Semendyayev's Handbook of Mathematics, from memory). The camera's blur is summed here.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <math.h>

#include <cmocka.h>

#include "border/contact.h"
#include "border/onset.h"
#include "border/step.h"

static const double PAGE = 0.013;              /* black paper, linear light */
static const double TABLE = 0.21;
static const double CAMERA = 0.6;              /* sigma, px */
static const double PATTERN = 0.02;
static const double NEAR = 0.35;               /* px: half a sigma of the blur */
static const double PI = 3.14159265358979323846;

/* The light at t px outward of the page's edge, from `dark` to the table's over `width` px. */
typedef double scene(double t, double dark, double width);

static double strip_lamp(double t, double dark, double width)
{
    return t < 0 ? PAGE : dark + (TABLE - dark) * fmin(t / width, 1);
}

static double round_lamp(double t, double dark, double width)
{
    const double d = fmin(2 * t / width - 1, 1);   /* of the lamp's radius, from its middle */

    return t < 0 ? PAGE : dark + (TABLE - dark) * (1 - (acos(d) - d * sqrt(1 - d * d)) / PI);
}

static double no_shadow(double t, double dark, double width)
{
    (void)dark;
    (void)width;
    return t < 0 ? PAGE : TABLE;
}

/* A profile across an edge at `place`, every quarter px, with a ripple of so many parts. */
static void see(sl_light_profile *out, scene *light, double dark, double width, double place,
                double camera, double ripple)
{
    enum { STEPS = 400 };

    out->count = 0;
    for (double t = -16; t <= 14; t += 0.25) {
        double sum = 0;
        double weights = 0;

        for (int k = -STEPS; k <= STEPS; k++) {
            const double x = 5.0 * k / STEPS;      /* sigmas */
            const double w = exp(-0.5 * x * x);

            sum += w * light(t - place + camera * x, dark, width);
            weights += w;
        }
        out->t[out->count] = t;
        out->weight[out->count] = 20;
        out->value[out->count++] = sum / weights * (1 + ripple * sin(5.3 * t));
    }
}

static double place_of(const sl_light_profile *p, bool supple)
{
    sl_onset onset;

    assert_true(sl_onset_find(&onset, p, CAMERA, supple, TABLE - PAGE, PATTERN));
    return onset.place;
}

static void first_light_tells_the_edge(void **state)
{
    static const double places[] = { 0, -0.4, -2.3, -4.1 };
    scene *const lamps[] = { strip_lamp, round_lamp };
    sl_light_profile p;

    (void)state;
    for (int lamp = 0; lamp < 2; lamp++)
        for (double width = 4; width <= 12; width += 4)
            for (int i = 0; i < 4; i++) {
                see(&p, lamps[lamp], 0.03, width, places[i], CAMERA, 0.005);
                assert_true(fabs(place_of(&p, false) - places[i]) < NEAR);
                assert_true(fabs(place_of(&p, true) - places[i]) < NEAR);
            }
}

/* A shadow darker than the page it is of: the page seems to go on, and ends in a dip. */
static void a_dip_tells_it_too(void **state)
{
    sl_light_profile p;
    sl_onset onset;

    (void)state;
    see(&p, strip_lamp, 0.004, 6, -3.2, CAMERA, 0.002);
    assert_true(sl_onset_find(&onset, &p, CAMERA, true, TABLE - PAGE, PATTERN));
    assert_true(fabs(onset.place + 3.2) < NEAR);
    assert_true(onset.step < 0);
}

/* Where nothing hides the table, a bare step explains the profile, and no shadow surely. */
static void a_bare_step_is_no_shadow(void **state)
{
    sl_light_profile p;
    sl_onset onset;

    (void)state;
    for (double softer = 1; softer < 1.5; softer += 0.2) {
        see(&p, no_shadow, 0, 0, -0.7, softer * CAMERA, 0.005);
        assert_true(sl_onset_find(&onset, &p, CAMERA, true, TABLE - PAGE, PATTERN));
        assert_true(onset.cost > 0.3 * onset.bare);
    }
    see(&p, strip_lamp, 0.03, 8, -2.3, CAMERA, 0.005);
    assert_true(sl_onset_find(&onset, &p, CAMERA, true, TABLE - PAGE, PATTERN));
    assert_true(onset.cost < 0.3 * onset.bare);
}

/* Another part of the side, where there is half as much light, begins alike. */
static void a_known_beginning_is_found_again(void **state)
{
    sl_light_profile p;
    sl_onset onset;
    double place;

    (void)state;
    see(&p, round_lamp, 0.03, 6, 0, CAMERA, 0.002);
    assert_true(sl_onset_find(&onset, &p, CAMERA, true, TABLE - PAGE, PATTERN));
    see(&p, round_lamp, 0.03, 6, -3.3, CAMERA, 0.01);
    for (int i = 0; i < p.count; i++)
        p.value[i] = PAGE + (p.value[i] - PAGE) / 2;
    assert_true(sl_onset_place(&place, &p, &onset, (TABLE - PAGE) / 2, PATTERN));
    assert_true(fabs(place - onset.place + 3.3) < NEAR / 2);
}

static void without_light_there_is_none(void **state)
{
    sl_light_profile p = { .count = 0 };
    sl_onset onset;
    double place;

    (void)state;
    assert_false(sl_onset_find(&onset, &p, CAMERA, false, 0.2, PATTERN));
    see(&p, no_shadow, 0, 0, 15, CAMERA, 0);       /* page all over */
    assert_false(sl_onset_find(&onset, &p, CAMERA, false, 0.2, PATTERN));
    assert_false(sl_onset_place(&place, &p, &(sl_onset){ .camera = CAMERA, .step = 1 }, 0.2,
                                PATTERN));
}

/* ---- a light page ---------------------------------------------------------------------------- */

static const double PAPER = 0.6;

static double strip_lamp_on_paper(double t, double dark, double width)
{
    return t < 0 ? PAPER : strip_lamp(t, dark, width);
}

static double round_lamp_on_paper(double t, double dark, double width)
{
    return t < 0 ? PAPER : round_lamp(t, dark, width);
}

static double paper_without_shadow(double t, double dark, double width)
{
    return t < 0 ? PAPER : no_shadow(t, dark, width);
}

/*
 * Where a bare step lies that is fitted to the profile of a page that ends at 0 (as the fine step
 * fits it), and where the contact shadow then puts the edge.
 */
static void find_edge(double *bare, double *edge, scene *light, double dark)
{
    const double camera = 0.9;
    sl_light_profile seen;
    sl_across mean = { .count = 0 };
    sl_step step = { .blur = 1 };

    see(&seen, light, dark, 5, 0, camera, 0.001);
    for (int pass = 0; pass < 2; pass++) {
        mean.count = 0;
        for (int i = 0; i < seen.count; i++) {
            if (fabs(seen.t[i] - step.place) > (pass == 0 ? 3 : SL_CONTACT_REACH))
                continue;
            mean.t[mean.count] = seen.t[i] - (pass == 0 ? 0 : step.place);
            mean.value[mean.count] = seen.value[i];
            mean.weight[mean.count++] = seen.weight[i];
        }
        if (pass == 0)
            assert_true(sl_step_fit(&step, mean.t, mean.value, mean.weight, mean.count));
    }
    *bare = step.place;
    *edge = step.place + sl_contact_shift(&mean, step.blur);
}

static void a_contact_shadow_draws_a_bare_step_inward(void **state)
{
    double bare;
    double edge;

    (void)state;
    find_edge(&bare, &edge, strip_lamp_on_paper, 0.03);
    assert_true(bare < -0.1);
    assert_true(fabs(edge) < 0.05);
    find_edge(&bare, &edge, round_lamp_on_paper, 0.03);
    assert_true(bare < -0.1);
    assert_true(fabs(edge) < 0.05);
    /* where there is none the step is the edge */
    find_edge(&bare, &edge, paper_without_shadow, 0);
    assert_true(fabs(edge) < 0.02);
    /* a dark page's shadow is another matter */
    find_edge(&bare, &edge, strip_lamp, 0.03);
    assert_true(fabs(edge - bare) < 1e-9);
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(first_light_tells_the_edge),
        cmocka_unit_test(a_dip_tells_it_too),
        cmocka_unit_test(a_bare_step_is_no_shadow),
        cmocka_unit_test(a_known_beginning_is_found_again),
        cmocka_unit_test(without_light_there_is_none),
        cmocka_unit_test(a_contact_shadow_draws_a_bare_step_inward),
    };

    return cmocka_run_group_tests_name("onset", tests, NULL, NULL);
}
