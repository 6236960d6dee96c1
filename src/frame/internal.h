/* Of a pattern file, pattern_read.c reads all but its measures, which are pattern_measures.c's. */
#ifndef FRAME_INTERNAL_H
#define FRAME_INTERNAL_H

#include "frame/frame.h"

/* ---- pattern_measures.c ---- */

/* Readers of a row (base/base.h): the head into a struct head, the others into a struct pattern;
 * the spacing needs the numbers of strings, which are read before it. */
void pattern_read_head(const struct yaml_node *map, void *out);
void pattern_read_spacing(const struct yaml_node *map, void *out);
void pattern_read_tension(const struct yaml_node *map, void *out);

/* Checks a pattern that was read without fault: a spacing that does not fit into the head is a
 * fault, what the rules of the sport forbid a warning. */
void pattern_check_measures(const struct yaml_node *root, const struct pattern *pattern);

#endif
