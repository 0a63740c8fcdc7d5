/*
 * squareleaf: photographs of whole album pages become flat, cropped pages of known size.
 *
 * The whole public API, stages in pipeline order:
 *
 *   shot - decode -+- border - rectify -> page map -+
 *                  +- tone -------------------------+- resample once - encode -> page file
 *                                      inspect -> verdict
 *
 * Conventions, stated once:
 * - Shot pixels are of the upright shot (Exif orientation applied): x right, y down, (0,0) the
 *   centre of the top-left pixel. On a copy scaled by s, x_full = (x + 0.5) s - 0.5.
 * - Page coordinates are millimetres, (0,0) the page's top-left corner, u right, v down; without
 *   a page size they are in units of the page's width.
 * - Output pixel (i,j) at p px/mm has its centre at ((i + 0.5)/p, (j + 0.5)/p).
 * - Matrices are row-major, angles are in radians unless a name says _deg, a length without a
 *   unit in its name is in px.
 * - Plain structs own nothing. `_new`, `_load`, `_copy` give ownership, `_free` takes it and
 *   accepts NULL. `const` pointers are borrowed for the call.
 * - Functions return a status; `err` may be NULL. On failure outputs are unchanged unless said.
 */
#ifndef SQUARELEAF_H
#define SQUARELEAF_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#ifdef __cplusplus
extern "C" {
#endif

/* The library is built with hidden symbols; what this header declares is what it exports. */
#if defined(__GNUC__)
#pragma GCC visibility push(default)
#endif

#define SL_VERSION "0.1.0"

/* ---- base: errors, points, images ---------------------------------------------------------- */

typedef enum sl_status {
    SL_OK = 0,
    SL_ERR_ARG,              /* the caller broke the contract */
    SL_ERR_NOMEM,
    SL_ERR_IO,               /* the detail has strerror()'s text */
    SL_ERR_SPACE,            /* disk or quota full */
    SL_ERR_EXISTS,           /* would replace a file that is not ours */
    SL_ERR_FORMAT,           /* the file is not what it claims to be, or damaged */
    SL_ERR_UNSUPPORTED,      /* a valid file of a kind that this build does not read */
    SL_ERR_LIMIT,            /* larger than the limits in params */
    SL_ERR_DEGENERATE,       /* the geometry has no unique answer */
    SL_ERR_CANCELLED,        /* the caller's stop flag was seen */
    SL_ERR_NO_SHOTS,         /* nothing to work on */
    SL_ERR_BUSY,             /* another run holds the folder */
    SL_ERR_PERMISSION,
    SL_ERR_INCOMPLETE        /* the album has gaps */
} sl_status;

typedef struct sl_error {
    sl_status   status;
    const char *stage;       /* static string: "decode", "border", ... */
    char        detail[240]; /* one sentence to show: values, units, what to do */
} sl_error;

typedef struct sl_point {
    double x;
    double y;
} sl_point;

typedef struct sl_image {
    size_t         width;    /* px */
    size_t         height;
    unsigned       channels; /* 1 grey or 3 RGB, interleaved; 4 CMYK from the decoder only */
    unsigned       bits;     /* 8, or 16 in host byte order */
    size_t         stride;   /* bytes from one row to the next */
    unsigned char *data;
} sl_image;

/* Zeroed image; SL_ERR_LIMIT when the product of the sizes does not fit a size_t. */
sl_status sl_image_new(sl_image **out, size_t width, size_t height, unsigned channels,
                       unsigned bits, sl_error *err);
void sl_image_free(sl_image *image);

/* "0.1.0; libjpeg-turbo 2.1.5, ...": static text, one line per library. */
const char *sl_version(void);

/* ---- page size ----------------------------------------------------------------------------- */

/*
 * Physical size from text: `12x12in`, `210x297mm`, `30x30cm`, or a name (ISO 216 `a4`, `b5`;
 * `letter`, `legal`), any case.
 * mm    out: the two lengths in the order written, each in (0, 10000)
 * SL_ERR_ARG, with what was expected, for anything else.
 */
sl_status sl_page_size_parse(double mm[2], const char *text, sl_error *err);

/* One length: `5mm`, `0.25in`, `1cm`; a bare 0. >= 0. */
sl_status sl_length_parse(double *mm, const char *text, sl_error *err);

/* ---- decode: a file becomes an upright shot ------------------------------------------------ */

typedef enum sl_format {
    SL_FORMAT_UNKNOWN = 0,
    SL_FORMAT_JPEG,
    SL_FORMAT_PNG,
    SL_FORMAT_TIFF,
    SL_FORMAT_HEIF
} sl_format;

/* By the first bytes (16 are enough), never by name. */
sl_format sl_format_sniff(const void *bytes, size_t size);

typedef struct sl_exif {
    unsigned orientation;    /* as stored, 1..8; 1 when absent (already applied to the image; of
                                a HEIF file the file's own rotation was applied instead) */
    double   focal_mm;       /* 0 when absent, as all numbers here */
    double   focal_35mm;     /* FocalLengthIn35mmFilm */
    double   digital_zoom;   /* DigitalZoomRatio */
    size_t   pixel_x;        /* PixelXDimension, as stored (not turned) */
    size_t   pixel_y;
    char     date[20];       /* DateTimeOriginal "YYYY:MM:DD HH:MM:SS", else "" */
    char     make[64];
    char     model[64];
    bool     has_position;   /* GPS; not read from TIFF */
    double   latitude_deg;   /* north positive */
    double   longitude_deg;  /* east positive */
} sl_exif;

typedef struct sl_shot {
    sl_image      *image;    /* upright; alpha composed over white; CMYK turned into RGB, except
                                where it has a profile of its own: then 4 channels, 0 = no ink,
                                for sl_shot_print() */
    sl_format      format;
    sl_exif        exif;
    unsigned char *icc;      /* the embedded profile whole; NULL where there is none for the
                                image's samples, or one that is broken */
    size_t         icc_size;
    size_t         images;   /* in the file; the first is taken */
} sl_shot;

typedef struct sl_decode_params {
    size_t   max_pixels;     /* width x height */
    size_t   max_memory;     /* bytes the decoder and the frame may take together */
    unsigned max_scans;      /* of a progressive JPEG: libjpeg-turbo's LJT-01-004 */
    unsigned orientation;    /* 1..8: the picture is turned by this, whatever its tag says (1: it
                                stays as stored); 0: as the tag says */
} sl_decode_params;

sl_decode_params sl_decode_defaults(void);

/*
 * A shot from a whole file in memory; params may be NULL: the defaults. Damaged data (a truncated
 * JPEG too) is SL_ERR_FORMAT: a page with a grey lower half must not look like a page.
 */
sl_status sl_shot_decode(sl_shot **out, const void *bytes, size_t size,
                         const sl_decode_params *params, sl_error *err);
void sl_shot_free(sl_shot *shot);

/*
 * When a shot was taken, as sl_shot_decode() tells it in exif.date; "" when that is not known.
 * Reads the file's tags and decodes no picture.
 * file  a seekable one, of any kind; its position is anywhere afterwards
 */
void sl_shot_date(char date[20], FILE *file);

/* ---- tone: coded samples <-> linear light -------------------------------------------------- */

/*
 * Transfer curve of a shot: from its ICC profile where that is a matrix or grey profile with
 * curves, else sRGB (IEC 61966-2-1). One curve serves all channels (their mean).
 */
typedef struct sl_tone sl_tone;

/* icc may be NULL (sRGB assumed). */
sl_status sl_tone_new(sl_tone **out, const void *icc, size_t icc_size, sl_error *err);
void sl_tone_free(sl_tone *tone);
bool sl_tone_assumed(const sl_tone *tone);              /* no usable profile: sRGB assumed */
const float *sl_tone_linear8(const sl_tone *tone);      /* [256] -> 0..1, increasing */
const float *sl_tone_linear16(const sl_tone *tone);     /* [65536] -> 0..1 */
double sl_tone_encode(const sl_tone *tone, double linear); /* 0..1 -> coded 0..1 */

/* ---- colour: a shot's own space -> sRGB ------------------------------------------------------ */

typedef enum sl_profile_kind {
    SL_PROFILE_NONE = 0,     /* untagged: taken as sRGB */
    SL_PROFILE_BROKEN,       /* embedded, of no use: taken as sRGB */
    SL_PROFILE_SRGB,         /* sRGB within half an 8-bit step */
    SL_PROFILE_OTHER,
    SL_PROFILE_INKS          /* CMYK */
} sl_profile_kind;

typedef struct sl_profile {
    sl_profile_kind kind;
    char            name[64]; /* its own description, ASCII; "" when it has none */
} sl_profile;

/* What an embedded profile is; icc may be NULL. channels: of the samples, 1, 3, or 4 for CMYK. */
sl_status sl_profile_read(sl_profile *out, const void *icc, size_t size, unsigned channels,
                          sl_error *err);

/*
 * Transform of rows from a profile's space to sRGB; of grey to sRGB's curve, one channel; of
 * CMYK (4 channels, 0 = no ink) to RGB. Relative colorimetric, black point compensated.
 * out  NULL where there is no profile of use: the samples are sRGB as they are
 */
typedef struct sl_colour sl_colour;
sl_status sl_colour_new(sl_colour **out, const void *icc, size_t size, unsigned channels,
                        unsigned bits, sl_error *err);
void sl_colour_free(sl_colour *colour);

/*
 * `count` rows of `width` px, each row's first byte `stride` bytes behind the last's. Thread-safe.
 * `to` may be `from` unless the samples are CMYK.
 */
void sl_colour_rows(const sl_colour *colour, void *to, size_t to_stride, const void *from,
                    size_t from_stride, size_t width, size_t count);

/*
 * A shot in inks becomes one in sRGB, by its profile, in place; any other stays as it is.
 * profile  out: as sl_profile_read() has it of the shot's own
 */
sl_status sl_shot_print(sl_shot *shot, sl_profile *profile, sl_error *err);

/* CIEDE2000 of two colours in CIE L*a*b* (ISO/CIE 11664-6), parametric factors 1. */
double sl_delta_e_2000(const double lab1[3], const double lab2[3]);

/* ---- border: the page's outline in the shot ------------------------------------------------ */

enum { SL_EDGE_POINTS = 256 };

typedef struct sl_edge_point {
    sl_point at;             /* px, sub-pixel */
    double   sigma_px;       /* standard error of the place along the edge's normal */
    double   blur_px;        /* sigma of the fitted Gaussian blur of the step */
    double   contrast;       /* inside minus outside, linear luminance (white = 1), or the colour's
                                step where luminance hardly has one */
} sl_edge_point;

typedef struct sl_edge {
    size_t        count;     /* points, in order along the edge, clockwise around the page */
    sl_edge_point point[SL_EDGE_POINTS];
    double        support;   /* 0..1: share of the edge's length with a fitted step on it */
    double        spread_px; /* robust scatter of the points about their smooth curve */
    double        paper;     /* 0..1: share of the edge with the page's paper just inside it, or with
                                a colour outside that a patterned page has nowhere */
    double        camera_px; /* sigma of the camera's blur, where the page's own shadow hides the
                                edge and the points were sought with that; else 0 */
    bool          on_sheet;  /* a lower sheet peeps out: its edge beyond this one is the bolder */
    bool          cut;       /* the page runs out of the picture here */
} sl_edge;

typedef enum sl_side { SL_TOP = 0, SL_RIGHT, SL_BOTTOM, SL_LEFT } sl_side;

typedef struct sl_outline {
    bool     found;          /* false: no page here; the rest is then zero */
    sl_point corner[4];      /* clockwise from the page's top-left; where the edge curves meet */
    sl_edge  edge[4];        /* indexed by sl_side */
    double   confidence;     /* 0..1: the best hypothesis's margin over its best rival */
    sl_point rival[4];       /* corners of the best rival that is another rectangle; 0 if none */
    double   frame_px;       /* least distance from the outline to the picture's frame */
    unsigned sheets;         /* page-like sheets seen in the shot, this one included */
    bool     by_hand;        /* the corners came from a person */
} sl_outline;

typedef struct sl_border_params {
    double   page_ratio;     /* longer over shorter side; 0 when unknown */
    double   focal_px;       /* a guess for the plausibility of a view; 0 when unknown */
    bool     has_corners;    /* start from `corners` (a person's or an album's) */
    bool     exact;          /* ... and keep them as they are */
    sl_point corners[4];     /* upright shot px, clockwise, any start */
} sl_border_params;

sl_border_params sl_border_defaults(void);

/* "No page here" is out->found == false with SL_OK. */
sl_status sl_outline_find(sl_outline *out, const sl_image *shot, const sl_tone *tone,
                          const sl_border_params *params, sl_error *err);

enum { SL_PREDICTED = 33 };

/*
 * The fine step once more, along an outline that a model predicts: points that had settled on
 * something else beside the edge (a print, a shadow, a lower sheet) get another chance.
 * outline    in: found; out: its points, supports and corners anew. Edges that are cut stay
 * stayed     out: the same, but the sides that as a whole have strayed from the model are as they
 *            were; found only when there are such
 * predicted  SL_PREDICTED points a side, clockwise, both corners included, shot px
 */
sl_status sl_outline_follow(sl_outline *outline, sl_outline *stayed, const sl_image *shot,
                            const sl_tone *tone, const sl_point predicted[4][SL_PREDICTED],
                            sl_error *err);

/* The picture is the page: four exact edges along its frame. */
void sl_outline_frame(sl_outline *out, size_t width, size_t height);

/* ---- geometry ------------------------------------------------------------------------------ */

/*
 * Homography that maps the unit square (0,0)(1,0)(1,1)(0,1) onto a quadrilateral.
 * h     out: 3x3, h[8] = 1
 * quad  4 corners in the order of the square's
 * Closed form: Heckbert, Fundamentals of Texture Mapping and Image Warping (1989), 2.2.3.
 * SL_ERR_DEGENERATE when three corners are collinear.
 */
sl_status sl_homography_unit_square(double h[9], const sl_point quad[4], sl_error *err);

/*
 * Least-squares homography src -> dst from n >= 4 pairs, h[8] = 1.
 * Normalised DLT: Hartley & Zisserman, Multiple View Geometry, 2nd ed., alg. 4.2.
 */
sl_status sl_homography_fit(double h[9], const sl_point *src, const sl_point *dst, size_t n,
                            sl_error *err);
sl_point sl_homography_apply(const double h[9], sl_point p);
sl_status sl_homography_invert(double inv[9], const double h[9], sl_error *err);

/*
 * Focal length and width/height of a rectangle from one view.
 * Zhang & He, Whiteboard scanning and image enhancement, MSR-TR 2003; DSP 17 (2007).
 * corner    clockwise from the top left, px, about the principal point `centre`
 * focal_px  in: 0 to estimate, else held; out: the value used
 * SL_ERR_DEGENERATE when the view is too nearly frontal to tell (f^2 <= 0 or ill-conditioned).
 */
sl_status sl_rectangle_from_view(double *focal_px, double *ratio, const sl_point corner[4],
                                 sl_point centre, sl_error *err);

/* ---- rectify: outline -> page map ---------------------------------------------------------- */

/*
 * What is known of camera and lens before a page is fitted, each value with its standard
 * deviation (Gaussian priors, never constraints). Pinhole, x right, y down;
 * distorted = undistorted * (1 + k1 r^2 + k2 r^4), r^2 of x = X/Z, y = Y/Z (Brown 1971).
 */
typedef struct sl_optics {
    size_t width;            /* px of the upright shot that these values are for */
    size_t height;
    double focal_px;
    double ln_focal_sigma;
    double centre_x;         /* principal point, px */
    double centre_y;
    double centre_sigma;     /* px, each axis */
    double k1;
    double k2;
    double k1_sigma;
    double k2_sigma;
    bool   from_album;       /* solved over many pages; else guessed from the tags */
} sl_optics;

/* From the tags by CIPA DC-008's diagonal rule, with wide sigmas where signs of cropping show. */
sl_optics sl_optics_guess(const sl_exif *exif, size_t width, size_t height);

typedef enum sl_model { SL_MODEL_FLAT = 0, SL_MODEL_LENS, SL_MODEL_SHEET, SL_MODEL_PATCH } sl_model;

enum { SL_PROFILE_MAX = 16 };  /* coefficients of the sheet's profile */
enum { SL_PATCH_NODES = 33 }; /* nodes along a side of the patch correction */

/* page coordinates -> shot px: a plain value that can be stored and replayed bit for bit. */
typedef struct sl_page_map {
    sl_model model;
    double   page[2];        /* width, height: mm, or 1 and height/width without a size */
    bool     has_size;
    double   rotation[3];    /* page to camera, Rodrigues vector */
    double   translation[3]; /* in page units */
    double   focal_px;
    double   centre[2];
    double   k1;
    double   k2;
    double   stretch;        /* true height/width over page[1]/page[0]: about 1 */
    double   phi;            /* angle of the rulings to the v axis */
    size_t   profile_count;  /* 0 for a flat sheet */
    double   profile[SL_PROFILE_MAX]; /* of the slope theta: Legendre polynomials 1, 2, ... */
    /*
     * With SL_MODEL_PATCH: displacement along each edge in px at equal steps, in the direction
     * of u or v, added by bilinearly blended (Coons) interpolation.
     */
    sl_point patch[4][SL_PATCH_NODES];
} sl_page_map;

/* Where a page point lies in the shot. */
sl_point sl_page_map_point(const sl_page_map *map, double u, double v);

/*
 * A map made ready for many points: sl_page_mapper_point() is sl_page_map_point() to 1e-3 px, and
 * an order of magnitude faster. It keeps a copy of the map; any number of threads may ask it.
 */
typedef struct sl_page_mapper sl_page_mapper;

sl_status sl_page_mapper_new(sl_page_mapper **out, const sl_page_map *map, sl_error *err);
sl_point sl_page_mapper_point(const sl_page_mapper *mapper, double u, double v);
void sl_page_mapper_free(sl_page_mapper *mapper);

/* d(x,y)/d(u,v), px per page unit, row-major 2x2. */
void sl_page_map_jacobian(double j[4], const sl_page_map *map, double u, double v);

typedef struct sl_rectify_params {
    double page_mm[2];       /* width and height as stated, 0 when unknown; either order: the
                                outline shows which is the width */
    double ratio_sigma;      /* of height/width about the stated one; 0.005, or 0.10 unknown */
} sl_rectify_params;

sl_rectify_params sl_rectify_defaults(void);

typedef struct sl_rectified {
    sl_page_map map;         /* rounded to the digits that the report prints */
    double residual_px;      /* RMS of the inlying edge points about the model's edges */
    double residual_mm;      /* 0 without a page size */
    double inside_error_mm;  /* bound on the map's error inside the page: design, section 5.
                                Without a page size in 1/1000 of the page's width */
    double aspect;           /* height / width as measured */
    double aspect_sigma;
    double outlier_share;    /* of edge points rejected by the robust fit */
    double patch_mm;         /* greatest distance that the patch moves an edge; 0 without one.
                                Without a page size in 1/1000 of the page's width */
} sl_rectified;

/* SL_ERR_DEGENERATE when no plausible view explains the outline, or the map folds. */
sl_status sl_rectify(sl_rectified *out, const sl_outline *outline, const sl_optics *optics,
                     const sl_rectify_params *params, sl_error *err);

enum { SL_OPTICS_PAGES = 16 };  /* as many as the album's optics are solved from */

/*
 * Optics shared by the pages of one set-up: focal length, principal point and lens fitted to
 * all outlines together, each page with a pose, proportions and curl of its own.
 * outlines  of `count` shots of guess's size; of more than SL_OPTICS_PAGES those that differ
 *           most are taken
 * guess     the prior: sl_optics_guess(), or what another folder gave
 * out       sigmas are those left for one page, for pages are not focused quite alike
 * SL_ERR_DEGENERATE when fewer than three pages or no more than half of them agree, or they
 * tell no more of the lens than was known: `guess` is then the better choice.
 */
sl_status sl_optics_solve(sl_optics *out, const sl_outline *const *outlines, size_t count,
                          const sl_optics *guess, const sl_rectify_params *params,
                          sl_error *err);

/* ---- resample: once, in linear light ------------------------------------------------------- */

/* Where an output pixel's centre lies in the shot; pure and thread-safe. */
typedef sl_point (*sl_map_fn)(const void *ctx, double column, double row);

/*
 * A resampler holds the map on a grid (interpolated within 0.01 px), the kernel tables and the
 * tone tables; it borrows shot, tone and ctx until it is freed. `shot` may be read by many.
 */
typedef struct sl_resampler sl_resampler;

typedef struct sl_resample_params {
    size_t   width;          /* of the output, px */
    size_t   height;
    unsigned bits;           /* 8 or 16 out */
    double   fill;           /* coded grey 0..1 for points outside the shot */
} sl_resample_params;

sl_status sl_resampler_new(sl_resampler **out, const sl_image *shot, const sl_tone *tone,
                           sl_map_fn map, const void *ctx, const sl_resample_params *params,
                           sl_error *err);
void sl_resampler_free(sl_resampler *resampler);

/* Rows first .. first + count - 1 into `rows` (stride bytes apart). Thread-safe. */
sl_status sl_resampler_rows(const sl_resampler *resampler, size_t first, size_t count,
                            void *rows, size_t stride, sl_error *err);

/* Share of output pixels whose centre lies outside the shot (they were filled). */
double sl_resampler_outside(const sl_resampler *resampler);

/* ---- inspect: what the shot delivered, and the verdict ------------------------------------- */

typedef enum sl_verdict { SL_PASS = 0, SL_LOOK, SL_RESHOOT } sl_verdict;

typedef enum sl_code {
    SL_CODE_NO_PAGE = 0, SL_CODE_SEVERAL_PAGES, SL_CODE_CUT, SL_CODE_NEAR_FRAME,
    SL_CODE_WEAK_OUTLINE, SL_CODE_RIVAL, SL_CODE_UNSURE_SHAPE, SL_CODE_SIZE_DIFFERS,
    SL_CODE_SOFT, SL_CODE_GLARE, SL_CODE_CLIPPED, SL_CODE_UNEVEN_LIGHT, SL_CODE_FEW_PIXELS,
    SL_CODE_PATCH, SL_CODE_STICKS_OUT, SL_CODE_SAME_PAGE, SL_CODE_WHICH_WAY_UP,
    SL_CODE_MORE_IMAGES, SL_CODE_HAND_CORRECTED,
    SL_CODE_FROM_PLACE, SL_CODE_ODD_PLACE, SL_CODE_COUNT
} sl_code;

/* "no-page", "several-pages", ...: the report's stable names. */
const char *sl_code_name(sl_code code);

typedef struct sl_reason {
    sl_code     code;
    double      value;       /* the figure, in `unit` */
    double      limit;
    const char *unit;        /* static: "mm", "ppi", "px", "%", "" */
    sl_verdict  weight;      /* PASS: a remark only */
    char        text[240];   /* one sentence to act on */
} sl_reason;

enum { SL_REASONS_MAX = 24 };

typedef struct sl_ppi {
    double min;              /* shot pixels per inch of page, smaller direction */
    double p5;               /* 5th percentile over the page */
    double median;
} sl_ppi;

typedef struct sl_inspection {
    bool       has_ppi;
    sl_ppi     native_ppi;
    double     sharpness;    /* measured edge sharpness over what this native ppi could give, 0..1 */
    double     glare;        /* share of the page that is blown out in a soft spot */
    double     clipped;      /* share of the page at the top code in all channels */
    double     evenness;     /* darkest over brightest paper, 0..1 */
    double     brightest;    /* of the brightest 200th of the page, linear (white = 1) */
    double     tilt_deg;     /* between page normal and optical axis */
    double     frame_share;  /* of the shot's pixels that are page */
    sl_verdict verdict;
    size_t     reason_count;
    sl_reason  reason[SL_REASONS_MAX]; /* gravest first */
} sl_inspection;

/* Who made the picture: the sentences advise accordingly. */
typedef enum sl_source {
    SL_SOURCE_CAMERA = 0,
    SL_SOURCE_SCANNER,       /* a flatbed: no camera's tags, no perspective */
    SL_SOURCE_UNKNOWN        /* no tags, and no page that could tell */
} sl_source;

typedef struct sl_inspect_params {
    double page_mm[2];       /* as stated; 0 when unknown */
    double wanted_ppi;
    double min_ppi;
    size_t images;           /* in the shot's file */
    sl_source source;
    double limit[SL_CODE_COUNT]; /* the limit of each code in its unit */
} sl_inspect_params;

sl_inspect_params sl_inspect_defaults(void);

/*
 * Adds a reason behind those of its weight; the verdict follows. For what only a caller knows.
 * text  printf's, one sentence to act on; a reason too many is left out
 */
void sl_inspection_add(sl_inspection *inspection, sl_code code, double value, double limit,
                       const char *unit, sl_verdict weight, const char *text, ...);

/*
 * rectified  NULL: no page
 * shot       without pixels (data NULL): the figures of light are NaN and not judged
 */
sl_status sl_inspect(sl_inspection *out, const sl_image *shot, const sl_tone *tone,
                     const sl_outline *outline, const sl_rectified *rectified,
                     const sl_inspect_params *params, sl_error *err);

/* ---- encode: rows -> a page file ----------------------------------------------------------- */

typedef enum sl_compression { SL_DEFLATE = 0, SL_LZW, SL_NO_COMPRESSION } sl_compression;

/* What a person wrote of a page: UTF-8, borrowed; NULL or "" where there is nothing. */
typedef struct sl_words {
    const char *caption;
    const char *date;        /* when the page is of: "1934-07-02", "1934-07", "1934" or in words,
                                "about 1934" */
    const char *place;
    const char *people;      /* names, "; " between them */
} sl_words;

/* What a page file says beside its pixels; every pointer is borrowed, NULL or "" leaves out. */
typedef struct sl_page_info {
    double      ppi;         /* written; 0: no claim of print size */
    const void *icc;         /* carried over whole; NULL: sRGB is declared */
    size_t      icc_size;
    const char *date;        /* when the shot was taken, Exif form */
    const char *make;
    const char *model;
    const char *shot_name;   /* without folder */
    const char *shot_sha256; /* 64 hex digits */
    double      native_ppi;  /* 5th percentile; 0 unknown */
    bool        interpolated; /* written ppi is finer than the shot's */
    sl_words    words;       /* place: leave out where the location shall not be told */
    bool        has_position; /* of the camera, likewise */
    double      latitude_deg; /* north positive */
    double      longitude_deg; /* east positive */
} sl_page_info;

typedef struct sl_encode_params {
    sl_format      format;   /* JPEG, PNG or TIFF */
    size_t         width;
    size_t         height;
    unsigned       channels;
    unsigned       bits;     /* of the rows; JPEG takes 8 only */
    int            quality;  /* JPEG, 1..100; 4:4:4 */
    sl_compression compression; /* TIFF */
} sl_encode_params;

typedef struct sl_writer sl_writer;

/* Writes to `file` (seekable, opened "w+b", stays the caller's). Bytes depend on arguments only. */
sl_status sl_writer_new(sl_writer **out, FILE *file, const sl_encode_params *params,
                        const sl_page_info *info, sl_error *err);
sl_status sl_writer_rows(sl_writer *writer, const void *rows, size_t count, size_t stride,
                         sl_error *err);
/* Completes the file (all rows must be there) and flushes stdio; SL_ERR_SPACE when the disk is full. */
sl_status sl_writer_finish(sl_writer *writer, sl_error *err);
void sl_writer_free(sl_writer *writer); /* also before finish: the file is then not whole */

/* ---- driver: the stages chained ------------------------------------------------------------ */

/* Of masters; access copies are sRGB whatever the shot. */
typedef enum sl_colour_policy { SL_COLOUR_KEEP = 0, SL_COLOUR_SRGB } sl_colour_policy;

/* Everything that touches a page's pixels or its verdict. */
typedef struct sl_settings {
    double           page_mm[2];   /* 0 when not stated; either order */
    double           ppi;          /* wanted */
    bool             no_upsample;  /* write no more than the shot holds */
    double           min_ppi;      /* 0: half of ppi */
    double           margin_mm;    /* kept around the page in masters */
    unsigned         turn_deg;     /* 0, 90, 180, 270 clockwise, after Exif orientation */
    bool             whole_frame;  /* the picture is the page */
    bool             has_corners;  /* a person's outline ... */
    bool             exact;        /* ... kept as it is */
    sl_point         corners[4];   /* upright shot px */
    sl_format        master;       /* TIFF, PNG, or UNKNOWN for none */
    sl_format        access;       /* JPEG, or UNKNOWN for none */
    int              quality;      /* of JPEG */
    size_t           access_pixels; /* most px on an access copy's longer side; 0: all */
    unsigned         bits;         /* 8, 16; 0: as the shot */
    sl_compression   compression;  /* of TIFF */
    sl_colour_policy colour;       /* JPEG files are always sRGB */
    bool             keep_location; /* in access copies too */
    double           limit[SL_CODE_COUNT];
    sl_decode_params decode;
} sl_settings;

sl_settings sl_settings_defaults(void);

/* Threads shared by pages and rows. */
typedef struct sl_context sl_context;

/* jobs: threads at work at once; 0: one for each processor. */
sl_status sl_context_new(sl_context **out, unsigned jobs, sl_error *err);
void sl_context_free(sl_context *context);

/* A shot with all that was found out about its page. Everything in it is the page's own. */
typedef struct sl_page {
    char         *shot_name;       /* without folder */
    char          shot_sha256[65];
    sl_shot      *shot;
    sl_profile    profile;         /* what was embedded in the shot */
    sl_tone      *tone;
    sl_outline   *outline;
    sl_optics     optics;
    bool          has_map;
    sl_rectified  rectified;       /* when has_map */
    sl_inspection inspection;
    sl_settings   settings;
    double        px_per_unit;     /* of the output; 0 without a map */
    double        written_ppi;     /* 0: no claim of print size */
    bool          interpolated;    /* written finer than the shot holds */
    size_t        width;           /* of the cropped page, px */
    size_t        height;
    size_t        margin_px;       /* around it in masters */
    bool          from_place;      /* the outline was found from where the other pages lie */
    unsigned      own_tag;         /* the shot's orientation tag where the album's commonest was
                                      taken in its place; else 0 */
    double        filled;          /* share of the written image that lay outside the shot */
    sl_words      words;           /* for its files; borrowed: the caller sets them before writing */
} sl_page;

/*
 * Decodes a shot, finds its page and judges it; writes nothing.
 * name    of the shot, for reports
 * optics  solved over an album, or NULL: guessed from the shot's tags, as for a shot of another
 *         size or focal length
 * "No page" is a page with has_map false and a verdict that says so. Errors are the shot's own
 * (damaged, over limits) or the machine's.
 */
sl_status sl_page_find(sl_page **out, const void *bytes, size_t size, const char *name,
                       const sl_settings *settings, const sl_optics *optics, sl_error *err);
void sl_page_free(sl_page *page);

/* sl_page_find() on a file; `-` is standard input. Errors name the file. */
sl_status sl_page_load(sl_page **out, const char *path, const sl_settings *settings,
                       const sl_optics *optics, sl_error *err);

/* Where a page's pixels go: one resampling serves all targets. */
typedef struct sl_target {
    FILE     *file;                /* seekable, "w+b" */
    sl_format format;
    bool      with_margin;
    size_t    long_side;     /* most px on the page's longer side, then without a margin; 0: all */
} sl_target;

/*
 * Resamples the page once and writes it to `count` targets; for a small one once more from the
 * shot. page->filled is set.
 * context  may be NULL: no threads
 * stop     may be NULL; when *stop becomes non-zero the work ends with SL_ERR_CANCELLED
 */
sl_status sl_page_write(sl_page *page, const sl_target *target, size_t count,
                        sl_context *context, const volatile int *stop, sl_error *err);

/*
 * Writes the page to one file, whole or not at all; `-` is standard output.
 * shot_path  the shot that may never be written, or NULL
 * force      replace a file that is there; else SL_ERR_EXISTS
 */
sl_status sl_page_save(sl_page *page, const char *path, const char *shot_path, sl_format format,
                       bool force, sl_context *context, const volatile int *stop, sl_error *err);

/* The format that a file name's ending stands for; UNKNOWN for others. */
sl_format sl_format_of_name(const char *path);

/*
 * The page's report, design section 8, as JSON text of one object; owned by the caller, free().
 * grid    N: with N x N page-to-shot points, evenly over the page, both ends included, v outer;
 *         0: none
 * indent  spaces; 0: one line
 */
sl_status sl_page_json(char **out, const sl_page *page, unsigned grid, unsigned indent,
                       sl_error *err);

/*
 * All numbers that the geometry was made of, without any picture, as a JSON file: outline with
 * each edge point, optics, settings. sl_page_replay() makes the same map from it, bit for bit.
 * shot_path, force  as for sl_page_save()
 */
sl_status sl_page_numbers(const sl_page *page, const char *path, const char *shot_path,
                          bool force, sl_error *err);

/*
 * A page from such a file. Its image has a size and no pixels (data NULL), its figures of light
 * are NaN, and its verdict is about geometry only; it cannot be written or drawn.
 * SL_ERR_FORMAT, with what is wrong, for anything that sl_page_numbers() does not write.
 */
sl_status sl_page_replay(sl_page **out, const char *path, sl_error *err);

/*
 * A PNG to look at: the shot, at most 2,000 px a side, with what was found drawn over it. Green:
 * the model's outline and lines of the page, eighths of it apart; orange: the edge points that
 * were measured; rings: the corners, with as many dots inside as the corner's number, clockwise
 * from the page's top-left. Without a page it is the shot alone.
 * shot_path, force  as for sl_page_save()
 */
sl_status sl_page_draw(const sl_page *page, const char *path, const char *shot_path, bool force,
                       sl_error *err);

/* "pass", "look", "reshoot". */
const char *sl_verdict_name(sl_verdict verdict);

/* ---- driver: a folder of shots -> a folder of pages ------------------------------------------ */

typedef enum sl_outcome {
    SL_OUTCOME_PASS = 0,
    SL_OUTCOME_LOOK,
    SL_OUTCOME_RESHOOT,
    SL_OUTCOME_FAILED,             /* an image by its ending, but unreadable, damaged, too large */
    SL_OUTCOME_SKIPPED             /* no shot */
} sl_outcome;

/* "pass", "look", "reshoot", "failed", "skipped". */
const char *sl_outcome_name(sl_outcome outcome);

/* Which page comes first. By name: natural order, shot2 before shot10. */
typedef enum sl_order {
    SL_ORDER_NAME = 0,
    SL_ORDER_TIME,                 /* by Exif date, those without one last; then by name */
    SL_ORDER_RECTOS_VERSOS         /* by name: all right-hand pages, then all left-hand ones */
} sl_order;

enum { SL_SHARES_MOST = 1000 };

typedef struct sl_album_params {
    sl_settings settings;
    sl_order    order;
    bool        versos_reversed;   /* of SL_ORDER_RECTOS_VERSOS: the left-hand pages were shot from
                                      the album's end to its beginning */
    char        name[64];          /* pattern of the pages' names, with {album}, {shot}, {page} and
                                      {state}; "": that of the pages there, or page-{page}-{state} */
    bool        force;             /* replace files that are not ours */
    bool        redo;              /* do all again */
    bool        dry_run;           /* tell by events->plan() what would be done; write nothing */
    bool        rehash;            /* trust no time stamps */
    bool        renumber;          /* new page names by place, instead of those of earlier runs */
    unsigned    share;             /* make only every `shares`th page, from the `share`th on: 1 to
                                      `shares`; sl_album_gather() joins them */
    unsigned    shares;            /* 0: all pages; at most SL_SHARES_MOST */
    unsigned    jobs;              /* threads; 0: one for each processor */
    size_t      memory;            /* bytes for pages in flight; 0: half of RAM */
    const char *optics;            /* file to take camera and lens from; NULL: OUT_DIR's own */
    bool        recalibrate;       /* solve OUT_DIR/optics.json again */
    size_t      expect;            /* pages that the album has; 0: not known */
    const char *captions;          /* table of words; NULL: the newer captions.csv in OUT_DIR or
                                      beside the shots */
    const char *corrections;       /* what a person said of the pages; NULL: the newest
                                      corrections.json beside the shots or in OUT_DIR */
    /* NULL, or: may the run take this file of the folder? One that it may not is as if it were not
       there yet, like one that is still being copied. Called before anything is written */
    bool (*ready)(void *ctx, const char *name);
    void *ready_ctx;
} sl_album_params;

/* A person's word on a page. It stands beside the verdict and counts in its place. */
typedef enum sl_word { SL_WORD_NONE = 0, SL_WORD_ACCEPTED, SL_WORD_REFUSED } sl_word;

/* One file of the folder and what became of it. Strings live as long as the result. */
typedef struct sl_album_item {
    const char *shot;              /* name in the folder */
    const char *page;              /* "page-0001", its files' name; NULL of a skipped file */
    const char *label;             /* "1", "12a": its number for people; NULL of a skipped file */
    sl_outcome  outcome;           /* the program's */
    sl_word     word;              /* a person's word, where it stands */
    const char *reason;            /* one sentence: the gravest reason; "" when all is well */
    const char *replacement;       /* of a page to photograph again: the number of a good page
                                      that seems to be another shot of it; else NULL */
    bool        fresh;             /* done in this run, not in an earlier one */
    bool        again;             /* told before, and judged anew beside all the others */
    sl_outcome  before;            /* of `again`: what it was told as; else as `outcome` */
    bool        has_ppi;
    double      native_ppi;        /* 5th percentile */
    double      written_ppi;       /* 0: no claim */
    bool        untagged;          /* no colour profile of use: taken as sRGB */
    const char *json;              /* the page's report, one line; NULL when not asked for, and
                                      of a skipped file */
} sl_album_item;

/*
 * Progress as it happens; any may be NULL. Called from one thread at a time, in page order. At the
 * end a page that the others put in another light comes once more, `again`: its last word counts.
 */
typedef struct sl_album_events {
    void *ctx;
    /* before the first page: what will be done, and disk space needed and free, bytes */
    void (*begin)(void *ctx, size_t shots, size_t to_do, double needed, double free_space);
    void (*item)(void *ctx, const sl_album_item *item, size_t done, size_t to_do);
    bool json;               /* items come with their `json`; printing it takes its time */
    /* before begin(): what a run that goes on should say, a sentence without its full stop */
    void (*note)(void *ctx, const char *text);
    /* of a dry run, each page in order: why it would be done, NULL when it stands as it is */
    void (*plan)(void *ctx, const char *page, const char *shot, const char *why);
} sl_album_events;

/* What is wrong with the album as a whole; said once, not on each page. */
typedef struct sl_album_fault {
    const char *code;              /* "page-count", or the code of the pages' reason */
    double      value;
    double      limit;
    const char *unit;
    const char *text;              /* what is wrong and what to do */
} sl_album_fault;

typedef struct sl_album {
    sl_album_item *item;           /* pages in order, then skipped files */
    size_t         count;
    size_t         outcomes[5];    /* how many of each sl_outcome */
    sl_album_fault *fault;
    size_t         fault_count;
    size_t         open[5];        /* the same after the person's words: an accepted page counts as
                                      pass, a refused one as reshoot */
    const char    *optics_note;    /* one sentence: where camera and lens came from */
    void          *memory;         /* what the strings live in */
} sl_album;

/*
 * Flattens the shots of a folder into OUT_DIR: design, section 9. Goes on where an earlier run
 * stopped; one bad shot never stops the rest.
 * out     filled also when SL_ERR_SPACE, SL_ERR_IO or SL_ERR_CANCELLED end the run early: with
 *         what was done. Free it in every case with sl_album_clear()
 * stop    may be NULL; non-zero ends the run after the pages in flight were given up
 * Before any shot is tried: SL_ERR_ARG (folders that are one, or the wrong way round),
 * SL_ERR_NO_SHOTS, SL_ERR_EXISTS (OUT_DIR cannot be made, or holds a report and no journal),
 * SL_ERR_BUSY (another run holds it), SL_ERR_PERMISSION.
 * A report in OUT_DIR that somebody changed gets another name, and events->note() tells it.
 */
sl_status sl_album_run(sl_album *out, const char *shots_dir, const char *out_dir,
                       const sl_album_params *params, const sl_album_events *events,
                       const volatile int *stop, sl_error *err);
void sl_album_clear(sl_album *album);

/* How many of a folder's files sl_album_run() would take for shots. SL_ERR_IO and alike: it cannot
   be read. */
sl_status sl_album_shots(size_t *count, const char *shots_dir, sl_error *err);

/*
 * Joins what shares made, in OUT_DIR itself and in other folders, into OUT_DIR and its report: the
 * result is that of one run. A page that no share has made counts as failed.
 * out  filled on success; sl_album_clear() in every case
 * SL_ERR_NO_SHOTS (no share there), SL_ERR_EXISTS (shares of other shots, settings or optics; files
 * that are not ours, unless `force`), SL_ERR_BUSY, and those of reading and writing.
 */
sl_status sl_album_gather(sl_album *out, const char *out_dir, const char *const *share_dirs,
                          size_t count, bool force, const sl_album_events *events, sl_error *err);

/*
 * What the last run into OUT_DIR was told (settings, order, versos_reversed, expect), over what is in *params.
 * False, and *params unchanged, when there was none. For a later run to go on with: sl_album_run()
 * itself takes params as they are.
 */
bool sl_album_remembered(sl_album_params *params, const char *out_dir);

/*
 * Makes OUT_DIR/review.html again, from the report and the small pictures that the last run left;
 * no shot is needed.
 * force  replace a review.html that is not ours
 * SL_ERR_NO_SHOTS without a report, SL_ERR_BUSY while a run is at work, SL_ERR_EXISTS.
 */
sl_status sl_album_review(const char *out_dir, bool force, sl_error *err);

/* ---- what an album's folder holds ------------------------------------------------------------ */

/* Why a page is not whole: what keeps an album from being complete. */
typedef enum sl_gap {
    SL_GAP_NONE = 0,
    SL_GAP_RESHOOT,                /* to be photographed again */
    SL_GAP_REFUSED,                /* by a person's word */
    SL_GAP_FAILED,                 /* its shot could not be read, or the page not be written */
    SL_GAP_NOT_MADE,               /* it has a name, and the run ended before it was made */
    SL_GAP_NO_FILE                 /* one of its files is not there */
} sl_gap;

typedef struct sl_record_file {
    const char *path;              /* in OUT_DIR */
    const char *sha256;            /* 64 hex digits */
    uint64_t    size;              /* bytes */
} sl_record_file;

/* A page as report.json and the journal tell of it. No string is NULL unless said. */
typedef struct sl_record_page {
    const char     *page;          /* "page-0012a" */
    const char     *label;         /* "12a" */
    const char     *shot;          /* its name as reports show it */
    char           *shot_path;     /* the bytes of its path when it was last seen; NULL unknown */
    const char     *shot_sha256;   /* "" when it could not be read */
    sl_outcome      outcome;
    bool            accepted;      /* by a person: then `reshoot` is no gap */
    sl_gap          gap;
    const char     *why;           /* one sentence: the gravest reason; "" when all is well */
    sl_words        words;         /* NULL where nothing was written */
    double          page_mm[2];    /* width, height; 0 unknown */
    double          ppi;           /* written; 0 unknown */
    sl_record_file *file;
    size_t          files;
    sl_record_file *picture;       /* small ones for the review page */
    size_t          pictures;
    const sl_record_file *access;  /* the JPEG to share, one of `file`; NULL when there is none */
} sl_record_page;

typedef struct sl_record {
    char           *out_dir;
    sl_record_page *page;          /* in the album's order */
    size_t          pages;
    size_t          gaps;
    void           *memory;
    int             lock;
} sl_record;

/*
 * Reads OUT_DIR/report.json, and the journal where there is one. No run may change the folder
 * until sl_record_free().
 * SL_ERR_NO_SHOTS when the folder has no report; SL_ERR_FORMAT for a damaged one; SL_ERR_BUSY
 * while a run is at work there.
 */
sl_status sl_record_open(sl_record **out, const char *out_dir, sl_error *err);
void sl_record_free(sl_record *record);

/* Did a run ever write that path in OUT_DIR: with any bytes (sha256 NULL), or with these? */
bool sl_record_made(const sl_record *record, const char *path, const char *sha256);

/* ---- keepsakes: one PDF to leaf through, one bag to store ------------------------------------ */

/* What is wrong with a file. */
typedef enum sl_finding {
    SL_FOUND_MISSING = 0,
    SL_FOUND_CHANGED,              /* its bytes are not those that were recorded */
    SL_FOUND_FAULT,                /* a bag's own lists make no sense */
    SL_FOUND_EXTRA,                /* no list has it */
    SL_FOUND_UNSEEN,               /* a shot that is not where it was, or unreadable */
    SL_FOUND_UNKNOWN,              /* in an album's folder, somebody else's: a book, notes */
    SL_FOUND_COUNT
} sl_finding;

/* "missing", "changed", "faulty", "extra", "out of reach", "not checked". */
const char *sl_finding_name(sl_finding finding);

/* What happens on the way; any may be NULL. In a path
   control characters are \xHH. Called from the thread that called. */
typedef struct sl_keep_events {
    void *ctx;
    void (*note)(void *ctx, const char *text); /* to be said, a sentence without its full stop */
    void (*progress)(void *ctx, double done, double total); /* pages or bytes */
    void (*finding)(void *ctx, sl_finding finding, const char *path, const char *why);
} sl_keep_events;

typedef enum sl_paper { SL_PAPER_OWN = 0, SL_PAPER_A4, SL_PAPER_LETTER } sl_paper;

typedef struct sl_book_params {
    const char *title;             /* UTF-8; NULL: OUT_DIR's own name */
    sl_paper    paper;             /* OWN: every sheet is as large as its page */
    bool        captions_below;    /* the words of a page in a band below it */
    double      max_bytes;         /* 0: no limit */
    bool        incomplete;        /* gaps become blank pages that say what is missing */
    bool        force;
} sl_book_params;

typedef struct sl_book {
    size_t pages;                  /* gaps included */
    size_t gaps;
    double bytes;
    double scale[2];               /* least and most: printed length over the page's own */
    bool   reencoded;              /* the pages were made smaller to keep to max_bytes ... */
    int    quality;                /* ... at this JPEG quality */
    double ppi;                    /* ... and at most these px per inch of page; 0: all */
} sl_book;

/* What a page without a size is taken for, px per inch. */
#define SL_BOOK_ASSUMED_PPI 300.0

/*
 * Writes the album's access copies into one PDF, page after page, each with the very bytes of its
 * JPEG. With max_bytes they are encoded again, as little smaller as will do.
 * SL_ERR_INCOMPLETE when the record has gaps and params->incomplete is not set; SL_ERR_LIMIT when
 * max_bytes cannot be kept; SL_ERR_EXISTS also where `path` is a shot or one of the pages.
 */
sl_status sl_book_write(sl_book *out, const sl_record *record, const char *path,
                        const sl_book_params *params, const sl_keep_events *events,
                        const volatile int *stop, sl_error *err);

typedef struct sl_bag_params {
    const char *shots_dir;         /* where the shots are now; NULL: where they were */
    bool        without_shots;
    bool        incomplete;        /* gaps, and shots that are gone or changed, become lines of
                                      bag-info.txt */
} sl_bag_params;

typedef struct sl_bag {
    size_t files;                  /* of the payload */
    size_t shots;                  /* among them */
    double bytes;
    size_t gaps;
} sl_bag;

/*
 * Makes a BagIt 1.0 bag (RFC 8493) of all that OUT_DIR holds and of the shots, with SHA-256 and
 * SHA-512 manifests. What the record has sums of is compared as it is copied. bag_dir appears
 * whole or not at all; it may not exist.
 * SL_ERR_INCOMPLETE when something is missing or changed, each told by events->finding, and
 * params->incomplete is not set; SL_ERR_EXISTS when bag_dir exists, cannot be made, or lies in
 * OUT_DIR.
 */
sl_status sl_bag_write(sl_bag *out, const sl_record *record, const char *bag_dir,
                       const sl_bag_params *params, const sl_keep_events *events,
                       const volatile int *stop, sl_error *err);

typedef struct sl_verified {
    bool   is_bag;
    size_t files;                  /* that were read */
    double bytes;
    size_t found[SL_FOUND_COUNT];
} sl_verified;

/*
 * Reads every byte of a bag, or of an album's folder and its shots, and tells by events->finding
 * what is not as it was recorded.
 * shots_dir, without_shots  of an album's folder: as in sl_bag_params
 * SL_ERR_NO_SHOTS when the folder is neither.
 */
sl_status sl_verify(sl_verified *out, const char *dir, const char *shots_dir, bool without_shots,
                    const sl_keep_events *events, const volatile int *stop, sl_error *err);

/* ---- captions: a table for a person to fill in ------------------------------------------------ */

typedef struct sl_captions_told {
    size_t pages;                  /* of the album */
    size_t added;                  /* rows that are new in the table */
} sl_captions_told;

/*
 * Makes OUT_DIR/captions.csv, a row for each page, or adds rows for pages that it has none of;
 * what is filled in stays, and a table that has all pages is not touched. sl_album_run() reads it.
 * SL_ERR_FORMAT when the table that is there cannot be read: it is left as it is.
 */
sl_status sl_captions_table(sl_captions_told *told, const char *out_dir, sl_error *err);

/* ---- driver: what a camera can do for pages of a size ---------------------------------------- */

typedef struct sl_plan {
    size_t camera[2];        /* as asked, px */
    double page_mm[2];
    double ppi;
    double native_ppi;       /* when the page fills the picture, 100 % of its tighter direction */
    double native_ppi_90;    /* when it fills 90 %: with a finger's width of table */
    double largest_mm[2];    /* of this shape, at the wanted ppi and 100 %; in the order asked */
    double largest_mm_90[2];
    size_t page_px[2];       /* the page at the wanted ppi */
    double page_mp;          /* ... in megapixels */
    double camera_mp;        /* what a camera with this picture's proportions needs, at 100 % */
    double camera_mp_90;
    size_t shots[2];         /* overlapping shots along the picture's width and height ... */
    size_t shots_per_page;   /* ... and their product; 1 when one at 90 % reaches the wanted ppi */
    double master_bytes;     /* of one page: TIFF, 8-bit RGB, Deflate */
    double access_bytes;     /* JPEG, quality 95, 4:4:4 */
} sl_plan;

/* Of each shot's width and height, shared with its neighbour. Common practice: 20 to 30 %. */
#define SL_PLAN_OVERLAP 0.2

/* Shares of the plain bytes that files of photographs keep. Common practice, on the safe side. */
#define SL_PLAN_MASTER_SHARE 0.7
#define SL_PLAN_ACCESS_SHARE 0.3

/*
 * camera   the picture's width and height, px, either order
 * page_mm  either order: the better of the two directions in the frame is taken
 * ppi      wanted
 * SL_ERR_ARG unless all are positive.
 */
sl_status sl_plan_camera(sl_plan *out, const size_t camera[2], const double page_mm[2],
                         double ppi, sl_error *err);

enum { SL_ADVICE_MAX = SL_REASONS_MAX + 4 };

/* What to move before the album is photographed: one sentence for each shortfall. */
typedef struct sl_advice {
    size_t count;
    char   text[SL_ADVICE_MAX][240];
} sl_advice;

/*
 * Of a test shot: the reasons of its inspection, and what costs resolution or evenness without
 * being a fault of the page. Needs settings.page_mm to speak of resolution.
 */
sl_advice sl_plan_advice(const sl_page *page);

/*
 * A plan as JSON text of one object on one line, disk space for `pages` pages included; owned by
 * the caller, free().
 * page  the test shot, or NULL: then without "shot"
 */
sl_status sl_plan_json(char **out, const sl_plan *plan, unsigned pages, const sl_page *page,
                       sl_error *err);

#if defined(__GNUC__)
#pragma GCC visibility pop
#endif

#ifdef __cplusplus
}
#endif

#endif
