/* Where a fit starts. */
#ifndef SL_RECTIFY_POSE_H
#define SL_RECTIFY_POSE_H

#include "squareleaf.h"

/*
 * Rotation and translation of a flat page of map->page seen with its four corners at `corner`
 * by map's focal length and centre (the lens is left out): the homography of the corners,
 * parted into the nearest rotation. Zhang, PAMI 22(11), 2000, section 3.1.
 * SL_ERR_DEGENERATE when the corners are no such view.
 */
sl_status sl_pose_from_corners(sl_page_map *map, const sl_point corner[4], sl_error *err);

#endif
