/* The reading of a pattern file, shared by the files of this room and nobody else's business.
 *
 * In this order, each step only on what the ones before it read without fault: the values
 * (pattern_read.c, measures_read.c, tie_off_read.c), the hole map (hole_map.c), the knots and the
 * measures against that map.
 */
#ifndef FRAME_PATTERN_READ_H
#define FRAME_PATTERN_READ_H

#include "base/yaml.h"
#include "frame/pattern.h"

/* One label; false with a fault if the frame has no such hole. */
bool pattern_read_hole(const struct yaml_node *node, const struct pattern *pattern,
		       struct hole *out);

/* `head`, `spacing`, `tension`; then whether the strings fit into the head, and the head into the
 * rules of its sport. */
void pattern_read_measures(const struct yaml_node *root, struct pattern *pattern);
void pattern_check_measures(const struct yaml_node *root, const struct pattern *pattern);

/* `tie_off`, and whether the strings leave room for the knots. */
void pattern_read_tie_offs(const struct yaml_node *root, struct pattern *pattern);
void pattern_check_tie_offs(const struct yaml_node *root, const struct pattern *pattern);

/* Works out which hole each string takes. */
void pattern_map_holes(const struct yaml_node *root, struct pattern *pattern);

#endif
