/*
 * The review page's files as the build puts them into the program, each ended by a 0 that is not
 * counted: see the Makefile.
 */
#ifndef SL_REVIEW_PARTS_H
#define SL_REVIEW_PARTS_H

extern const unsigned char sl_review_page[];   /* review.html, with @NAMES@ to be filled in */
extern const unsigned char sl_review_style[];  /* review.css */
extern const unsigned char sl_review_script[]; /* all *.js in the order of use, in one function */

#endif
