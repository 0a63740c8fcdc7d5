/* What all cases share: cameras, papers, tables and light by lot, and how a page is framed. */
#ifndef SURVEY_VARY_H
#define SURVEY_VARY_H

#include "survey/cases.h"

/* An angle between -most and most, degrees in, radians out. */
double survey_angle(scene_chance *chance, double most_deg);

/* A number between -most and most. */
double survey_spread(scene_chance *chance, double most);

/* True once in so many times. */
bool survey_lucky(scene_chance *chance, unsigned one_in);

/* A fair shot: page, table, camera and light by lot, nothing special about any of them. */
void survey_start(survey_shot *shot, scene_chance *chance, size_t width);

/* Paper that stands out against a plain table. */
void survey_contrast(scene *s, scene_chance *chance);

/* A sheet bends by lot, its greatest slope up to `most` radians. */
void survey_bend(scene_sheet *sheet, scene_chance *chance, double most);

/* Things lie round the page. */
void survey_scatter(scene *s, scene_chance *chance, unsigned most);

/* One of the page's sides by lot: a place on it and the direction outwards, page mm. */
void survey_side(const scene *s, scene_chance *chance, double at[2], double out[2]);

/*
 * Moves the camera until the outline's nearest point is `clear` px inside the frame (outside, if
 * negative). False if no distance does.
 */
bool survey_frame(scene *s, double clear);

#endif
