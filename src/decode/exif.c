#include "decode/exif.h"

#include <string.h>

#include <libexif/exif-data.h>

void sl_exif_text(char *to, size_t capacity, const void *text, size_t size)
{
    const unsigned char *from = text;
    size_t length = 0;

    for (size_t i = 0; i < size && from[i] != 0 && length + 1 < capacity; i++) {
        const unsigned char c = from[i];

        if (c < 0x20 || c == 0x7F || (c == ' ' && length == 0))
            continue;
        to[length++] = (char)c;
    }
    while (length > 0 && to[length - 1] == ' ')
        length--;
    to[length] = '\0';
}

void sl_exif_date(char to[20], const void *text, size_t size)
{
    static const char form[] = "dddd:dd:dd dd:dd:dd";
    const unsigned char *from = text;

    if (size < sizeof form - 1)
        return;
    for (size_t i = 0; i < sizeof form - 1; i++) {
        const bool digit = from[i] >= '0' && from[i] <= '9';

        if (form[i] == 'd' ? !digit : from[i] != (unsigned char)form[i])
            return;
    }
    if (memcmp(from, "0000", 4) == 0)
        return;              /* a clock that was never set */
    memcpy(to, from, sizeof form - 1);
    to[sizeof form - 1] = '\0';
}

void sl_exif_number(double *to, double value)
{
    if (value > 0.0 && value < 100000.0)  /* false for NaN */
        *to = value;
}

static const ExifEntry *find(ExifData *data, ExifIfd ifd, ExifTag tag)
{
    const ExifEntry *entry = exif_content_get_entry(data->ifd[ifd], tag);

    return entry != NULL && entry->data != NULL && entry->components > 0 ? entry : NULL;
}

/* A whole number in either of the two types that Exif allows for sizes; 0 when absent. */
static size_t whole(ExifData *data, ExifIfd ifd, ExifTag tag)
{
    const ExifEntry *entry = find(data, ifd, tag);
    const ExifByteOrder order = exif_data_get_byte_order(data);

    if (entry == NULL)
        return 0;
    if (entry->format == EXIF_FORMAT_SHORT && entry->size >= 2)
        return exif_get_short(entry->data, order);
    if (entry->format == EXIF_FORMAT_LONG && entry->size >= 4)
        return exif_get_long(entry->data, order);
    return 0;
}

/* 0 when absent; a denominator of 0 means unknown. */
static double rational(ExifData *data, ExifIfd ifd, ExifTag tag)
{
    const ExifEntry *entry = find(data, ifd, tag);
    ExifRational value;

    if (entry == NULL || entry->format != EXIF_FORMAT_RATIONAL || entry->size < 8)
        return 0.0;
    value = exif_get_rational(entry->data, exif_data_get_byte_order(data));
    return value.denominator == 0 ? 0.0 : (double)value.numerator / value.denominator;
}

static const ExifEntry *ascii(ExifData *data, ExifIfd ifd, ExifTag tag)
{
    const ExifEntry *entry = find(data, ifd, tag);

    return entry != NULL && entry->format == EXIF_FORMAT_ASCII ? entry : NULL;
}

/* GPS tags of CIPA DC-008; libexif names them EXIF_TAG_GPS_... as macros of the same numbers. */
enum { LATITUDE_SIDE = 1, LATITUDE = 2, LONGITUDE_SIDE = 3, LONGITUDE = 4 };

/* Degrees, minutes and seconds as one angle; false when it is none of at most `most` degrees. */
static bool angle(double *out, ExifData *data, int tag, int side,
                  unsigned char negative, double most)
{
    const ExifEntry *entry = find(data, EXIF_IFD_GPS, (ExifTag)tag);
    const ExifEntry *sign = ascii(data, EXIF_IFD_GPS, (ExifTag)side);
    const ExifByteOrder order = exif_data_get_byte_order(data);
    double sum = 0;
    double unit = 1;

    if (entry == NULL || entry->format != EXIF_FORMAT_RATIONAL || entry->size < 24
        || sign == NULL || sign->size < 1)
        return false;
    for (unsigned i = 0; i < 3; i++, unit /= 60) {
        const ExifRational v = exif_get_rational(entry->data + 8 * i, order);

        if (v.denominator == 0)
            return false;
        sum += unit * v.numerator / v.denominator;
    }
    if (!(sum <= most))
        return false;
    *out = sign->data[0] == negative ? -sum : sum;
    return true;
}

void sl_exif_read(sl_exif *exif, const void *block, size_t size)
{
    ExifData *data;
    const ExifEntry *entry;
    size_t orientation;

    if (size > 65535)
        size = 65535;        /* an APP1 holds no more, and libexif reads no more */
    data = exif_data_new();
    if (data == NULL)
        return;              /* the shot can do without its tags */
    /* As stored: libexif would else add what the standard asks for, and correct the rest. */
    exif_data_unset_option(data, EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
    exif_data_set_option(data, EXIF_DATA_OPTION_DONT_CHANGE_MAKER_NOTE);
    exif_data_load_data(data, block, (unsigned)size);

    orientation = whole(data, EXIF_IFD_0, EXIF_TAG_ORIENTATION);
    if (orientation >= 1 && orientation <= 8)
        exif->orientation = (unsigned)orientation;
    entry = ascii(data, EXIF_IFD_0, EXIF_TAG_MAKE);
    if (entry != NULL)
        sl_exif_text(exif->make, sizeof exif->make, entry->data, entry->size);
    entry = ascii(data, EXIF_IFD_0, EXIF_TAG_MODEL);
    if (entry != NULL)
        sl_exif_text(exif->model, sizeof exif->model, entry->data, entry->size);
    entry = ascii(data, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL);
    if (entry != NULL)
        sl_exif_date(exif->date, entry->data, entry->size);
    sl_exif_number(&exif->focal_mm, rational(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH));
    sl_exif_number(&exif->focal_35mm,
                   (double)whole(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH_IN_35MM_FILM));
    sl_exif_number(&exif->digital_zoom,
                   rational(data, EXIF_IFD_EXIF, EXIF_TAG_DIGITAL_ZOOM_RATIO));
    exif->pixel_x = whole(data, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_X_DIMENSION);
    exif->pixel_y = whole(data, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_Y_DIMENSION);
    exif->has_position = angle(&exif->latitude_deg, data, LATITUDE, LATITUDE_SIDE, 'S', 90)
                         && angle(&exif->longitude_deg, data, LONGITUDE, LONGITUDE_SIDE, 'W', 180);
    exif_data_unref(data);
}
