/* Checks of the measures in a pattern file: measures.c. */
#ifndef FRAME_INTERNAL_H
#define FRAME_INTERNAL_H

#include "frame/frame.h"

/* Whether the strings have room in the head, and what the rules of the sports allow. */
void pattern_check_measures(const struct yaml_node *root, const struct pattern *pattern);

/* Whether a bed is less dense in its centre (the middle third) than in any other run of as many
 * strings, given the distances between its strings in order from edge to edge. */
bool bed_is_thin_in_centre(const double *gaps_mm, int count);

#endif
