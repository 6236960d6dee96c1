/* The reading of a pattern file, step by step: each goes on only from what the ones before it read
 * without fault. */
#ifndef FRAME_INTERNAL_H
#define FRAME_INTERNAL_H

#include "base/base.h"
#include "frame/frame.h"

/* 1. The values. `mains_skip`, `shared`, `unused`; then functions of a table (base/base.h), whose
 * `out` is the pattern, or for the head its head. */
void pattern_read_hole_sets(const struct yaml_node *root, struct pattern *pattern);
void pattern_read_tie_offs(const struct yaml_node *map, void *out);
void pattern_read_head(const struct yaml_node *map, void *out);
void pattern_read_spacing(const struct yaml_node *map, void *out);
void pattern_read_range(const struct yaml_node *map, void *out);

/* One hole label; false with a fault if the frame has no such hole. */
bool pattern_read_hole(const struct yaml_node *node, const struct pattern *pattern,
		       struct hole *out);

/* 2. The hole map: which hole each string takes. */
void pattern_map_holes(const struct yaml_node *root, struct pattern *pattern);

/* 3. Whether knots find room and an anchor, and the strings room in the head. */
void pattern_check_tie_offs(const struct yaml_node *root, const struct pattern *pattern);
void pattern_check_measures(const struct yaml_node *root, const struct pattern *pattern);

/* 4. What the rules of the sports allow a racket to be. One outside them exists and can be strung,
 * so these are warnings, each naming its rule:
 *   - tennis: ITF Rules of Tennis, Appendix II b and c
 *   - badminton: BWF Laws of Badminton, Law 4
 *   - squash: WSF racket specification (Appendix 4)
 *   - racquetball: USA Racquetball Official Rules 2.4 limits the whole racket only, which no
 *     plausible head exceeds */
void rules_check(const struct yaml_node *root, const struct pattern *pattern);

double sum_of(const double *values, int count);

/* Whether a bed is less dense in its centre (the middle third) than in any other run of as many
 * strings, given the distances between its strings in order from edge to edge. */
bool bed_is_thin_in_centre(const double *gaps_mm, int count);

#endif
