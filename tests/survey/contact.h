/* Contact sheet: small pictures of shots, with the found outline red and the true one green. */
#ifndef SURVEY_CONTACT_H
#define SURVEY_CONTACT_H

#include "survey/judge.h"

enum { TILE_WIDTH = 360, TILE_HEIGHT = 312, TILE_LINES = 3 };

typedef struct survey_tile {
    unsigned char px[TILE_HEIGHT][TILE_WIDTH][3];
} survey_tile;

/*
 * truth, answer  NULL: no line
 * text           TILE_LINES lines under the picture
 */
void survey_tile_draw(survey_tile *out, const sl_image *shot, const scene_truth *truth,
                      const survey_answer *answer, const char *const text[TILE_LINES]);

/* Writes tiles as one PNG. SL_ERR_IO, SL_ERR_NOMEM. */
sl_status survey_contact_save(const char *path, const survey_tile *tiles, size_t count,
                              sl_error *err);

#endif
