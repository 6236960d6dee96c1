/* Shared by the files of this room only. */
#ifndef FRAME_INTERNAL_H
#define FRAME_INTERNAL_H

#include "base/base.h"
#include "frame/frame.h"

/* The reading of a pattern file, shared by the files of this room and nobody else's business.
 *
 * In this order, each step only on what the ones before it read without fault: the values
 * (pattern_read.c, measures_read.c, tie_off_read.c), the hole map (hole_map.c), the knots and the
 * measures against that map.
 */

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

/* What the rules of the sports allow a racket to be.
 *
 * A racket outside them exists and can be strung, so these are warnings, each naming its rule:
 *   - tennis: ITF Rules of Tennis, Appendix II b and c
 *   - badminton: BWF Laws of Badminton, Law 4
 *   - squash: WSF racket specification (Appendix 4)
 *   - racquetball: USA Racquetball Official Rules 2.4 limits the whole racket only, which a head
 *     that pattern_read takes for plausible cannot exceed
 */

void rules_check(const struct yaml_node *root, const struct pattern *pattern);

/* Whether a bed is less dense in its centre than elsewhere: the distances between its strings, in
 * order from edge to edge. The centre is the middle third; elsewhere is any other run of as many.
 */
bool bed_is_thin_in_centre(const double *gaps_mm, int count);

#endif
